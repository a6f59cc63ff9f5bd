"""The state model: phases, authority, calls and capture; events out, a snapshot on request."""
