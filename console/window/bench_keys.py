"""The keys of the bench, in one table; its sheet on F1 is made from it."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

from console.window.keys import ARROW_WORDS, TAB_WORDS, VIEW_WORDS, WINDOW_KEYS


class BenchIntent(Enum):
    """What a key asks for."""

    NEXT_LIMIT = "next limit"
    PREVIOUS_LIMIT = "previous limit"
    TYPE_POINT = "type a point"
    ADD_POINT = "add a point"
    REMOVE_POINT = "remove the point"
    DEADBAND = "dead band"
    ON_DELAY = "on-delay"
    OFF_DELAY = "off-delay"
    UNDO = "undo"
    REDO = "redo"
    REVERT = "revert"
    ONLY = "only this limit"
    CLOSER = "closer"
    FARTHER = "farther"
    KNOB = "sweep another"
    MARK = "mark"
    FILTER = "filter"
    SORT = "sort"
    OPEN = "open"
    SAVE = "save"
    SHEET = "keys"
    MANUAL = "manual"
    CLOSE_LINE = "close"


@dataclass(frozen=True, slots=True)
class BenchKey:
    """One shortcut: its key sequences, what it asks for, and its words on the sheet."""

    sequences: tuple[str, ...]
    intent: BenchIntent
    words: str


BENCH_KEYS: tuple[BenchKey, ...] = (
    BenchKey(("L",), BenchIntent.NEXT_LIMIT, "next limit"),
    BenchKey(("Shift+L",), BenchIntent.PREVIOUS_LIMIT, "previous limit"),
    BenchKey(("E",), BenchIntent.TYPE_POINT, "type the point's range and value"),
    BenchKey(("+", "Ins"), BenchIntent.ADD_POINT, "add a point outward"),
    BenchKey(("Del",), BenchIntent.REMOVE_POINT, "remove the point"),
    BenchKey(("D",), BenchIntent.DEADBAND, "type the dead band"),
    BenchKey(("N",), BenchIntent.ON_DELAY, "type the on-delay"),
    BenchKey(("F",), BenchIntent.OFF_DELAY, "type the off-delay"),
    BenchKey(("Ctrl+Z",), BenchIntent.UNDO, "undo"),
    BenchKey(("Ctrl+Y", "Ctrl+Shift+Z"), BenchIntent.REDO, "redo"),
    BenchKey(("R",), BenchIntent.REVERT, "this limit back as opened"),
    BenchKey(("O",), BenchIntent.ONLY, "count this limit alone, or all"),
    BenchKey(("[",), BenchIntent.CLOSER, "show closer ranges"),
    BenchKey(("]",), BenchIntent.FARTHER, "show farther ranges"),
    BenchKey(("W",), BenchIntent.KNOB, "sweep scale, offset, on-delay, dead band"),
    BenchKey(("M",), BenchIntent.MARK, "mark the pass: good, bad, fault"),
    BenchKey(("/",), BenchIntent.FILTER, "filter the passes"),
    BenchKey(("C",), BenchIntent.SORT, "sort by the next column"),
    BenchKey(("Ctrl+Return",), BenchIntent.OPEN, "open the pass there in Watch"),
    BenchKey(("S", "Ctrl+S"), BenchIntent.SAVE, "save the limits file"),
    BenchKey(("F1", "?"), BenchIntent.SHEET, "these keys"),
    BenchKey(("F2",), BenchIntent.MANUAL, "manual"),
    BenchKey(("Esc",), BenchIntent.CLOSE_LINE, "close line, sheet, manual"),
)
"""What the bench answers to; a letter goes to the entry line while that is open."""

CURVE_WORDS = (
    ("← →", "in the plot: choose a point"),
    ("↑ ↓", "in the plot: move it; Shift coarse"),
    ("Ctrl+← →", "in the plot: move its range"),
    ("Return", "in the table: open the pass"),
    ("← → Return", "in the sweep: choose a point, take it"),
)
HINTS = (
    "E type a point", "+ add", "Del remove", "L limit", "M mark", "/ filter", "S save",
    "Ctrl+Z undo", "F1 keys", "F2 manual",
)  # fmt: skip


def bench_sheet_rows() -> tuple[tuple[str, str], ...]:
    """Give the sheet's rows, key and words, in the table's order."""
    rows = [(" or ".join(key.sequences[:2]), key.words) for key in BENCH_KEYS]
    rows += [(" or ".join(key.sequences[:2]), key.words) for key in WINDOW_KEYS]
    return (*rows, *CURVE_WORDS, ARROW_WORDS, TAB_WORDS, VIEW_WORDS)
