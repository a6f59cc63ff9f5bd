"""Colours of the two themes, as plain values.

Neutral greys at rest; colour only for traces and for what is abnormal. Trace hues are after
Okabe & Ito, Color Universal Design (2002), lightened or darkened to keep their contrast on the
ground and moved apart until eyes without one kind of cone tell them apart too. Contrast (WCAG 2.2)
and distance (CAM02-UCS, as such eyes see them) are computed in the tests from these values.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Theme:
    """One set of colours, each ``#rrggbb``."""

    name: str
    ground: str
    """Behind the panels."""
    panel: str
    """A panel's own ground; text and traces are drawn on it."""
    hairline: str
    """Borders and axis lines."""
    text: str
    text_quiet: str
    """Labels, units, what is past."""
    band: str
    """The allowed region of a lane."""
    band_edge: str
    """The warning limit's line."""
    plan: str
    """Glide slope and predicted path."""
    trace_a: str
    """Closing rate; y; pitch."""
    trace_b: str
    """z; yaw."""
    trace_c: str
    """Roll."""
    bar: str
    """A margin bar with room to spare."""
    bar_ground: str
    caution: str
    warning: str
    stale: str
    """Hatching and struck-through values."""
    focus: str
    """Ring round the part that has the keyboard."""


DARK = Theme(
    name="dark",
    ground="#121417",
    panel="#1b1e22",
    hairline="#33383e",
    text="#eceff1",
    text_quiet="#a3abb3",
    band="#262b31",
    band_edge="#8a939b",
    plan="#b4bbc2",
    trace_a="#56b4e9",
    trace_b="#cf85b2",
    trace_c="#8be18e",
    bar="#9aa4ad",
    bar_ground="#30353b",
    caution="#f1b730",
    warning="#f17b63",
    stale="#8a939b",
    focus="#56b4e9",
)

LIGHT = Theme(
    name="light",
    ground="#dfe2e5",
    panel="#f2f3f4",
    hairline="#b9bfc5",
    text="#14181b",
    text_quiet="#4d565e",
    band="#e2e6e9",
    band_edge="#6d767e",
    plan="#4d565e",
    trace_a="#0068ac",
    trace_b="#a13f74",
    trace_c="#1d5f3b",
    bar="#5d6770",
    bar_ground="#cfd4d8",
    caution="#805e09",
    warning="#860200",
    stale="#5a636b",
    focus="#0068ac",
)
