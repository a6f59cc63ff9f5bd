"""Every shortcut of the window, in one table; the sheet on F1 is made from it."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum


class Intent(Enum):
    """What a key asks for."""

    ACKNOWLEDGE = "acknowledge"
    ACKNOWLEDGE_ALL = "acknowledge all"
    NOTE = "note"
    CALL_MADE = "call made"
    CALL_HOLD = "hold called"
    CALL_RETREAT = "retreat called"
    CALL_ABORT = "abort called"
    RELEASE_HOLD = "release hold"
    STEP_DONE = "step done"
    POLL = "poll"
    ANSWER_GO = "go"
    ANSWER_NO_GO = "no-go"
    ANSWER_NOT_YET = "not yet"
    SHELVE = "shelve"
    UNSHELVE = "unshelve"
    MUTE = "mute"
    MANUAL = "manual"
    CHOOSE_SOURCE = "choose source"
    INITIALS = "initials"
    BLINK = "blink or steady"
    THEME = "theme"
    TEXT_LARGER = "text larger"
    TEXT_SMALLER = "text smaller"
    TEXT_NORMAL = "text normal"
    FULL_SCREEN = "full screen"
    SHEET = "keys"
    CLOSE_LINE = "close"
    PLAY = "play or pause"
    SAMPLE_ON = "next sample"
    SAMPLE_BACK = "sample before"
    SKIP_ON = "10 s on"
    SKIP_BACK = "10 s back"
    EVENT_ON = "next event"
    EVENT_BACK = "event before"
    LEAST_ON = "next least margin"
    LEAST_BACK = "least margin before"
    FASTER = "faster"
    SLOWER = "slower"
    TO_BEGIN = "begin"
    TO_END = "end"
    GO_TO = "go to"
    TRAINER_NOTE = "trainer's note"
    TRAINER_MARK = "trainer's mark"
    LAY_OVER = "second pass"


@dataclass(frozen=True, slots=True)
class Key:
    """One shortcut: its key sequences, what it asks for, and its words on the sheet."""

    sequences: tuple[str, ...]
    intent: Intent
    words: str


WATCH_KEYS: tuple[Key, ...] = (
    Key(("A",), Intent.ACKNOWLEDGE, "acknowledge"),
    Key(("Shift+A",), Intent.ACKNOWLEDGE_ALL, "acknowledge all"),
    Key(("Space",), Intent.STEP_DONE, "step done"),
    Key(("P",), Intent.POLL, "go to the poll"),
    Key(("G",), Intent.ANSWER_GO, "poll: go"),
    Key(("Shift+N",), Intent.ANSWER_NO_GO, "poll: no-go"),
    Key(("Y",), Intent.ANSWER_NOT_YET, "poll: not yet"),
    Key(("N",), Intent.NOTE, "write a note"),
    Key(("C",), Intent.CALL_MADE, "log the due call as made"),
    Key(("Shift+H",), Intent.CALL_HOLD, "log: hold called"),
    Key(("Shift+R",), Intent.CALL_RETREAT, "log: retreat called"),
    Key(("Shift+X",), Intent.CALL_ABORT, "log: abort called"),
    Key(("Shift+G",), Intent.RELEASE_HOLD, "log: hold released"),
    Key(("Shift+S",), Intent.SHELVE, "shelve"),
    Key(("Shift+U",), Intent.UNSHELVE, "take back what is shelved"),
    Key(("S",), Intent.CHOOSE_SOURCE, "choose the source"),
    Key(("I",), Intent.INITIALS, "change the initials"),
    Key(("B",), Intent.BLINK, "warnings blink or steady"),
    Key(("M",), Intent.MUTE, "mute spoken calls"),
    Key(("F2",), Intent.MANUAL, "manual"),
    Key(("F1", "?"), Intent.SHEET, "these keys"),
    Key(("Esc",), Intent.CLOSE_LINE, "close line, sheet, manual"),
)
"""What the Watch view answers to; a letter goes to the entry line while that is open."""

REPLAY_KEYS: tuple[Key, ...] = (
    Key(("Space",), Intent.PLAY, "play or pause"),
    Key(("Right",), Intent.SAMPLE_ON, "next sample"),
    Key(("Left",), Intent.SAMPLE_BACK, "sample before"),
    Key(("Shift+Right",), Intent.SKIP_ON, "10 s on"),
    Key(("Shift+Left",), Intent.SKIP_BACK, "10 s back"),
    Key(("N",), Intent.EVENT_ON, "next event or note"),
    Key(("P",), Intent.EVENT_BACK, "event or note before"),
    Key(("M",), Intent.LEAST_ON, "next limit's least margin"),
    Key(("Shift+M",), Intent.LEAST_BACK, "least margin before"),
    Key(("]",), Intent.FASTER, "faster"),
    Key(("[",), Intent.SLOWER, "slower"),
    Key(("Home",), Intent.TO_BEGIN, "begin of the pass"),
    Key(("End",), Intent.TO_END, "end of the pass"),
    Key(("G",), Intent.GO_TO, "go to a time or range"),
    Key(("K",), Intent.TRAINER_MARK, "keep a mark here"),
    Key(("Shift+N",), Intent.TRAINER_NOTE, "keep a note here"),
    Key(("O",), Intent.LAY_OVER, "lay a second pass over"),
)
"""What a replay in Watch answers to, in place of the operator's own deeds."""

KEPT_IN_REPLAY = frozenset(
    {Intent.INITIALS, Intent.BLINK, Intent.MANUAL, Intent.SHEET, Intent.CLOSE_LINE}
)
"""Of the watch's keys these mean the same in a replay; the others are refused there."""

WINDOW_KEYS: tuple[Key, ...] = (
    Key(("T",), Intent.THEME, "dark or light"),
    Key(("Ctrl++", "Ctrl+="), Intent.TEXT_LARGER, "larger text"),
    Key(("Ctrl+-",), Intent.TEXT_SMALLER, "smaller text"),
    Key(("Ctrl+0",), Intent.TEXT_NORMAL, "normal text"),
    Key(("F11",), Intent.FULL_SCREEN, "full screen"),
)
"""What the window answers to in every view; Ctrl+1 to Ctrl+4 choose the view."""

TAB_WORDS = ("Tab", "go to the next panel")
VIEW_WORDS = ("Ctrl+1…4", "choose the view")
ARROW_WORDS = ("↑ ↓", "choose a line of a list")


def keys_in_replay() -> tuple[Key, ...]:
    """Give the keys of a replay, in the sheet's order."""
    return REPLAY_KEYS + tuple(key for key in WATCH_KEYS if key.intent in KEPT_IN_REPLAY)


def keys_refused_in_replay() -> tuple[Key, ...]:
    """Give the operator's deeds that a replay refuses, without the keys it uses otherwise."""
    used = {sequence for key in keys_in_replay() for sequence in key.sequences}
    return tuple(
        key
        for key in WATCH_KEYS
        if key.intent not in KEPT_IN_REPLAY and not used & set(key.sequences)
    )


def sheet_rows(keys: tuple[Key, ...], *, with_views: bool) -> tuple[tuple[str, str], ...]:
    """Give the sheet's rows, key and words, in the table's order."""
    rows = [(" or ".join(key.sequences[:2]), key.words) for key in (*keys, *WINDOW_KEYS)]
    rows.append(ARROW_WORDS)
    rows.append(TAB_WORDS)
    if with_views:
        rows.append(VIEW_WORDS)
    return tuple(rows)
