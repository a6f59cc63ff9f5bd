"""Score the tracker on simulated passes: time to contact, contact quantities, chances.

Run from the top of the checkout::

    python -m tests.benchmarks.tracking_campaign --passes 500 --seed 7001

Each pass is simulated and fed to a tracker sample by sample; when the true range passes a mark
the tracker is asked what a console would ask. Printed are, for each mark, the RMS error of time
to contact, the coverage and median width of its 95 % bounds, range over range rate beside it, and
errors and chances at contact. Passes that stop at a hold count for time to contact only after it.
"""

from __future__ import annotations

import argparse
import math
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from console.core.ids import SourceId
from console.core.records import RelativeSample
from console.envelope.limits import LimitsFile
from console.envelope.quantity import Quantity
from console.envelope.reading import parse_limits
from console.envelope.setup import Setup
from console.simulation.population import Member, Population, population
from console.simulation.scenario import SENSOR_B
from console.simulation.simulate import simulate
from console.tracking.residuals import ResidualArchive
from console.tracking.tracker import Tracker

MARKS_M = (100.0, 50.0, 30.0, 20.0, 15.0, 10.0, 5.0, 2.0, 1.0)
LIMITS = Path("replay_data/limits/port_c_final_approach.toml")
ARCHIVE = Path("replay_data/residuals.json")
SETUP = Setup(sources={SourceId("radio"): SENSOR_B})
CHUNK = 4


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
    present_s: float | None
    raw_s: float
    predicted: dict[Quantity, float] = field(default_factory=dict)
    sigma: dict[Quantity, float] = field(default_factory=dict)
    actual: dict[Quantity, float] = field(default_factory=dict)
    chance: dict[Quantity, float] = field(default_factory=dict)
    chance_all: float | None = None
    within_all: bool = False
    lateral_error_m: float = math.nan
    hands_off_true_s: float | None = None
    hands_off: tuple[float | None, float | None, float | None] = (None, None, None)


def load_limits() -> LimitsFile:
    """Read the shipped limits."""
    return parse_limits(LIMITS.read_bytes(), LIMITS.name)


def load_archive(path: Path = ARCHIVE) -> ResidualArchive | None:
    """Read the shipped archive of residuals, or another."""
    return ResidualArchive.parse(path.read_bytes(), path.name) if path.exists() else None


def rows_of(
    number: int,
    member: Member,
    limits: LimitsFile,
    setup: Setup,
    archive: ResidualArchive | None,
    sources: int = 2,
) -> list[Row]:
    """Fly one pass and ask the tracker at every mark."""
    simulated = simulate(member.scenario, limits, setup, member.seed)
    truth = simulated.truth
    if truth.contact is None:
        return []
    due = []
    for mark in MARKS_M:
        t = truth.time_at_range(mark)
        if t is not None:
            due.append((t, mark))
    due.sort()
    holds = truth.holds
    tracker = Tracker(limits, setup, archive)
    lead = member.scenario.sensors[0].name
    rows = []
    for message in simulated.messages:
        sample = message.record
        if not isinstance(sample, RelativeSample):
            continue
        if sources == 1 and sample.source != lead:
            continue
        tracker.update(sample)
        while due and sample.source == lead and sample.t >= due[0][0]:
            _, mark = due.pop(0)
            if any(hold.t_end > sample.t for hold in holds):
                continue
            rows.append(_row(number, bool(holds), mark, sample, truth, tracker, limits))
    return rows


def _row(number, held, mark, sample, truth, tracker, limits) -> Row:
    t = sample.t
    countdown = tracker.to_contact(t)
    hands_off = tracker.to_range(t, limits.hands_off.range_m)
    hands_off_t = truth.time_at_range(limits.hands_off.range_m)
    prediction = tracker.at_contact(t)
    actual = truth.contact.values
    row = Row(
        number, held, mark, truth.contact.t - t,
        countdown.best_s, countdown.low_s, countdown.high_s, countdown.at_present_rate_s,
        sample.range_m / -sample.range_rate_mps if sample.range_rate_mps else math.nan,
        actual=actual,
        within_all=all(one.holds(actual[one.quantity]) for one in limits.contact_limits),
        chance_all=prediction and prediction.chance_all,
        lateral_error_m=math.hypot(
            prediction.y_m - truth.contact.y_m, prediction.z_m - truth.contact.z_m
        ) if prediction else math.nan,
        hands_off_true_s=None if hands_off_t is None else hands_off_t - t,
        hands_off=(hands_off.best_s, hands_off.low_s, hands_off.high_s),
    )  # fmt: skip
    for line in prediction.quantities if prediction else ():
        if line.predicted is not None:
            row.predicted[line.quantity] = line.predicted.mean
            row.sigma[line.quantity] = line.predicted.sigma
        if line.chance is not None:
            row.chance[line.quantity] = line.chance
    return row


def _work(job) -> list[Row]:
    numbered, limits, setup, archive, sources = job
    rows = []
    for number, member in numbered:
        rows += rows_of(number, member, limits, setup, archive, sources)
    return rows


def campaign(
    kind: Population,
    passes: int,
    seed: int,
    workers: int = 2,
    archive: ResidualArchive | None = None,
    sources: int = 2,
    setup: Setup = SETUP,
) -> list[Row]:
    """Fly a population; give all rows."""
    limits = load_limits()
    members = list(enumerate(population(kind, passes, seed)))
    jobs = [
        (members[i : i + CHUNK], limits, setup, archive, sources) for i in range(0, passes, CHUNK)
    ]
    if workers < 2:
        return [row for job in jobs for row in _work(job)]
    with ProcessPoolExecutor(workers) as pool:
        return [row for rows in pool.map(_work, jobs) for row in rows]


def expected_calibration_error(chance: np.ndarray, hit: np.ndarray, bins: int = 10) -> float:
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
    return total / len(chance)


def print_times(rows: list[Row]) -> None:
    """Print the table of time to contact."""
    print(" range   n   T true |   rms    p95 | cover  width | range/rate rms | shown")
    for mark in MARKS_M:
        every = [r for r in rows if r.range_m == mark]
        shown = [r for r in every if r.best_s is not None]
        if not shown:
            continue
        error = np.array([r.best_s - r.true_s for r in shown])
        inside = np.mean(
            [r.low_s <= r.true_s <= (math.inf if r.high_s is None else r.high_s) for r in shown]
        )
        width = np.median([(math.inf if r.high_s is None else r.high_s) - r.low_s for r in shown])
        raw = np.array([r.raw_s - r.true_s for r in every])
        true = np.median([r.true_s for r in every])
        print(
            f"{mark:6.0f} {len(shown):4d} {true:7.1f} |{np.sqrt(np.mean(error**2)):7.2f}"
            f"{np.quantile(abs(error), 0.95):7.2f} | {100 * inside:5.1f} {width:6.2f} |"
            f"{np.sqrt(np.mean(raw**2)):10.2f}     | {len(shown)}/{len(every)}"
        )


def print_hands_off(rows: list[Row]) -> None:
    """Print RMS error and coverage of the time to the hands-off point."""
    parts = []
    for mark in MARKS_M:
        some = [
            r
            for r in rows
            if r.range_m == mark and r.hands_off[0] is not None and r.hands_off_true_s is not None
        ]
        if some:
            error = np.array([r.hands_off[0] - r.hands_off_true_s for r in some])
            inside = np.mean(
                [
                    r.hands_off[1] <= r.hands_off_true_s
                    and (r.hands_off[2] is None or r.hands_off_true_s <= r.hands_off[2])
                    for r in some
                ]
            )
            rms = np.sqrt(np.mean(error**2))
            parts.append(f"{mark:.0f} m {rms:.2f} s ({100 * inside:.1f} %)")
    print("to hands-off:", ", ".join(parts))


def print_contact(rows: list[Row]) -> None:
    """Print errors of the predicted contact quantities, their coverage, and the chances."""
    for quantity in rows[0].predicted:
        parts = []
        for mark in MARKS_M:
            some = [r for r in rows if r.range_m == mark and quantity in r.predicted]
            if not some:
                continue
            error = np.array([r.predicted[quantity] - r.actual[quantity] for r in some])
            sigma = np.array([r.sigma[quantity] for r in some])
            cover = np.mean(abs(error) <= 1.96 * sigma)
            parts.append(f"{mark:.0f} m {np.sqrt(np.mean(error**2)):.4f} ({100 * cover:.0f})")
        print(f"{quantity.value:15s}", ", ".join(parts))
    for mark in MARKS_M:
        some = [r for r in rows if r.range_m == mark and r.chance_all is not None]
        if not some:
            continue
        chance = np.array([r.chance_all for r in some])
        hit = np.array([r.within_all for r in some], dtype=float)
        lateral = np.sqrt(np.nanmean([r.lateral_error_m**2 for r in some]))
        print(
            f"{mark:6.0f} m: chance of all: mean {chance.mean():.3f}, met {hit.mean():.3f}, "
            f"Brier {np.mean((chance - hit) ** 2):.3f}, "
            f"ECE {expected_calibration_error(chance, hit):.3f}, lateral rms {lateral:.4f} m"
        )


def print_reliability(rows: list[Row], mark: float) -> None:
    """Print the reliability diagram of the chance of all limits as text."""
    some = [r for r in rows if r.range_m == mark and r.chance_all is not None]
    for b in range(10):
        low, high = b / 10.0, (b + 1) / 10.0
        chosen = [r for r in some if low <= r.chance_all < high or (b == 9 and r.chance_all == 1)]
        if chosen:
            said = np.mean([r.chance_all for r in chosen])
            met = np.mean([r.within_all for r in chosen])
            bar = "#" * round(40 * met)
            print(f"  said {said:.2f} met {met:.2f} n {len(chosen):4d} |{bar}")


def main() -> None:
    """Run from the command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--passes", type=int, default=100)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--population", choices=[*Population, "both"], default="both")
    parser.add_argument("--sources", type=int, default=2)
    parser.add_argument("--no-archive", action="store_true")
    parser.add_argument("--archive", type=Path, default=ARCHIVE)
    parser.add_argument("--undeclared", action="store_true", help="radio's noise is not declared")
    options = parser.parse_args()
    archive = None if options.no_archive else load_archive(options.archive)
    setup = Setup() if options.undeclared else SETUP
    kinds = list(Population) if options.population == "both" else [Population(options.population)]
    for kind in kinds:
        rows = campaign(
            kind, options.passes, options.seed, options.workers, archive, options.sources, setup
        )
        print(f"== {kind.value}, {options.passes} passes, seed {options.seed}")
        print("-- without a hold")
        print_times([r for r in rows if not r.held])
        print("-- after a hold at 20 m")
        print_times([r for r in rows if r.held])
        print_hands_off([r for r in rows if not r.held or r.range_m < 20.0])
        print_contact(rows)
        for mark in (10.0, 5.0, 2.0):
            print(f"reliability at {mark:.0f} m")
            print_reliability(rows, mark)


if __name__ == "__main__":
    main()
