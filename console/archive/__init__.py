"""Recordings, passes in every format, the replay clock, shipped files."""
