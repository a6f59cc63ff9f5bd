"""Score the tracker on simulated passes: time to contact, contact quantities, chances.

Run from the top of the checkout::

    python -m tests.benchmarks.tracking_campaign --passes 500 --seed 7401

Each pass is simulated and fed to a tracker sample by sample; when the true range passes a mark
the tracker is asked what a console would ask. Printed as Markdown are, for each mark, the RMS
error of time to contact, median width and coverage of its 95 % bounds, range over range rate
beside it, and the same of the quantities at contact, with the chances. A pass that is still to
stop at a hold is left out until it goes on: how long it stands is not the tracker's to know. Since
nothing is wrong with these passes, what the data checks say of them is false and is counted too.

``--store FILE`` keeps what is done, so that a campaign can be flown in pieces (``--minutes``).
"""

from __future__ import annotations

import argparse
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

from console.core.ids import SourceId
from console.core.records import RelativeSample
from console.envelope.limits import LimitsFile
from console.envelope.quantity import Quantity
from console.envelope.reading import parse_limits
from console.envelope.setup import Setup
from console.simulation.population import Member, Population, population
from console.simulation.scenario import SENSOR_B
from console.simulation.simulate import simulate
from console.simulation.truth import Truth
from console.tracking.residuals import ResidualArchive
from console.tracking.tracker import Tracker
from tests.benchmarks.pieces import Pieces
from tests.benchmarks.tracking_findings import Edge, Watch, print_false
from tests.benchmarks.tracking_tables import (
    CHANCE_M,
    SHOWN_M,
    Row,
    draw_reliability,
    print_chances,
    print_contact,
    print_hands_off,
    print_reliability,
    print_times,
)

MARKS_M = (100.0, 50.0, 30.0, 20.0, 15.0, 10.0, 5.0, 2.0, 1.0)
LIMITS = Path("replay_data/limits/port_c_final_approach.toml")
ARCHIVE = Path("replay_data/residuals.json")
SETUP = Setup(sources={SourceId("radio"): SENSOR_B})


def load_limits() -> LimitsFile:
    """Read the shipped limits."""
    return parse_limits(LIMITS.read_bytes(), LIMITS.name)


def load_archive(path: Path = ARCHIVE) -> ResidualArchive | None:
    """Read the shipped archive of residuals, or another."""
    return ResidualArchive.parse(path.read_bytes(), path.name) if path.exists() else None


@dataclass(frozen=True)
class Flight:
    """What one pass gave: a row for each mark, and what the data checks said up to contact."""

    rows: list[Row]
    hours: float
    edges: list[Edge]


def fly(
    number: int,
    member: Member,
    limits: LimitsFile,
    setup: Setup,
    archive: ResidualArchive | None,
    sources: int = 2,
) -> Flight:
    """Fly one pass and ask the tracker at every mark."""
    simulated = simulate(member.scenario, limits, setup, member.seed)
    truth = simulated.truth
    if truth.contact is None:
        return Flight([], 0.0, [])
    due = []
    for mark in MARKS_M:
        t = truth.time_at_range(mark)
        if t is not None:
            due.append((t, mark))
    due.sort()
    tracker = Tracker(limits, setup, archive)
    lead = member.scenario.sensors[0].name
    rows, watch = [], Watch()
    for message in simulated.messages:
        sample = message.record
        if not isinstance(sample, RelativeSample):
            continue
        if sources == 1 and sample.source != lead:
            continue
        if sample.t >= truth.contact.t:
            break
        tracker.update(sample)
        watch.note(tracker, sample.t)
        while due and sample.source == lead and sample.t >= due[0][0]:
            _, mark = due.pop(0)
            if not any(hold.t_end > sample.t for hold in truth.holds):
                rows.append(_row(number, mark, sample, truth, tracker, limits))
    return Flight(rows, watch.hours, watch.edges)


def _row(
    number: int,
    mark: float,
    sample: RelativeSample,
    truth: Truth,
    tracker: Tracker,
    limits: LimitsFile,
) -> Row:
    t, contact = sample.t, truth.contact
    countdown = tracker.to_contact(t)
    hands_off = tracker.to_range(t, limits.hands_off.range_m)
    hands_off_t = truth.time_at_range(limits.hands_off.range_m)
    prediction = tracker.at_contact(t)
    said = prediction.quantities if prediction else ()
    spreads = {line.quantity: line.predicted for line in said if line.predicted is not None}
    raw_s = sample.range_m / -sample.range_rate_mps if sample.range_rate_mps else math.nan
    return Row(
        number,
        bool(truth.holds),
        mark,
        contact.t - t,
        countdown.best_s,
        countdown.low_s,
        countdown.high_s,
        raw_s,
        predicted={quantity: spread.mean for quantity, spread in spreads.items()},
        sigma={quantity: spread.sigma for quantity, spread in spreads.items()},
        raw=raw_values(sample, raw_s),
        actual=dict(contact.values),
        within_all=is_within(limits, contact.values),
        chance_all=None if prediction is None else prediction.chance_all,
        hands_off_true_s=None if hands_off_t is None else hands_off_t - t,
        hands_off=(hands_off.best_s, hands_off.low_s, hands_off.high_s),
    )


def is_within(limits: LimitsFile, actual: dict[Quantity, float]) -> bool:
    """Tell whether every contact limit was met."""
    return all(one.holds(actual[one.quantity]) for one in limits.contact_limits)


def raw_values(sample: RelativeSample, ahead_s: float) -> dict[Quantity, float]:
    """Give what a reader of samples alone would expect at contact.

    The newest values as they stand, but lateral offset carried on at its rate for range over
    range rate.
    """
    y_rate, z_rate = sample.y_rate_mps or 0.0, sample.z_rate_mps or 0.0
    offset = math.hypot(sample.y_m + y_rate * ahead_s, sample.z_m + z_rate * ahead_s)
    return {
        Quantity.CLOSING_RATE: -sample.range_rate_mps,
        Quantity.LATERAL_OFFSET: offset,
        Quantity.LATERAL_RATE: math.hypot(y_rate, z_rate),
        Quantity.PITCH_YAW: math.hypot(sample.pitch_deg, sample.yaw_deg),
        Quantity.ROLL: abs(sample.roll_deg),
        Quantity.PITCH_YAW_RATE: math.hypot(
            sample.pitch_rate_dps or 0.0, sample.yaw_rate_dps or 0.0
        ),
        Quantity.ROLL_RATE: abs(sample.roll_rate_dps or 0.0),
    }


Job = tuple[int, Member, LimitsFile, Setup, ResidualArchive | None, int]


def _work(job: Job) -> Flight:
    return fly(*job)


def campaign(
    kind: Population,
    passes: int,
    seed: int,
    pieces: Pieces,
    archive: ResidualArchive | None = None,
    sources: int = 2,
    setup: Setup = SETUP,
) -> list[Flight]:
    """Fly a population; give the passes that have been flown."""
    limits = load_limits()
    options = f"{sources} sources, declared {len(setup.sources)}, archive {archive is not None}"
    jobs: dict[str, Job] = {
        f"campaign {kind.value} {seed} {i} {options}": (i, one, limits, setup, archive, sources)
        for i, one in enumerate(population(kind, passes, seed))
    }
    return list(pieces.run(_work, jobs, Flight).values())


def rows_of(flights: Iterable[Flight]) -> list[Row]:
    """Give all rows of some passes."""
    return [row for flight in flights for row in flight.rows]


def report(rows: list[Row], marks: Sequence[float] = SHOWN_M) -> None:
    """Print every table of one population."""
    print("Time to contact, all:\n")
    print_times(rows, MARKS_M)
    print("Passes without a hold:\n")
    print_times([r for r in rows if not r.held], marks)
    print("After a hold at 20 m:\n")
    print_times([r for r in rows if r.held], marks)
    print_hands_off([r for r in rows if not r.held or r.range_m < 20.0], marks)
    print(
        "RMS error (share of passes inside mean +- 1.96 sigma) / RMS error of the newest sample:\n"
    )
    print_contact(rows, marks)
    print_chances(rows, CHANCE_M)
    print_reliability(rows, CHANCE_M)


def main() -> None:
    """Run from the command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--passes", type=int, default=100)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--population", choices=[*Population, "both"], default="both")
    parser.add_argument("--sources", type=int, choices=(1, 2), default=2)
    parser.add_argument("--no-archive", action="store_true")
    parser.add_argument("--archive", type=Path, default=ARCHIVE)
    parser.add_argument("--undeclared", action="store_true", help="radio's noise is not declared")
    parser.add_argument("--store", type=Path, help="file to keep results in and go on from")
    parser.add_argument("--minutes", type=float, default=math.inf, help="begin none later")
    parser.add_argument("--diagram", type=Path, help="SVG of the wide population's reliability")
    options = parser.parse_args()
    archive = None if options.no_archive else load_archive(options.archive)
    setup = Setup() if options.undeclared else SETUP
    pieces = Pieces(options.workers, options.store, options.minutes)
    kinds = list(Population) if options.population == "both" else [Population(options.population)]
    every: list[Row] = []
    for kind in kinds:
        flights = campaign(
            kind, options.passes, options.seed, pieces, archive, options.sources, setup
        )
        rows = rows_of(flights)
        print(f"== {kind.value}: {len(flights)} of {options.passes} passes, seed {options.seed}\n")
        report(rows)
        hours = sum(flight.hours for flight in flights)
        print(f"Nothing is wrong with these passes. The data checks in {hours:.1f} h:\n")
        print_false(hours, (edge for flight in flights for edge in flight.edges))
        every += rows
        if options.diagram and kind is Population.WIDE:
            draw_reliability(rows, CHANCE_M[1:], options.diagram)
    if len(kinds) > 1:
        print("== all populations together\n")
        print_times(every, SHOWN_M)


if __name__ == "__main__":
    main()
