"""What each key of the bench does; a key that can do nothing says so in the entry line."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt
from PySide6.QtGui import QKeySequence, QShortcut

from console.bench.labels import Label, Mark
from console.core.errors import InputError
from console.core.utc import format_utc, parse_utc
from console.envelope.quantity import UNIT
from console.present.bench_draft import Figure, read_point
from console.present.bench_rows import FILTER_WORDS, Column, first_time
from console.present.text import count
from console.window.bench_keys import BENCH_KEYS, BenchIntent

if TYPE_CHECKING:
    from console.window.bench_view import BenchView

NO_PASS = "choose a pass in the table first"
AROUND_PASS_S = 600.0
"""A fault may begin before the first sample that was judged, but not so long before."""
MARKS = {"g": Mark.GOOD, "b": Mark.BAD, "f": Mark.KNOWN_FAULT, "k": Mark.KNOWN_FAULT}


class BenchDeeds:
    """Binds the table of keys to a view."""

    def __init__(self, view: BenchView) -> None:
        self._view = view
        self._who = ""
        draft = view.draft
        deeds: dict[BenchIntent, Callable[[], None]] = {
            BenchIntent.NEXT_LIMIT: lambda: view.choose_limit(draft.place.limit + 1),
            BenchIntent.PREVIOUS_LIMIT: lambda: view.choose_limit(draft.place.limit - 1),
            BenchIntent.TYPE_POINT: self._type_point,
            BenchIntent.ADD_POINT: lambda: self._did(draft.add_point(), "no room for a point"),
            BenchIntent.REMOVE_POINT: lambda: self._did(
                draft.remove_point(), "a curve keeps at least one point"
            ),
            BenchIntent.DEADBAND: lambda: self._type_figure(Figure.DEADBAND),
            BenchIntent.ON_DELAY: lambda: self._type_figure(Figure.ON_DELAY),
            BenchIntent.OFF_DELAY: lambda: self._type_figure(Figure.OFF_DELAY),
            BenchIntent.UNDO: lambda: self._did(draft.undo(), "nothing to undo"),
            BenchIntent.REDO: lambda: self._did(draft.redo(), "nothing to redo"),
            BenchIntent.REVERT: self._revert,
            BenchIntent.ONLY: self._change_scope,
            BenchIntent.CLOSER: lambda: view.zoom(-1),
            BenchIntent.FARTHER: lambda: view.zoom(1),
            BenchIntent.KNOB: view.sweeper.next_knob,
            BenchIntent.MARK: self._mark,
            BenchIntent.FILTER: self._filter,
            BenchIntent.SORT: self._sort,
            BenchIntent.OPEN: self._open_chosen,
            BenchIntent.SAVE: self._save,
            BenchIntent.SHEET: self._toggle_sheet,
            BenchIntent.MANUAL: view.toggle_manual,
            BenchIntent.CLOSE_LINE: self._close,
        }
        for key in BENCH_KEYS:
            for sequence in key.sequences:
                shortcut = QShortcut(QKeySequence(sequence), view)
                shortcut.setContext(Qt.ShortcutContext.WidgetWithChildrenShortcut)
                shortcut.activated.connect(deeds[key.intent])

    def open_pass(self, number: int) -> None:
        """Show a pass in Watch, shortly before what is first told of it."""
        view = self._view
        if view.answer is not None:
            changes = view.answer.comparison.passes
            view.port.open_pass(number, first_time(changes[number], after=True))

    # ------------------------------------------------------------------ the curve

    def _did(self, is_done: bool, else_say: str) -> None:
        if is_done:
            self._view.changed()
        else:
            self._view.entry.tell(else_say)

    def _type_point(self) -> None:
        draft = self._view.draft
        range_m, value = asked = draft.point
        unit = UNIT[draft.limit.quantity]

        def taken(words: str) -> str:
            found = read_point(words)
            if found is None:
                return "two numbers: range in m, then the limit there"
            if found[0] < 0.0:
                return "a range is not negative"
            if not draft.choose_place(*asked):  # another may have been chosen meanwhile
                return f"there is no point at {range_m:g} m {value:g} any more; Esc and ask again"
            draft.begin_drag()
            draft.move_to(*found)
            draft.end_drag()
            self._view.changed()
            got = draft.point
            if got[0] != round(found[0], 2):
                self._view.entry.tell(f"kept between its neighbours: {got[0]:g} m")
            return ""

        words = f"point at {range_m:g} m, new range m, limit {unit}:"
        self._ask_of_limit(words, taken, f"{range_m:g} {value:g}")

    def _type_figure(self, figure: Figure) -> None:
        draft = self._view.draft
        limit = draft.limit
        present = {
            Figure.DEADBAND: limit.deadband,
            Figure.ON_DELAY: limit.on_delay_s,
            Figure.OFF_DELAY: limit.off_delay_s,
        }[figure]
        unit = UNIT[limit.quantity] if figure is Figure.DEADBAND else "s"

        def taken(words: str) -> str:
            value = _number(words)
            if value is None or value < 0.0:
                return "a number of 0 or more"
            draft.put_figure(figure, value)
            self._view.changed()
            return ""

        self._ask_of_limit(f"{figure.value}, {unit}:", taken, f"{present:g}")

    def _ask_of_limit(self, words: str, taken: Callable[[str], str], first: str) -> None:
        """Ask for a figure of the limit worked on; what is typed is for that one alone."""
        draft = self._view.draft
        asked, name = draft.place.limit, draft.limit.id

        def guarded(answer: str) -> str:
            if draft.place.limit != asked:
                return f"this was asked for {name}, which is no longer chosen; Esc and ask again"
            return taken(answer)

        self._view.entry.ask(f"{name}, {words}", guarded, first)

    def _revert(self) -> None:
        draft = self._view.draft
        if draft.limit == draft.opened_limit:
            self._view.entry.tell("this limit is as it was opened")
            return
        draft.revert()
        self._view.changed()

    def _change_scope(self) -> None:
        self._view.only = not self._view.only
        self._view.changed()

    # ------------------------------------------------------------------ the passes

    def _filter(self) -> None:
        def taken(words: str) -> str:
            self._view.filter = words
            self._view.show_rows()
            shown = count(len(self._view.table.passes.order), "pass", "passes")
            self._view.entry.tell(f"{shown} shown" + (f": {words}" if words else ""))
            return ""

        words = ", ".join(FILTER_WORDS[:8])
        self._view.entry.ask(f"Show ({words}, or a name):", taken, self._view.filter)

    def _sort(self) -> None:
        order: list[Column | None] = [None, *Column]
        view = self._view
        view.sort = order[(order.index(view.sort) + 1) % len(order)]
        view.falling = view.sort in (Column.BEFORE, Column.AFTER)
        view.show_rows()
        rows = view.table.passes.rows
        named = rows.titles[view.sort] if rows is not None and view.sort is not None else ""
        view.entry.tell(f"sorted by {named}" if named else "sorted: those that change first")

    def _open_chosen(self) -> None:
        chosen = self._view.table.chosen
        if chosen is None:
            self._view.entry.tell(NO_PASS)
        else:
            self.open_pass(chosen)

    def _mark(self) -> None:
        chosen, passes = self._view.table.chosen, self._view.port.loaded()
        if chosen is None or passes is None:
            self._view.entry.tell(NO_PASS)
            return

        def taken(words: str) -> str:
            if words == "-":
                return self._put(chosen, None)
            mark = MARKS.get(words[:1].lower())
            if mark is None:
                return "good, bad or fault; - takes the mark away"
            if mark is Mark.KNOWN_FAULT:
                self._ask_fault(chosen)
            else:
                self._ask_who(chosen, mark, None)
            return ""

        label = self._view.port.labels[chosen]
        first = "" if label is None else label.mark.value
        name = passes.passes[chosen].name
        self._view.entry.ask(f"{name}: good, bad or fault?", taken, first)

    def _ask_fault(self, number: int) -> None:
        passes = self._view.port.loaded()
        times: list[float] = [] if passes is None else passes.passes[number].columns.t.tolist()

        def is_near(t: float) -> bool:
            return min(times) - AROUND_PASS_S <= t <= max(times) + AROUND_PASS_S

        def taken(words: str) -> str:
            fault_t = _time(words) if words else None
            if words and fault_t is None:
                return "a UTC time such as 2031-04-11T09:42:22Z, or nothing"
            if fault_t is not None and times and not is_near(fault_t):
                return f"not in the pass, {format_utc(times[0])} to {format_utc(times[-1])}"
            self._ask_who(number, Mark.KNOWN_FAULT, fault_t)
            return ""

        label = self._view.port.labels[number]
        first = "" if label is None or label.fault_t is None else repr(label.fault_t)
        self._view.entry.ask("When did the fault begin (UTC, or leave empty)?", taken, first)

    def _ask_who(self, number: int, mark: Mark, fault_t: float | None) -> None:
        def taken(words: str) -> str:
            if not words:
                return "say who marks it"
            self._who = words
            self._ask_why(number, mark, fault_t)
            return ""

        self._view.entry.ask(f"{mark.value}: who says so?", taken, self._who)

    def _ask_why(self, number: int, mark: Mark, fault_t: float | None) -> None:
        def taken(words: str) -> str:
            if not words:
                return "say why"
            return self._put(number, Label(mark, self._who, words, fault_t))

        label = self._view.port.labels[number]
        self._view.entry.ask(f"{mark.value}: why?", taken, "" if label is None else label.why)

    def _put(self, number: int, label: Label | None) -> str:
        fault = self._view.port.mark(number, label)
        if fault:
            return fault
        self._view.marks += 1
        self._view.changed()
        self._view.entry.tell("mark kept" if label is not None else "mark taken away")
        return ""

    # ------------------------------------------------------------------ saving, the rest

    def _save(self) -> None:
        view = self._view
        if not view.draft.is_changed:
            view.entry.tell("nothing is changed")
            return

        def taken(words: str) -> str:
            if not words:
                return "say in a few words why the limits change"
            self._ask_author(words)
            return ""

        ids = ", ".join(view.draft.changed)
        view.entry.ask(f"Why do {ids} change?", taken)

    def _ask_author(self, reason: str) -> None:
        view = self._view

        def taken(words: str) -> str:
            try:
                saved = view.port.save(view.draft.file, reason, words)
            except InputError as error:
                return str(error)
            view.draft.saved(saved)
            view.changed()
            view.entry.tell(f"saved as revision {saved.revision}")
            return ""

        view.entry.ask("Who changes them?", taken, view.draft.opened.author)

    def _toggle_sheet(self) -> None:
        self._view.arrange()
        self._view.sheet.turn()

    def _close(self) -> None:
        if self._view.entry.is_open:
            self._view.entry.close_line()
        else:
            self._view.sheet.hide()
            self._view.manual.close_reader()


def _number(words: str) -> float | None:
    try:
        value = float(words.replace(",", "."))
    except ValueError:
        return None
    return value if math.isfinite(value) else None


def _time(words: str) -> float | None:
    try:
        return parse_utc(words)
    except ValueError:
        return _number(words)
