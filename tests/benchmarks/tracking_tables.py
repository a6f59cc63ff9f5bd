"""Turn the rows of the tracking campaign into tables (Markdown) and a reliability diagram."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from console.core.normal import Z_95
from console.envelope.quantity import AT_CONTACT, Quantity

Array = NDArray[np.float64]
SHOWN_M = (100.0, 50.0, 20.0, 10.0, 5.0, 2.0)
CHANCE_M = (20.0, 10.0, 5.0, 2.0)
BINS = 10
LEAST_COVER = 0.93
GOALS = {
    50.0: (28.0, 78.0),
    20.0: (17.0, 50.0),
    10.0: (1.8, 8.2),
    5.0: (0.9, 4.3),
    2.0: (0.5, 2.1),
}
"""Range, m: greatest RMS error and greatest median width of the 95 % bounds, s."""
UNITS = {
    Quantity.CLOSING_RATE: ("mm/s", 1000.0),
    Quantity.LATERAL_OFFSET: ("mm", 1000.0),
    Quantity.LATERAL_RATE: ("mm/s", 1000.0),
    Quantity.PITCH_YAW: ("mdeg", 1000.0),
    Quantity.ROLL: ("mdeg", 1000.0),
    Quantity.PITCH_YAW_RATE: ("mdeg/s", 1000.0),
    Quantity.ROLL_RATE: ("mdeg/s", 1000.0),
}


@dataclass(frozen=True)
class Row:
    """What was said at one mark of one pass, and what was true."""

    number: int
    held: bool
    range_m: float
    true_s: float
    best_s: float | None
    low_s: float | None
    high_s: float | None
    raw_s: float
    """Range over range rate of the newest sample; not finite where that rate is zero."""
    predicted: dict[Quantity, float] = field(default_factory=dict)
    sigma: dict[Quantity, float] = field(default_factory=dict)
    raw: dict[Quantity, float] = field(default_factory=dict)
    """The newest sample's own values, lateral offset carried on for ``raw_s``."""
    actual: dict[Quantity, float] = field(default_factory=dict)
    chance_all: float | None = None
    within_all: bool = False
    hands_off_true_s: float | None = None
    hands_off: tuple[float | None, float | None, float | None] = (None, None, None)


@dataclass(frozen=True)
class Times:
    """Errors and bounds of a countdown over many passes, s."""

    count: int
    asked: int
    true_s: float
    rms_s: float
    p95_s: float
    cover: float
    width_s: float
    raw_rms_s: float

    def meets(self, rms_s: float, width_s: float) -> bool:
        """Tell whether the goals are met."""
        return self.rms_s <= rms_s and self.width_s <= width_s and self.cover >= LEAST_COVER


def rms(values: Iterable[float]) -> float:
    """Give the root of the mean square."""
    return float(np.sqrt(np.mean(np.square(list(values)))))


def is_inside(low: float | None, true: float, high: float | None) -> bool:
    """Tell whether bounds hold; a late bound of None is open."""
    return low is not None and low <= true and (high is None or true <= high)


def times_at(rows: Iterable[Row], range_m: float) -> Times | None:
    """Sum time to contact up at one range; None where it was never shown."""
    every = [r for r in rows if r.range_m == range_m]
    shown = [r for r in every if r.best_s is not None]
    if not shown:
        return None
    error = np.array([r.best_s - r.true_s for r in shown])
    return Times(
        len(shown),
        len(every),
        float(np.median([r.true_s for r in shown])),
        rms(error),
        float(np.quantile(abs(error), 0.95)),
        float(np.mean([is_inside(r.low_s, r.true_s, r.high_s) for r in shown])),
        float(np.median([(math.inf if r.high_s is None else r.high_s) - r.low_s for r in shown])),
        rms(r.raw_s - r.true_s for r in every if math.isfinite(r.raw_s)),
    )


def print_table(head: Sequence[str], lines: Iterable[Sequence[str]]) -> None:
    """Print a Markdown table with a blank line after it."""
    print("| " + " | ".join(head) + " |")
    print("|" + "---|" * len(head))
    for line in lines:
        print("| " + " | ".join(line) + " |")
    print()


def print_times(rows: list[Row], marks: Sequence[float]) -> None:
    """Print time to contact against range over range rate, and whether its goals are met."""
    lines = []
    for mark in marks:
        found = times_at(rows, mark)
        if found is None:
            continue
        goal, met = "", ""
        if mark in GOALS:
            least_rms, width = GOALS[mark]
            goal = f"{least_rms:g} / {width:g} / {100 * LEAST_COVER:.0f} %"
            met = "met" if found.meets(least_rms, width) else "**missed**"
        lines.append(
            (
                f"{mark:.0f} m",
                f"{found.count} of {found.asked}",
                f"{found.true_s:.0f}",
                f"{found.rms_s:.2f}",
                f"{found.p95_s:.2f}",
                f"{found.width_s:.2f}",
                f"{100 * found.cover:.1f} %",
                goal,
                met,
                f"{found.raw_rms_s:.1f}",
            )
        )
    print_table(
        ("range", "shown", "true, s", "RMS error, s", "95 % of errors under, s",
         "width of bounds, s", "bounds hold", "goal: RMS / width / hold", "", "range/rate RMS, s"),
        lines,
    )  # fmt: skip


def print_hands_off(rows: list[Row], marks: Sequence[float]) -> None:
    """Print RMS error and coverage of the time to the hands-off range."""
    lines = []
    for mark in marks:
        some = [
            r
            for r in rows
            if r.range_m == mark and r.hands_off[0] is not None and r.hands_off_true_s is not None
        ]
        if some:
            error = rms(r.hands_off[0] - r.hands_off_true_s for r in some)
            inside = np.mean(
                [is_inside(r.hands_off[1], r.hands_off_true_s, r.hands_off[2]) for r in some]
            )
            lines.append((f"{mark:.0f} m", f"{error:.2f}", f"{100 * inside:.1f} %"))
    print_table(("range", "time to hands-off, RMS error, s", "bounds hold"), lines)


def print_contact(rows: list[Row], marks: Sequence[float]) -> None:
    """Print RMS errors of contact quantities, coverage of mean +- 1.96 sigma, and the sample's."""
    lines = []
    for quantity in AT_CONTACT:
        unit, scale = UNITS[quantity]
        line = [f"{quantity.value.replace('_', ' ')}, {unit}"]
        for mark in marks:
            some = [r for r in rows if r.range_m == mark and quantity in r.predicted]
            error = np.array([r.predicted[quantity] - r.actual[quantity] for r in some])
            cover = np.mean(abs(error) <= Z_95 * np.array([r.sigma[quantity] for r in some]))
            sampled = [r.raw[quantity] - r.actual[quantity] for r in some if quantity in r.raw]
            raw = rms(value for value in sampled if math.isfinite(value))
            line.append(
                f"{short(scale * rms(error))} ({100 * cover:.0f} %) / {short(scale * raw)}"
            )
        lines.append(line)
    print_table(("at contact", *(f"from {mark:.0f} m" for mark in marks)), lines)


def short(value: float) -> str:
    """Give two figures, or all before the point."""
    return f"{value:.0f}" if value >= 10.0 else f"{value:.2g}"


def expected_calibration_error(chance: Array, hit: Array, bins: int = BINS) -> float:
    """Give the mean gap between chance and share over bins of chance, weighted by count.

    Notes
    -----
    Naeini, Cooper, Hauskrecht, "Obtaining well calibrated probabilities using Bayesian binning",
    AAAI 2015; from memory.
    """
    slot = np.minimum((chance * bins).astype(int), bins - 1)
    total = 0.0
    for b in range(bins):
        chosen = slot == b
        if chosen.any():
            total += chosen.sum() * abs(chance[chosen].mean() - hit[chosen].mean())
    return float(total / len(chance))


def chances_at(rows: Iterable[Row], range_m: float) -> tuple[Array, Array]:
    """Give the chances of all limits that were said at a range, and 1.0 where all were met."""
    some = [r for r in rows if r.range_m == range_m and r.chance_all is not None]
    chance = np.array([r.chance_all for r in some], dtype=np.float64)
    return chance, np.array([r.within_all for r in some], dtype=np.float64)


def error_by_chance(chance: Array, rng: np.random.Generator, bins: int = BINS) -> float:
    """Give the calibration error that exact chances would show in a sample of this size."""
    drawn = [
        expected_calibration_error(chance, (rng.random(chance.size) < chance).astype(float), bins)
        for _ in range(400)
    ]
    return float(np.mean(drawn))


def print_chances(rows: list[Row], marks: Sequence[float]) -> None:
    """Print how well the chances of all limits together are calibrated."""
    rng = np.random.default_rng(0)
    lines = []
    for mark in marks:
        chance, met = chances_at(rows, mark)
        if not chance.size:
            continue
        brier = np.mean((chance - met) ** 2)
        base = met.mean() * (1.0 - met.mean())
        lines.append(
            (
                f"{mark:.0f} m",
                str(chance.size),
                f"{chance.mean():.3f}",
                f"{met.mean():.3f}",
                f"{expected_calibration_error(chance, met):.3f}",
                f"{error_by_chance(chance, rng):.3f}",
                f"{brier:.3f}",
                f"{base:.3f}",
            )
        )
    print_table(
        ("range", "passes", "mean chance", "share that met all", "calibration error",
         "of exact chances by luck", "Brier", "Brier of the constant share"),
        lines,
    )  # fmt: skip


def bins_of(chance: Array, met: Array) -> list[tuple[float, float, int]]:
    """Give mean chance, share met and count of each bin that holds a pass."""
    slot = np.minimum((chance * BINS).astype(int), BINS - 1)
    return [
        (float(chance[slot == b].mean()), float(met[slot == b].mean()), int((slot == b).sum()))
        for b in range(BINS)
        if (slot == b).any()
    ]


def print_reliability(rows: list[Row], marks: Sequence[float]) -> None:
    """Print the reliability diagram as a table: said, met (passes)."""
    columns = []
    for mark in marks:
        slots = {}
        for said, share, count in bins_of(*chances_at(rows, mark)):
            slots[min(int(said * BINS), BINS - 1)] = f"{said:.2f}, {share:.2f} ({count})"
        columns.append(slots)
    lines = [
        (f"{b / BINS:.1f} to {(b + 1) / BINS:.1f}", *(slots.get(b, "") for slots in columns))
        for b in range(BINS)
    ]
    print_table(("chance", *(f"at {mark:.0f} m" for mark in marks)), lines)


def wilson(share: float, count: int) -> tuple[float, float]:
    """Give 95 % bounds of a share.

    Notes
    -----
    E. B. Wilson, "Probable inference, the law of succession, and statistical inference", JASA
    22, 1927; from memory.
    """
    z2 = Z_95 * Z_95 / count
    middle = (share + 0.5 * z2) / (1.0 + z2)
    half = math.sqrt(share * (1.0 - share) * z2 + 0.25 * z2 * z2) / (1.0 + z2)
    return middle - half, middle + half


def draw_reliability(rows: list[Row], marks: Sequence[float], path: Path) -> None:
    """Draw said against met with 95 % bounds, and how often each chance was said."""
    import matplotlib as mpl
    from matplotlib.figure import Figure

    with mpl.rc_context({"svg.fonttype": "none", "svg.hashsalt": "reliability", "font.size": 9}):
        figure = Figure(figsize=(2.4 * len(marks), 3.0), layout="constrained")
        every = np.atleast_1d(figure.subplots(1, len(marks), sharey=True))
        for axes, mark in zip(every, marks, strict=True):
            chance, met = chances_at(rows, mark)
            said, share, count = (
                np.array(part) for part in zip(*bins_of(chance, met), strict=True)
            )
            low, high = np.array([wilson(s, int(n)) for s, n in zip(share, count, strict=True)]).T
            axes.bar(said, count / count.sum(), 0.08, color="0.85")
            axes.plot((0.0, 1.0), (0.0, 1.0), color="0.5", linewidth=0.8, linestyle="--")
            spread = np.maximum([share - low, high - share], 0.0)
            axes.errorbar(said, share, spread, fmt="o", color="0.1", markersize=3.5, linewidth=0.9)
            error = expected_calibration_error(chance, met)
            axes.set(
                title=f"from {mark:.0f} m, error {error:.3f}", xlim=(0, 1), ylim=(-0.03, 1.03)
            )
            axes.set_xlabel("chance said")
        figure.axes[0].set_ylabel("share that met all limits")
        figure.savefig(path, metadata={"Date": None})
