"""What a campaign's table says: chances with exact bounds, stop calls, the hands-off range."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final, TypeAlias

import numpy as np
from numpy.typing import NDArray

from console.bench.campaign_run import MARGIN, OUTSIDE, RAISED
from console.bench.proportion import Interval, exact
from console.envelope.limits import Level, LimitsFile

if TYPE_CHECKING:
    import pyarrow as pa

Column: TypeAlias = NDArray[Any]
Columns: TypeAlias = Mapping[str, Column]

SHARES: Final = (0.05, 0.5, 0.95)


@dataclass(frozen=True, slots=True)
class Chance:
    """How often something was so, and the exact two-sided bounds of its chance."""

    name: str
    k: int
    n: int
    bounds: Interval

    @classmethod
    def of(cls, name: str, flags: Column, confidence: float) -> Chance:
        """Count flags."""
        k, n = int(np.count_nonzero(flags)), len(flags)
        return cls(name, k, n, exact(k, n, confidence))

    @property
    def share(self) -> float:
        """What was counted, NaN of nothing."""
        return self.k / self.n if self.n else math.nan


@dataclass(frozen=True, slots=True)
class Quantiles:
    """The 5 %, 50 % and 95 % points of what was measured in ``n`` runs; NaN without any."""

    name: str
    n: int
    low: float
    middle: float
    high: float

    @classmethod
    def of(cls, name: str, values: Column) -> Quantiles:
        """Take the points of all values that are known."""
        known = values[~np.isnan(values)]
        if not known.size:
            return cls(name, 0, math.nan, math.nan, math.nan)
        low, middle, high = (float(q) for q in np.quantile(known, SHARES))
        return cls(name, int(known.size), low, middle, high)


@dataclass(frozen=True, slots=True)
class HandsOffRange:
    """The hands-off range for a wanted chance that a called stop still helps.

    Attributes
    ----------
    chance : float
        Wanted.
    range_m : float or None
        A stop called outside it halts the vehicle before contact with at least that chance, at
        the confidence asked for; None: there are too few runs to say so.
    runs_needed : int
        Runs from which on it can be said at all.
    """

    chance: float
    range_m: float | None
    runs_needed: int


def columns_of(table: pa.Table) -> dict[str, Column]:
    """Give a table's columns as arrays."""
    return {name: table[name].to_numpy(zero_copy_only=False) for name in table.column_names}


def exceedance_chances(
    limits: LimitsFile, columns: Columns, confidence: float
) -> tuple[Chance, ...]:
    """Give for each limit the chance that it is raised in a pass."""
    return tuple(
        Chance.of(limit.id, columns[RAISED + limit.id] > 0, confidence) for limit in limits.limits
    )


def contact_chances(limits: LimitsFile, columns: Columns, confidence: float) -> tuple[Chance, ...]:
    """Give, of the runs that made contact, the chance of each contact limit broken, and of any."""
    touched = columns["contact"].astype(bool)
    found = [Chance.of("any contact limit", ~columns["within_limits"][touched], confidence)]
    for one in limits.contact_limits:
        name = one.quantity.value
        found.append(Chance.of(name, columns[OUTSIDE + name][touched], confidence))
    return tuple(found)


def stop_figures(limits: LimitsFile, columns: Columns) -> tuple[Quantiles, ...]:
    """Give the spread of what concerns hands-off and stop calls."""
    return (
        Quantiles.of("hands-off point before contact, s", columns["hands_off_s"]),
        Quantiles.of("closing rate at the hands-off point, m/s", columns["hands_off_closing_mps"]),
        Quantiles.of("last useful stop call before contact, s", columns["stop_call_s"]),
        Quantiles.of("range of the last useful stop call, m", columns["stop_range_m"]),
    )


def warned_chances(columns: Columns, confidence: float) -> tuple[Chance, ...]:
    """Give how runs that ended outside the contact limits were warned, and how often in vain."""
    touched = columns["contact"].astype(bool)
    bad = touched & ~columns["within_limits"].astype(bool)
    good = touched & ~bad & (columns["faults"] == "")
    warned = ~np.isnan(columns["first_warning_s"])
    in_time = warned & (columns["first_warning_s"] >= columns["stop_call_s"])
    return (
        Chance.of("warned of, of contacts outside their limits", warned[bad], confidence),
        Chance.of("warned of while a stop still helped, of these", in_time[bad], confidence),
        Chance.of("warned all the same, of faultless contacts inside", warned[good], confidence),
    )


def stop_at_hands_off(limits: LimitsFile, columns: Columns, confidence: float) -> Chance:
    """Give the chance that a stop called at the file's hands-off range still helps."""
    helps = columns["stop_range_m"] <= limits.hands_off.range_m
    return Chance.of(f"a stop called at {limits.hands_off.range_m:g} m helps", helps, confidence)


def hands_off_range(columns: Columns, chance: float, confidence: float) -> HandsOffRange:
    """Give the hands-off range for a wanted chance that a called stop still helps.

    Parameters
    ----------
    columns : mapping
        Of the table.
    chance : float
        Wanted, between 0 and 1.
    confidence : float
        One-sided.

    Notes
    -----
    A one-sided tolerance limit without any assumed distribution: the k-th largest of n last stop
    ranges bounds their quantile P with confidence P(Bin(n, 1 - P) >= k) (S. S. Wilks,
    "Determination of Sample Sizes for Setting Tolerance Limits", Annals of Mathematical
    Statistics 12, 1941); the largest k that suffices is taken.
    """
    from scipy.special import bdtr

    from console.bench.proportion import runs_needed

    needed = runs_needed(1.0 - chance, confidence)
    ranges = np.sort(columns["stop_range_m"])[::-1]
    n, k = len(ranges), 0
    # P(Bin >= k) = 1 - cdf(k - 1)
    while k < n and 1.0 - float(bdtr(k, n, 1.0 - chance)) >= confidence:
        k += 1
    return HandsOffRange(chance, float(ranges[k - 1]) if k else None, needed)


def worst_runs(limits: LimitsFile, columns: Columns, count: int) -> tuple[int, ...]:
    """Give the numbers of the runs most worth looking at, the worst first.

    Contact outside its limits comes first, then how far beyond its warnings a run went at most,
    as a share of the limit's largest value.
    """
    depth = np.full(len(columns["run"]), -np.inf)
    for limit in limits.limits:
        if limit.level is Level.WARNING:
            scale = max(abs(value) for value in limit.curve.values) or 1.0
            beyond = np.where(columns[RAISED + limit.id] > 0, -columns[MARGIN + limit.id], -np.inf)
            depth = np.fmax(depth, beyond / scale)
    bad = columns["contact"].astype(bool) & ~columns["within_limits"].astype(bool)
    order = np.lexsort((columns["run"], -depth, ~bad))
    told = [i for i in order if bad[i] or depth[i] > -np.inf]
    return tuple(int(columns["run"][i]) for i in told[:count])
