"""What each key of the Watch view does."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt
from PySide6.QtGui import QKeySequence, QShortcut

from console.present.port import WatchPort
from console.window.keys import WATCH_KEYS, Intent
from console.window.operator import SPEAKABLE

if TYPE_CHECKING:
    from console.window.watch_view import WatchView

NOTHING_WAITS = "nothing waits to be acknowledged"


class WatchDeeds:
    """Binds the table of keys to a view; a key that can do nothing says so in the entry line."""

    def __init__(self, view: WatchView, port: WatchPort) -> None:
        self._view = view
        self._port = port
        operator = view.operator
        deeds: dict[Intent, Callable[[], None]] = {
            Intent.ACKNOWLEDGE: self._acknowledge,
            Intent.ACKNOWLEDGE_ALL: self._acknowledge_all,
            Intent.NOTE: operator.note,
            Intent.CALL_MADE: self._log_due_call,
            Intent.CALL_HOLD: lambda: operator.say("hold", "hold called"),
            Intent.CALL_RETREAT: lambda: operator.say("retreat", "retreat called"),
            Intent.CALL_ABORT: lambda: operator.say("abort", "abort called"),
            Intent.RELEASE_HOLD: lambda: operator.release_hold(None),
            Intent.CHOOSE_SOURCE: self._choose_source,
            Intent.INITIALS: operator.change_initials,
            Intent.BLINK: self._change_blink,
            Intent.SHEET: view.toggle_sheet,
            Intent.CLOSE_LINE: view.close_line,
        }
        for key in WATCH_KEYS:
            for sequence in key.sequences:
                shortcut = QShortcut(QKeySequence(sequence), view)
                shortcut.setContext(Qt.ShortcutContext.WidgetWithChildrenShortcut)
                shortcut.setAutoRepeat(False)
                shortcut.activated.connect(deeds[key.intent])

    def _acknowledge(self) -> None:
        line = self._view.exceedances.to_acknowledge()
        if line is None:
            self._view.entry.tell(NOTHING_WAITS)
        else:
            self._view.operator.acknowledge(line.key, line.words)

    def _acknowledge_all(self) -> None:
        shown = self._view.exceedances.view
        waiting = len(shown.waiting) if shown else 0
        if waiting:
            self._view.operator.acknowledge_all(waiting)
        else:
            self._view.entry.tell(NOTHING_WAITS)

    def _log_due_call(self) -> None:
        shown = self._view.calls.view
        due = shown.due if shown else None
        if due is None or not (due.key in SPEAKABLE or due.key.startswith("mark:")):
            self._view.entry.tell("no call is due")
        else:
            self._view.operator.say(due.key, due.words)

    def _choose_source(self) -> None:
        snapshot = self._port.snapshot()
        sources = tuple(s.source for s in snapshot.sources) if snapshot else ()
        if sources:
            self._view.operator.choose_source(sources)
        else:
            self._view.entry.tell("no source heard yet")

    def _change_blink(self) -> None:
        blinker = self._view.blinker
        blinker.set_steady(not blinker.is_steady)
        said = "warnings stay steady" if blinker.is_steady else "warnings blink"
        self._view.entry.tell(said)
