"""What each key of the Watch view does."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt
from PySide6.QtGui import QKeySequence, QShortcut
from PySide6.QtWidgets import QWidget

from console.approach.procedure import Answer
from console.present.port import WatchPort
from console.window.keys import WATCH_KEYS, Intent, Key
from console.window.operator import SPEAKABLE

if TYPE_CHECKING:
    from console.window.watch_view import WatchView

NOTHING_WAITS = "nothing waits to be acknowledged"
NO_POLL = "no poll is open"


def bind(
    view: QWidget,
    keys: tuple[Key, ...],
    deeds: Mapping[Intent, Callable[[], None]],
    *,
    repeats: frozenset[Intent] = frozenset(),
) -> None:
    """Bind keys to deeds, wherever in a view the keyboard is."""
    for key in keys:
        for sequence in key.sequences:
            shortcut = QShortcut(QKeySequence(sequence), view)
            shortcut.setContext(Qt.ShortcutContext.WidgetWithChildrenShortcut)
            shortcut.setAutoRepeat(key.intent in repeats)
            shortcut.activated.connect(deeds[key.intent])


class WatchDeeds:
    """Binds keys to a view; a key that can do nothing says so in the entry line."""

    def __init__(
        self, view: WatchView, port: WatchPort, keys: tuple[Key, ...] = WATCH_KEYS
    ) -> None:
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
            Intent.STEP_DONE: self._finish_step,
            Intent.POLL: self._go_to_poll,
            Intent.ANSWER_GO: lambda: self._answer(Answer.GO),
            Intent.ANSWER_NO_GO: lambda: self._answer(Answer.NO_GO),
            Intent.ANSWER_NOT_YET: lambda: self._answer(Answer.NOT_YET),
            Intent.SHELVE: self._shelve,
            Intent.UNSHELVE: self._unshelve,
            Intent.MUTE: self._mute,
            Intent.MANUAL: view.toggle_manual,
            Intent.CHOOSE_SOURCE: self._choose_source,
            Intent.INITIALS: operator.change_initials,
            Intent.BLINK: self._change_blink,
            Intent.SHEET: view.toggle_sheet,
            Intent.CLOSE_LINE: view.close_line,
        }
        bind(view, keys, deeds)

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

    def _finish_step(self) -> None:
        calls = self._view.calls
        step = calls.chosen_step or (calls.view.due_step if calls.view else None)
        if step is None:
            self._view.entry.tell("no step is due; ↑ ↓ in Calls and steps choose one to come")
        else:
            self._view.operator.finish_step(step.key, step.words)

    def _go_to_poll(self) -> None:
        calls = self._view.calls
        polls = calls.view.polls if calls.view else ()
        positions = [position for poll in polls for position in poll.positions]
        if not positions:
            self._view.entry.tell(NO_POLL)
            return
        first = next((p for p in positions if not p.is_go), positions[0])
        calls.setFocus(Qt.FocusReason.ShortcutFocusReason)
        calls.choose(first.key)

    def _answer(self, answer: Answer) -> None:
        calls = self._view.calls
        position = calls.chosen_position or (calls.view.own_position if calls.view else None)
        if position is not None:
            self._view.operator.answer(position, answer)
        elif calls.view is None or not calls.view.polls:
            self._view.entry.tell(NO_POLL)
        else:
            self._view.entry.tell("no position answers from here; P, then ↑ ↓ choose one")

    def _shelve(self) -> None:
        line = self._view.exceedances.to_shelve()
        if line is None:
            self._view.entry.tell("nothing to shelve")
        else:
            self._view.operator.shelve(line)

    def _unshelve(self) -> None:
        line = self._view.exceedances.to_unshelve()
        if line is None:
            self._view.entry.tell("nothing is shelved")
        else:
            self._view.operator.unshelve(line)

    def _mute(self) -> None:
        speech = self._view.speech
        told = "speech is off: start with --speak" if speech is None else speech.toggle()
        self._view.entry.tell(told)

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
