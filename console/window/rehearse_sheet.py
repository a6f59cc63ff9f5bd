"""The keys of the trainer's page and of the score page: what their feet and sheets say."""

from __future__ import annotations

from console.window.keys import ARROW_WORDS
from console.window.view_help import HINTS

ORDER_HINTS = " · ".join(
    ("Ctrl+Return start", "Ctrl+S save", "Tab next field", "Insert add a fault",
     "Delete remove one", *HINTS)
)  # fmt: skip
ORDER_ROWS = (
    ("Ctrl+Return", "start the rehearsal"),
    ("Ctrl+S", "save the exercise as a file"),
    ("Tab or Shift+Tab", "next field, or the one before"),
    ("Space", "tick or clear a part to hide"),
    ("Insert", "in the table: add a fault"),
    ("Delete", "in the table: remove one"),
    ("F2", "in the table: edit a cell"),
)
SCORE_HINTS = " · ".join(
    ("N next rehearsal", "W replay in Watch", "D debrief", "Tab next table", "↑ ↓ rows", *HINTS)
)
SCORE_ROWS = (
    ("N", "next rehearsal"),
    ("W", "replay it in Watch"),
    ("D", "debrief it"),
    ("Tab", "next table"),
    ARROW_WORDS,
)
