"""The bench's table of passes: what each row says, which rows are shown, in which order."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from enum import IntEnum
from typing import TypeAlias

import numpy as np

from console.approach.words import DECIMALS
from console.bench.compare import PassChange, Side
from console.bench.labels import Label, Mark
from console.bench.pass_set import PassSet
from console.bench.ready_pass import ReadyPass
from console.envelope.limits import Level
from console.envelope.quantity import UNIT
from console.present.bench_port import Answer
from console.present.text import UNKNOWN, count, number, signed
from console.present.tone import CAUTION_MARK, WARNING_MARK, Tone, mark_of

UNMARKED = "not marked"
FILTER_WORDS = (
    "changed", "gained", "lost", "nuisance", "missed", "warned", "good", "bad", "fault",
    "unmarked",
)  # fmt: skip
"""Words a filter knows; any other is looked for in the pass's name."""


class Column(IntEnum):
    """The table's columns, from the left."""

    NAME = 0
    MARK = 1
    MARGIN = 2
    RANGE = 3
    BEFORE = 4
    AFTER = 5


@dataclass(frozen=True, slots=True)
class Cell:
    """One cell: its text and its voice; digits stand in a monospaced face."""

    text: str
    tone: Tone = Tone.PLAIN
    is_digits: bool = False


_Key: TypeAlias = Callable[[int], tuple[object, ...]]


class Rows:
    """The passes of an answer as rows.

    Parameters
    ----------
    passes : PassSet
    labels : sequence of Label or None
    answer : Answer
    """

    def __init__(self, passes: PassSet, labels: Sequence[Label | None], answer: Answer) -> None:
        self._passes = passes.passes
        self._under_way = passes.under_way
        self._labels = labels
        self._changes = answer.comparison.passes
        self._level = answer.comparison.level
        self._margins, self._ranges_m = answer.run.margins
        self._quantity = answer.run.limit.quantity
        self._revision = answer.before.limits.revision
        self._cells: dict[tuple[int, int], Cell] = {}

    @property
    def titles(self) -> tuple[str, ...]:
        """The columns' heads."""
        before = f"revision {self._revision}"
        margin = f"margin, {UNIT[self._quantity]}"
        return ("pass", "marked", margin, "at, m", before, "draft")

    def cell(self, number: int, column: Column) -> Cell:
        """Give one cell of a pass's row; it is asked for again and again while it is painted."""
        key = (number, int(column))
        cell = self._cells.get(key)
        if cell is None:
            cell = self._cells[key] = self._made(number, column)
        return cell

    def _made(self, number: int, column: Column) -> Cell:
        change, label = self._changes[number], self._labels[number]
        quiet = Tone.PLAIN if change.changes else Tone.QUIET
        if column is Column.NAME:
            return Cell(plain_name(self._passes[number].name), quiet)
        if column is Column.MARK:
            return Cell(UNMARKED if label is None else label.mark.value, quiet)
        if column is Column.MARGIN:
            margin = float(self._margins[number])
            known = np.isfinite(margin)
            text = signed(margin, DECIMALS[self._quantity]) if known else UNKNOWN
            beyond = quiet if not known or margin >= 0.0 else _tone_beyond(self._level, label)
            return Cell(text, beyond, is_digits=True)
        if column is Column.RANGE:
            at_m = float(self._ranges_m[number])
            return Cell(number_or_dash(at_m), quiet, is_digits=True)
        side = change.before if column is Column.BEFORE else change.after
        said = self._said(number, side, label)
        if column is Column.BEFORE or not change.changes:
            return Cell(said, quiet if column is Column.AFTER else Tone.QUIET)
        return Cell(said, _tone_of(side, label, self._level))

    def heading(self, shown: int, words: str, by: Column | None) -> str:
        """Word what is shown, and in which order."""
        passes = count(len(self._changes), "pass", "passes")
        which = f"{shown} of {passes}: {words}" if words.strip() else passes
        order = "those that change first" if by is None else f"by {self.titles[by]}"
        said = [which, order]
        if self._under_way:
            said.append(under_way_words(self._under_way))
        return "  ·  ".join(said)

    def spoken(self, number: int) -> str:
        """Say a row in words."""
        cells = [self.cell(number, column).text for column in Column]
        words = ", ".join(
            f"{title} {text}" if title not in ("pass", "marked") else text
            for title, text in zip(self.titles, cells, strict=True)
        )
        return words.replace(WARNING_MARK, "warning").replace(CAUTION_MARK, "caution")

    def ordered(self, words: str, by: Column | None, *, falling: bool = False) -> list[int]:
        """Give the passes to show, in order.

        Parameters
        ----------
        words : str
            A filter: every word must hold.
        by : Column or None
            None: those that change first, each part by its least margin.
        falling : bool
            From the greatest.
        """
        tests = [self._test(word) for word in words.lower().split()]
        numbers = [n for n in range(len(self._changes)) if all(test(n) for test in tests)]
        numbers.sort(key=self._key(by), reverse=falling)
        return numbers

    def _said(self, number: int, side: Side, label: Label | None) -> str:
        return side_words(self._passes[number], side, label)

    def _key(self, by: Column | None) -> _Key:
        if by is None:
            return lambda n: (not self._changes[n].changes, self._margin_key(n), n)
        keys: dict[Column, _Key] = {
            Column.NAME: lambda n: (self._passes[n].name, n),
            Column.MARK: lambda n: (self._mark_key(n), n),
            Column.MARGIN: lambda n: (self._margin_key(n), n),
            Column.RANGE: lambda n: (_or_last(float(self._ranges_m[n])), n),
            Column.BEFORE: lambda n: (_loudness(self._changes[n].before), n),
            Column.AFTER: lambda n: (_loudness(self._changes[n].after), n),
        }
        return keys[by]

    def _margin_key(self, number: int) -> float:
        return _or_last(float(self._margins[number]))

    def _mark_key(self, number: int) -> str:
        label = self._labels[number]
        return "~" if label is None else label.mark.value

    def _test(self, word: str) -> Callable[[int], bool]:
        changes, labels = self._changes, self._labels
        tests: dict[str, Callable[[int], bool]] = {
            "changed": lambda n: changes[n].changes,
            "gained": lambda n: changes[n].gained > 0,
            "lost": lambda n: changes[n].lost > 0,
            "nuisance": lambda n: changes[n].after.is_nuisance,
            "missed": lambda n: changes[n].after.is_missed,
            "warned": lambda n: changes[n].after.raised > 0,
            "good": lambda n: _is_marked(labels[n], Mark.GOOD),
            "bad": lambda n: _is_marked(labels[n], Mark.BAD),
            "fault": lambda n: _is_marked(labels[n], Mark.KNOWN_FAULT),
            "unmarked": lambda n: labels[n] is None,
        }
        return tests.get(word, lambda n: word in self._passes[n].name.lower())


def side_words(one: ReadyPass, side: Side, label: Label | None) -> str:
    """Word what one limits file says of a pass."""
    if side.first is None:
        return "missed" if side.is_missed else "quiet"
    mark = mark_of(side.first.level)
    times = f" ×{side.raised}" if side.raised > 1 else ""
    if side.is_missed:
        return f"missed: {mark} before it{times}"
    if side.delay_s is not None:
        return f"{mark} after {side.delay_s:.1f} s{times}"
    at = int(np.searchsorted(one.columns.t, side.first.raised))
    at_m = float(one.columns.range_m[min(at, len(one.columns.t) - 1)])
    return f"{mark} at {number_or_dash(at_m)} m{times}"


def change_line(passes: PassSet, labels: Sequence[Label | None], change: PassChange) -> str:
    """Word a pass's change on one line."""
    one, label = passes.passes[change.number], labels[change.number]
    marked = UNMARKED if label is None else label.mark.value
    was, becomes = (side_words(one, side, label) for side in (change.before, change.after))
    said = was if was == becomes else f"{was} -> {becomes}"
    return f"{one.name} ({marked}): {said}"


def under_way_words(recordings: int) -> str:
    """Say that recordings were left out because they are no whole passes yet."""
    are = "is" if recordings == 1 else "are"
    return f"{count(recordings, 'recording', 'recordings')} still being written {are} left out"


def number_or_dash(value: float) -> str:
    """Write a range to a decimetre, a dash where unknown."""
    return number(value if np.isfinite(value) else None, 1)


def plain_name(name: str) -> str:
    """Give a pass's name without its ending."""
    return name.rpartition(".")[0] or name


def first_time(change: PassChange, after: bool) -> float | None:
    """Give the time to open a pass at: shortly before the first that counts on a side."""
    side = change.after if after else change.before
    other = change.before if after else change.after
    record = side.first or other.first
    return None if record is None else record.onset - 10.0


def _is_marked(label: Label | None, mark: Mark) -> bool:
    return label is not None and label.mark is mark


def _or_last(value: float) -> float:
    return value if np.isfinite(value) else np.inf


def _loudness(side: Side) -> tuple[int, float]:
    return side.raised, 0.0 if side.delay_s is None else side.delay_s


def _tone_beyond(level: Level, label: Label | None) -> Tone:
    """Let a broken margin stand out, but not in a faulty pass, where it is as it should be."""
    is_faulty = label is not None and label.mark is not Mark.GOOD
    return Tone.PLAIN if is_faulty else _tone_of_level(level)


def _tone_of(side: Side, label: Label | None, level: Level) -> Tone:
    if side.is_nuisance or side.is_missed:
        return _tone_of_level(level)
    return Tone.STRONG if side.raised else Tone.PLAIN


def _tone_of_level(level: Level) -> Tone:
    return Tone.WARNING if level is Level.WARNING else Tone.CAUTION
