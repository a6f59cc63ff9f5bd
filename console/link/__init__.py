"""ZeroMQ subscriber and publisher, CURVE, link health: the only room that imports zmq."""
