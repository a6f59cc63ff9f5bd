"""``leadmark limits``: check a file, compare two; the lines a terminal shows."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from console import CAUTION_TEXT
from console.app.input_file import load_limits
from console.envelope.consistency import inconsistencies
from console.envelope.difference import CurveChange, Difference, difference, signed
from console.envelope.inconsistency import Inconsistency
from console.envelope.limits import Level, LimitsFile

CLEAN, CONTRADICTS = 0, 1


def check_lines(path: Path) -> tuple[list[str], int]:
    """Check a limits file; give the lines to print and the exit status.

    Returns
    -------
    tuple of list of str and int
        Status 0 where nothing or only advisories were found, 1 where the file contradicts itself.

    Raises
    ------
    InputError
        The file is refused.
    """
    limits = load_limits(path)
    found = inconsistencies(limits)
    lines = [_headline(path.name, limits)]
    lines += [f"{one.level.word}: {one}" for one in found]
    lines.append(_verdict(found))
    is_bad = any(one.level is Level.CAUTION for one in found)
    return lines, CONTRADICTS if is_bad else CLEAN


def _headline(name: str, limits: LimitsFile) -> str:
    return (
        f"{name}: {limits.title}, revision {limits.revision}, "
        f"{len(limits.limits)} limits, {len(limits.contact_limits)} contact limits, "
        f"sha256 {limits.sha256}"
    )


def _verdict(found: tuple[Inconsistency, ...]) -> str:
    if not found:
        return "It hangs together."
    bad = sum(one.level is Level.CAUTION for one in found)
    return f"{bad} contradiction(s), {len(found) - bad} advisory; the file can be used as it is."


def diff_lines(old_path: Path, new_path: Path) -> list[str]:
    """Compare two limits files; give the lines to print.

    Raises
    ------
    InputError
        One of them is refused.
    """
    old, new = load_limits(old_path), load_limits(new_path)
    found = difference(old, new)
    lines = [f"old: {_headline(old_path.name, old)}", f"new: {_headline(new_path.name, new)}"]
    lines += _words(found)
    for change in found.curves:
        lines += ["", *_table(change)]
    return [*lines, CAUTION_TEXT]


def _words(found: Difference) -> list[str]:
    return list(found.words) or ["Both judge alike."]


def _table(change: CurveChange) -> Iterator[str]:
    """Write old, new and difference over range; a dash where a curve is not applied."""
    yield f"{change.place}, {change.unit}:"
    yield f"  {'range m':>10}  {'old':>10}  {'new':>10}  {'change':>10}"
    for point in change.points:
        by = "–" if point.change is None else signed(point.change)
        yield f"  {point.range_m:>10g}  {_cell(point.old):>10}  {_cell(point.new):>10}  {by:>10}"


def _cell(value: float | None) -> str:
    return "–" if value is None else f"{value:.6g}"
