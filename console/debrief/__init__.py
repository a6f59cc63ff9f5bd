"""Figures and documents after a pass."""
