"""A draft of a limits file being worked on: points moved, figures changed, undone and redone.

Nothing here judges. Every change gives a limits file that may be saved: ranges strictly increase,
values are finite, delays are not negative.
"""

from __future__ import annotations

import math
from bisect import bisect_left
from dataclasses import dataclass, replace
from enum import StrEnum

from console.approach.words import DECIMALS
from console.envelope.limits import Curve, Limit, LimitsFile

HISTORY = 500
"""Steps that can be undone at most."""
RANGE_STEP_M = 0.1
COARSE = 10
LEAST_APART_M = 0.01
RANGE_DECIMALS = 2


class Figure(StrEnum):
    """A figure of a limit beside its curve."""

    DEADBAND = "dead band"
    ON_DELAY = "on-delay"
    OFF_DELAY = "off-delay"


@dataclass(frozen=True, slots=True)
class Place:
    """What is being worked on: which limit, which point of its curve."""

    limit: int = 0
    point: int = 0


@dataclass(frozen=True, slots=True)
class _Step:
    limits: tuple[Limit, ...]
    place: Place


class Draft:
    """A limits file as it was opened, and what is made of it.

    Parameters
    ----------
    opened : LimitsFile
        Holds at least one limit.
    """

    def __init__(self, opened: LimitsFile) -> None:
        self.opened = opened
        self.file = opened
        self.place = Place()
        self._undo: list[_Step] = []
        self._redo: list[_Step] = []
        self._dragged_from: _Step | None = None

    # ------------------------------------------------------------------ what is looked at

    @property
    def limit(self) -> Limit:
        """The limit worked on, as drafted."""
        return self.file.limits[self.place.limit]

    @property
    def opened_limit(self) -> Limit:
        """The same limit as it was opened."""
        return self.opened.limits[self.place.limit]

    @property
    def point(self) -> tuple[float, float]:
        """Range and value of the chosen point."""
        curve = self.limit.curve
        return curve.ranges_m[self.place.point], curve.values[self.place.point]

    @property
    def is_changed(self) -> bool:
        """Whether there is anything to save."""
        return self.file.limits != self.opened.limits

    @property
    def changed(self) -> tuple[str, ...]:
        """Ids of the limits that differ from the file opened."""
        pairs = zip(self.file.limits, self.opened.limits, strict=True)
        return tuple(mine.id for mine, theirs in pairs if mine != theirs)

    @property
    def can_undo(self) -> bool:
        """Whether a step can be taken back."""
        return bool(self._undo)

    @property
    def can_redo(self) -> bool:
        """Whether a step taken back can be done again."""
        return bool(self._redo)

    def value_step(self) -> float:
        """Give the fine step of a value: one of its last digit shown."""
        return 10.0 ** -DECIMALS[self.limit.quantity]

    def choose_limit(self, index: int) -> None:
        """Work on another limit; its first point is chosen."""
        self.place = Place(index % len(self.file.limits), 0)

    def choose_point(self, index: int) -> None:
        """Choose a point of the curve, the nearest there is."""
        last = len(self.limit.curve.ranges_m) - 1
        self.place = Place(self.place.limit, min(max(index, 0), last))

    def choose_place(self, range_m: float, value: float) -> bool:
        """Choose the point that stands just there; tell whether there is one."""
        curve = self.limit.curve
        places = list(zip(curve.ranges_m, curve.values, strict=True))
        if (range_m, value) not in places:
            return False
        self.choose_point(places.index((range_m, value)))
        return True

    # ------------------------------------------------------------------ changes

    def begin_drag(self) -> None:
        """Take all that follows until :meth:`end_drag` as one step to undo."""
        self._dragged_from = self._step()

    def end_drag(self) -> None:
        """Keep the drag as one step, if anything moved."""
        begun, self._dragged_from = self._dragged_from, None
        if begun is not None and begun.limits != self.file.limits:
            self._keep(begun)

    def move_to(self, range_m: float, value: float) -> None:
        """Move the chosen point, as far as its neighbours let it and on whole steps."""
        curve, at = self.limit.curve, self.place.point
        low = curve.ranges_m[at - 1] + LEAST_APART_M if at else 0.0
        last = at == len(curve.ranges_m) - 1
        high = math.inf if last else curve.ranges_m[at + 1] - LEAST_APART_M
        if range_m != curve.ranges_m[at]:
            range_m = min(max(round(range_m, RANGE_DECIMALS), low), high)
        if value != curve.values[at]:
            value = round(value, DECIMALS[self.limit.quantity])
        self._put_curve(_with(curve, at, range_m, value))

    def move_by(self, ranges: float, values: float) -> None:
        """Move the chosen point by steps of range and of value."""
        range_m, value = self.point
        self.move_to(range_m + ranges * RANGE_STEP_M, value + values * self.value_step())

    def add_point(self) -> bool:
        """Add a point half-way to the next one outward, and choose it; tell whether there is room.

        The curve does not change by it. Beyond the last point there is no next one: the place is
        half-way inward instead.
        """
        curve = self.limit.curve
        if len(curve.ranges_m) < 2:
            return False
        at = min(self.place.point, len(curve.ranges_m) - 2)
        return self.insert(0.5 * (curve.ranges_m[at] + curve.ranges_m[at + 1]))

    def insert(self, range_m: float, value: float | None = None) -> bool:
        """Put a point at a range, on the curve where no value is given, and choose it."""
        curve, range_m = self.limit.curve, round(range_m, RANGE_DECIMALS)
        at = bisect_left(curve.ranges_m, range_m)
        near = [r for r in curve.ranges_m if abs(r - range_m) < LEAST_APART_M]
        if value is None:
            value = curve.at(range_m)
        if near or value is None or range_m < 0.0:
            return False
        ranges = (*curve.ranges_m[:at], range_m, *curve.ranges_m[at:])
        values = (*curve.values[:at], value, *curve.values[at:])
        self._change(replace(self.limit, curve=Curve(ranges, values)), at)
        return True

    def remove_point(self) -> bool:
        """Take the chosen point away; one must stay."""
        curve, at = self.limit.curve, self.place.point
        if len(curve.ranges_m) < 2:
            return False
        ranges = curve.ranges_m[:at] + curve.ranges_m[at + 1 :]
        values = curve.values[:at] + curve.values[at + 1 :]
        self._change(replace(self.limit, curve=Curve(ranges, values)), min(at, len(ranges) - 1))
        return True

    def put_figure(self, figure: Figure, value: float) -> None:
        """Change a dead band or a delay."""
        if figure is Figure.DEADBAND:
            changed = replace(self.limit, deadband=value)
        elif figure is Figure.ON_DELAY:
            changed = replace(self.limit, on_delay_s=value)
        else:
            changed = replace(self.limit, off_delay_s=value)
        self._change(changed, self.place.point)

    def put_limit(self, limit: Limit) -> None:
        """Put another form of the limit worked on, such as one found by a sweep."""
        if limit == self.limit:
            return
        self._change(limit, min(self.place.point, len(limit.curve.ranges_m) - 1))

    def revert(self) -> None:
        """Put the limit worked on back to what was opened."""
        self.put_limit(self.opened_limit)

    # ------------------------------------------------------------------ undo, redo, save

    def undo(self) -> bool:
        """Take the last step back."""
        return self._swap(self._undo, self._redo)

    def redo(self) -> bool:
        """Do the step taken back again."""
        return self._swap(self._redo, self._undo)

    def saved(self, opened: LimitsFile) -> None:
        """Go on from the file as it was saved."""
        self.opened = opened
        self.file = opened
        self._undo.clear()
        self._redo.clear()
        self.choose_point(self.place.point)

    def _swap(self, source: list[_Step], target: list[_Step]) -> bool:
        if not source:
            return False
        target.append(self._step())
        step = source.pop()
        self.file = replace(self.file, limits=step.limits)
        self.place = step.place
        return True

    def _step(self) -> _Step:
        return _Step(self.file.limits, self.place)

    def _keep(self, step: _Step) -> None:
        self._undo.append(step)
        del self._undo[:-HISTORY]
        self._redo.clear()

    def _put_curve(self, curve: Curve) -> None:
        if curve != self.limit.curve:
            self._change(replace(self.limit, curve=curve), self.place.point)

    def _change(self, limit: Limit, point: int) -> None:
        if self._dragged_from is None:
            self._keep(self._step())
        at = self.place.limit
        limits = (*self.file.limits[:at], limit, *self.file.limits[at + 1 :])
        self.file = replace(self.file, limits=limits)
        self.place = Place(at, point)


def read_point(words: str) -> tuple[float, float] | None:
    """Read "10 0.118", also with units, commas and words between; None where it is not that."""
    cleaned = words.replace("−", "-").replace(",", " ")
    numbers = []
    for word in cleaned.split():
        try:
            numbers.append(float(word))
        except ValueError:
            continue
    if len(numbers) != 2 or not all(math.isfinite(number) for number in numbers):
        return None
    return numbers[0], numbers[1]


def _with(curve: Curve, at: int, range_m: float, value: float) -> Curve:
    ranges = (*curve.ranges_m[:at], range_m, *curve.ranges_m[at + 1 :])
    values = (*curve.values[:at], value, *curve.values[at + 1 :])
    return Curve(ranges, values)
