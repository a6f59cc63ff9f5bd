"""Envelopes: the limits file, its curves over range, its reading and writing, the setup file."""
