"""What another limits file changes: in words, and as curves side by side over range."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from console.envelope.limits import ContactLimit, Curve, Limit, LimitsFile
from console.envelope.overlap import differences, shared_span_m
from console.envelope.quantity import UNIT, Quantity

MINUS = "−"
GLIDE_SLOPE = "glide_slope"


@dataclass(frozen=True, slots=True)
class CurvePoint:
    """Both curves at one range; None where a curve is not applied."""

    range_m: float
    old: float | None
    new: float | None

    @property
    def change(self) -> float | None:
        """New less old, None where one is not applied."""
        return None if self.old is None or self.new is None else self.new - self.old


@dataclass(frozen=True, slots=True)
class CurveChange:
    """A curve that is not the same in both files.

    Attributes
    ----------
    place : str
        The limit's id, or ``glide_slope``.
    unit : str
        Of the values.
    points : tuple of CurvePoint
        At every point of either curve, innermost first: between them both are straight.
    old, new : Curve
        For whoever draws them.
    """

    place: str
    unit: str
    points: tuple[CurvePoint, ...]
    old: Curve
    new: Curve


@dataclass(frozen=True, slots=True)
class Difference:
    """All that differs between two limits files.

    Attributes
    ----------
    words : tuple of str
        One line a change, in the order of the files.
    curves : tuple of CurveChange
        Those that changed.
    """

    words: tuple[str, ...]
    curves: tuple[CurveChange, ...]

    @property
    def is_empty(self) -> bool:
        """Tell whether both files judge alike (title, revision, author and reason aside)."""
        return not self.words


def difference(old: LimitsFile, new: LimitsFile) -> Difference:
    """Compare two limits files.

    Parameters
    ----------
    old, new : LimitsFile
        Whatever is in ``new`` and not in ``old`` counts as added.
    """
    words: list[str] = [*_general(old, new)]
    curves: list[CurveChange] = []
    _note_curve(GLIDE_SLOPE, "m/s", old.glide_slope.curve, new.glide_slope.curve, words, curves)
    before = {limit.id: limit for limit in old.limits}
    after = {limit.id: limit for limit in new.limits}
    words += [
        f"{limit.id}: removed ({_summary(limit)})" for limit in old.limits if limit.id not in after
    ]
    for limit in new.limits:
        known = before.get(limit.id)
        if known is None:
            words.append(f"{limit.id}: added ({_summary(limit)})")
            continue
        words += _rules(known, limit)
        if known.quantity is limit.quantity:
            unit = UNIT[limit.quantity]
            _note_curve(limit.id, unit, known.curve, limit.curve, words, curves)
    words += _contact(old.contact_limits, new.contact_limits)
    return Difference(tuple(words), tuple(curves))


def signed(value: float) -> str:
    """Write a change with its sign, a real minus."""
    return f"{value:+.4g}".replace("-", MINUS)


# ------------------------------------------------------------------ words


def _general(old: LimitsFile, new: LimitsFile) -> Iterator[str]:
    a, b = old.hands_off, new.hands_off
    for name in ("range_m", "link_delay_s", "reaction_s", "braking_mps2"):
        yield from _changed(f"hands_off.{name}", getattr(a, name), getattr(b, name))
    for name in ("stale_after_s", "lost_after_s"):
        yield from _changed(f"data.{name}", getattr(old.data, name), getattr(new.data, name))
    for range_m in sorted(set(old.marks_m) ^ set(new.marks_m), reverse=True):
        yield f"marks: {range_m:g} m {'added' if range_m in new.marks_m else 'removed'}"


def _changed(place: str, old: float, new: float) -> Iterator[str]:
    if old != new:
        yield f"{place}: {old:g} → {new:g} ({signed(new - old)})"


def _summary(limit: Limit) -> str:
    ranges, values, unit = limit.curve.ranges_m, limit.curve.values, UNIT[limit.quantity]
    return (
        f"{limit.level.word}, {limit.basis.value} {limit.quantity.value} {limit.allow.value} "
        f"{values[0]:g} {unit} at {ranges[0]:g} m to {values[-1]:g} {unit} at {ranges[-1]:g} m"
    )


_WORDS: tuple[tuple[str, Callable[[Limit], str]], ...] = (
    ("quantity", lambda limit: limit.quantity.value),
    ("basis", lambda limit: limit.basis.value),
    ("level", lambda limit: limit.level.word),
    ("allow", lambda limit: limit.allow.value),
    ("action", lambda limit: f'"{limit.action}"'),
    ("never_shelve", lambda limit: str(limit.never_shelve).lower()),
)


def _rules(old: Limit, new: Limit) -> Iterator[str]:
    for name, of in _WORDS:
        if of(old) != of(new):
            yield f"{new.id}: {name} {of(old)} → {of(new)}"
    for name in ("deadband", "on_delay_s", "off_delay_s"):
        yield from _changed(f"{new.id}: {name}", getattr(old, name), getattr(new, name))


def _contact(old: tuple[ContactLimit, ...], new: tuple[ContactLimit, ...]) -> Iterator[str]:
    before = {limit.quantity: limit for limit in old}
    after = {limit.quantity: limit for limit in new}
    for quantity in dict.fromkeys([*before, *after]):
        a, b = before.get(quantity), after.get(quantity)
        if a != b:
            place = f"contact_limit[{quantity.value}]"
            yield f"{place}: {_band(a, quantity)} → {_band(b, quantity)}"


def _band(limit: ContactLimit | None, quantity: Quantity) -> str:
    if limit is None:
        return "none"
    ends = (("min", limit.minimum), ("max", limit.maximum))
    sides = [f"{name} {value:g}" for name, value in ends if value is not None]
    return f"{' '.join(sides)} {UNIT[quantity]}"


# ------------------------------------------------------------------ curves


def _note_curve(
    place: str, unit: str, old: Curve, new: Curve, words: list[str], curves: list[CurveChange]
) -> None:
    if old == new:
        return
    points = tuple(
        CurvePoint(range_m, old.at(range_m), new.at(range_m))
        for range_m in sorted({*old.ranges_m, *new.ranges_m})
    )
    words.append(f"{place}: curve {_curve_words(old, new, unit)}")
    curves.append(CurveChange(place, unit, points, old, new))


def _curve_words(old: Curve, new: Curve, unit: str) -> str:
    """Say where a curve moved and by how much at most, up and down, and what it covers now."""
    parts = []
    moved = differences(new, old)
    lowest = min(moved, key=lambda pair: pair[1], default=(0.0, 0.0))
    highest = max(moved, key=lambda pair: pair[1], default=(0.0, 0.0))
    for (range_m, change), word in ((highest, "raised"), (lowest, "lowered")):
        if (change > 0.0) if word == "raised" else (change < 0.0):
            parts.append(f"{word} by up to {abs(change):.4g} {unit} at {range_m:g} m")
    ends = [(curve.ranges_m[0], curve.ranges_m[-1]) for curve in (old, new)]
    if ends[0] != ends[1]:
        (a, b), (c, d) = ends
        parts.append(f"applied from {c:g} to {d:g} m (was {a:g} to {b:g} m)")
    if shared_span_m(old, new) is None:
        parts.append("with no range in common")
    return ", ".join(parts) or "has other points, the same values"
