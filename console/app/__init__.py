"""Composition root: connects things, threads, files, shutdown, the real clock."""
