"""The keys of the Debrief view, in one table; its sheet on F1 is made from it."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

from console.window.keys import ARROW_WORDS, TAB_WORDS, VIEW_WORDS, WINDOW_KEYS


class DebriefIntent(Enum):
    """What a key asks for."""

    OTHER_FILE = "other file"
    WATCH = "watch"
    SAVE_HTML = "save as HTML"
    SAVE_PDF = "save as PDF"
    REFRESH = "refresh"
    NEXT_SECTION = "next section"
    PREVIOUS_SECTION = "previous section"
    SHEET = "keys"
    MANUAL = "manual"
    CLOSE_LINE = "close"


@dataclass(frozen=True, slots=True)
class DebriefKey:
    """One shortcut: its key sequences, what it asks for, and its words on the sheet."""

    sequences: tuple[str, ...]
    intent: DebriefIntent
    words: str


DEBRIEF_KEYS: tuple[DebriefKey, ...] = (
    DebriefKey(("O",), DebriefIntent.OTHER_FILE, "open another pass by name"),
    DebriefKey(("W",), DebriefIntent.WATCH, "the pass in Watch, from its beginning"),
    DebriefKey(("H",), DebriefIntent.SAVE_HTML, "save as HTML"),
    DebriefKey(("P",), DebriefIntent.SAVE_PDF, "save as PDF"),
    DebriefKey(("F5",), DebriefIntent.REFRESH, "look for passes again"),
    DebriefKey(("Ctrl+Down", "]"), DebriefIntent.NEXT_SECTION, "next section"),
    DebriefKey(("Ctrl+Up", "["), DebriefIntent.PREVIOUS_SECTION, "previous section"),
    DebriefKey(("F1", "?"), DebriefIntent.SHEET, "these keys"),
    DebriefKey(("F2",), DebriefIntent.MANUAL, "manual"),
    DebriefKey(("Esc",), DebriefIntent.CLOSE_LINE, "close line, sheet, manual"),
)

HINTS = (
    "Return open", "] next section", "W watch", "H HTML", "P PDF", "O other file", "F1 keys",
    "F2 manual",
)  # fmt: skip
RETURN_WORDS = ("Return", "open the chosen pass, or a row's moment in Watch")


def debrief_sheet_rows() -> tuple[tuple[str, str], ...]:
    """Give the sheet's rows, key and words."""
    rows = [(" or ".join(key.sequences), key.words) for key in DEBRIEF_KEYS]
    rows += [(" or ".join(key.sequences[:2]), key.words) for key in WINDOW_KEYS]
    return (RETURN_WORDS, *rows, ARROW_WORDS, TAB_WORDS, VIEW_WORDS)
