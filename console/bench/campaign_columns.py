"""What is judged of one run, from arrays: the quantities of every judged sample."""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple, TypeAlias

import numpy as np
from numpy.typing import NDArray

from console.core.ids import SourceId
from console.core.records import RelativeSample
from console.core.units import MICROSECOND_S
from console.envelope.limits import Allow, Basis, Limit, LimitsFile
from console.envelope.quantity import Quantity
from console.judging.columns import PassColumns
from console.judging.gap import Gaps
from console.judging.slope import LEAST_SAMPLES, LEAST_SPAN_S, WINDOW_S
from console.motion.contact import corridor_angle_deg

Floats: TypeAlias = NDArray[np.float64]

NEAR_MPS = 1e-6
"""The slope made at once is good to about 1e-10 m/s: where it comes this near to what decides, the
judge's own is taken."""


class Samples(NamedTuple):
    """A source's samples: times, shape (n,), and values, shape (n, 12), in order of time."""

    t: Floats
    values: Floats


def contact_row(range_m: Floats) -> int:
    """Give how many samples of a source come before contact is told by range.

    That is by two successive samples at or below 0; the second is no longer looked at.
    """
    behind = range_m <= 0.0
    pairs = np.flatnonzero(behind[:-1] & behind[1:])
    return int(pairs[0]) if pairs.size else len(range_m)


def columns_of_lane(
    limits: LimitsFile,
    names: tuple[str, str],
    sources: tuple[Samples, Samples],
    estimates: Floats,
) -> PassColumns:
    """Give what is judged of a run.

    Parameters
    ----------
    limits : LimitsFile
        Only quantities it judges are worked out.
    names : tuple of str
        Of the two sources; the first is in use throughout.
    sources : tuple of Samples
        Their samples, those of the first up to contact.
    estimates : ndarray, shape (n, 12)
        Combined estimate at each sample of the first source: range, y, z, roll, pitch, yaw,
        then their rates.
    """
    first = sources[0]
    judged = np.flatnonzero(first.values[:, 0] > 0.0)
    t, values = first.t[judged], first.values[judged]
    state = estimates[judged]
    asked = {(limit.basis, limit.quantity) for limit in limits.limits}
    measured = _values(values[:, [0, 1, 2, 6, 7, 8, 3, 4, 5, 9, 10, 11]], Basis.MEASURED, asked)
    state[:, 3:6] = (state[:, 3:6] + 180.0) % 360.0 - 180.0
    estimated = _values(state, Basis.ESTIMATED, asked)
    stale_s = limits.data.stale_after_s
    if (Basis.MEASURED, Quantity.SOURCE_GAP) in asked:
        measured[Quantity.SOURCE_GAP] = _source_gap(t, values[:, 0], names, sources[1], stale_s)
    if (Basis.MEASURED, Quantity.RANGE_RATE_GAP) in asked:
        gaps = _rate_gap(first.t, first.values[:, 0], first.values[:, 3])[judged]
        if any(_comes_near(limit, gaps, values[:, 0]) for limit in limits.limits):
            gaps = _exact_rate_gap(first, stale_s)[judged]
        measured[Quantity.RANGE_RATE_GAP] = gaps
    return PassColumns(
        t, values[:, 0], state[:, 0], measured, estimated, np.zeros(len(t), dtype=np.bool_)
    )


def _values(s: Floats, basis: Basis, asked: set[tuple[Basis, Quantity]]) -> dict[Quantity, Floats]:
    """Work out quantities from positions and rates, as :mod:`console.judging.reading` does."""
    how: dict[Quantity, Callable[[], Floats]] = {
        Quantity.CLOSING_RATE: lambda: -s[:, 6],
        Quantity.LATERAL_OFFSET: lambda: _length(s[:, 1], s[:, 2]),
        Quantity.LATERAL_RATE: lambda: _length(s[:, 7], s[:, 8]),
        Quantity.PITCH_YAW: lambda: _length(s[:, 4], s[:, 5]),
        Quantity.ROLL: lambda: np.abs(s[:, 3]),
        Quantity.PITCH_YAW_RATE: lambda: _length(s[:, 10], s[:, 11]),
        Quantity.ROLL_RATE: lambda: np.abs(s[:, 9]),
        Quantity.CORRIDOR_ANGLE: lambda: _corridor(s),
    }
    return {quantity: work() for quantity, work in how.items() if (basis, quantity) in asked}


def _length(a: Floats, b: Floats) -> Floats:
    """Give sqrt(a a + b b), as :func:`console.motion.contact.vector_sum`."""
    return np.asarray(np.sqrt(a * a + b * b))


def _corridor(s: Floats) -> Floats:
    """Give the corridor angle element by element: arc tangents of arrays may differ in a bit."""
    rows = zip(s[:, 0].tolist(), s[:, 1].tolist(), s[:, 2].tolist(), strict=True)
    return np.array([corridor_angle_deg(x, y, z) for x, y, z in rows])


def _source_gap(
    t: Floats, range_m: Floats, names: tuple[str, str], other: Samples, stale_s: float
) -> Floats:
    """Do :meth:`console.judging.gap.Gaps.source_gap_m` for all samples."""
    # of two samples at one time the one whose source comes first by name has been taken first
    side = "right" if names[1] < names[0] else "left"
    at = np.searchsorted(other.t, t, side=side) - 1  # type: ignore[call-overload] # a word of two
    known = at >= 0
    place = np.maximum(at, 0)
    elapsed = t - other.t[place]
    known &= ~(elapsed > stale_s + MICROSECOND_S)
    moved = other.values[place, 0] + other.values[place, 3] * elapsed
    return np.where(known, np.abs(range_m - moved), np.nan)


def _rate_gap(t: Floats, range_m: Floats, rate_mps: Floats) -> Floats:
    """Give the gap between range rate and slope of range, good to about 1e-10 m/s."""
    u, r = t - t[0], range_m - range_m[0]
    sums = [np.concatenate(([0.0], np.cumsum(x))) for x in (u, r, u * u, u * r)]
    last = np.arange(len(t))
    first = np.searchsorted(t, t - (WINDOW_S + MICROSECOND_S), side="left")
    n = last - first + 1
    su, sr, suu, sur = (x[last + 1] - x[first] for x in sums)
    enough = (n >= LEAST_SAMPLES) & (u[last] - u[first] >= LEAST_SPAN_S - MICROSECOND_S)
    slope = (n * sur - su * sr) / np.where(enough, n * suu - su * su, 1.0)
    return np.where(enough, np.abs(rate_mps - slope), np.nan)


def _comes_near(limit: Limit, gaps: Floats, ranges_m: Floats) -> bool:
    """Tell whether the last digits of a gap might decide about a limit on it."""
    if limit.quantity is not Quantity.RANGE_RATE_GAP:
        return False
    inside = 1.0 if limit.allow is Allow.BELOW else -1.0
    edge = np.interp(ranges_m, limit.curve.ranges_m, limit.curve.values, left=np.nan, right=np.nan)
    return any(
        bool((np.abs(gaps - (edge - room)) < NEAR_MPS).any())
        for room in (0.0, inside * limit.deadband)
    )


def _exact_rate_gap(first: Samples, stale_s: float) -> Floats:
    """Work the gap out sample by sample, as the judge does."""
    gaps = Gaps(stale_s)
    found = []
    source = SourceId("first")
    values = first.values[:, [0, 3]].tolist()
    for t, (range_m, rate) in zip(first.t.tolist(), values, strict=True):
        sample = RelativeSample(source, 0, t, range_m, rate, 0.0, 0.0, 0.0, 0.0, 0.0)
        gaps.take(sample)
        found.append(gaps.range_rate_gap_mps(sample))
    return np.array(found, dtype=np.float64)
