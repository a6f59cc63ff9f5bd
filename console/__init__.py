"""Leadmark: follow a visiting vehicle's final approach to a docking port.

Advisory display. It sends no commands; flight rules, local procedures and certified flight
controllers decide.
"""

__version__ = "0.1.0"

CAUTION_TEXT = (
    "Advisory display. It sends no commands; flight rules, local procedures "
    "and certified flight controllers decide."
)
