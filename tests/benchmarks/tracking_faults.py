"""Measure the data checks: false findings in fault-free hours, and delays of real faults.

Run from the top of the checkout::

    python -m tests.benchmarks.tracking_faults --hours 100 --seed 7411
    python -m tests.benchmarks.tracking_faults --faults 120 --seed 7421
    python -m tests.benchmarks.tracking_faults --harm 100 --seed 7431

Fault-free hours are nominal passes, half of them with a hold, with two sources, dropouts and
outliers. A false finding is a rising edge of a source's finding at a level; one that rises in
level counts at both. A fault begins at a random range of 8 to 60 m; the delay is from its first
sample to the first finding against the faulty source (or, for a disagreement, any). Harm is what
a fault does to time to contact: RMS error and coverage of the 95 % bounds at 5 m and at 2 m, with
two sources and with the faulty one alone.

``--store FILE`` keeps what is done, so that a run can be made in pieces (``--minutes``); what is
printed is of the passes flown so far, and says how many.
"""

from __future__ import annotations

import argparse
import math
from collections import Counter
from collections.abc import Sequence
from pathlib import Path

import numpy as np

from console.core.ids import SourceId
from console.core.records import RelativeSample
from console.envelope.limits import Level
from console.envelope.setup import Setup
from console.simulation.faults import VEHICLE_KINDS, Channel, Fault, FaultKind
from console.simulation.population import Member, Population, population
from console.simulation.simulate import simulate
from console.tracking.tracker import Tracker
from tests.benchmarks.pieces import Pieces
from tests.benchmarks.tracking_campaign import SETUP, load_limits
from tests.benchmarks.tracking_findings import Edge, Watch, print_false, verdict
from tests.benchmarks.tracking_tables import print_table
from tests.fakes.changed import replace

OPTICAL = SourceId("optical")
NEVER = "never came"
FaultFree = tuple[float, list[Edge]]
"""Hours flown, and the findings raised."""
Delay = tuple[str, float | None, str]
Harm = tuple[str, list[tuple[float, float, bool]]]
Coast = tuple[float, float, float, float, bool]
FAULTS = {
    "frozen": (FaultKind.FREEZE, None, 0.0),
    "range step 0.5 m": (FaultKind.BIAS, Channel.RANGE, 0.5),
    "range step 0.15 m": (FaultKind.BIAS, Channel.RANGE, 0.15),
    "range scale 3 %": (FaultKind.SCALE, Channel.RANGE, 0.03),
    "rate 2 cm/s": (FaultKind.BIAS, Channel.RANGE_RATE, 0.02),
    "rate -2 cm/s": (FaultKind.BIAS, Channel.RANGE_RATE, -0.02),
    "rate 8 mm/s": (FaultKind.BIAS, Channel.RANGE_RATE, 0.008),
    "rate -8 mm/s": (FaultKind.BIAS, Channel.RANGE_RATE, -0.008),
    "stuck thruster": (FaultKind.THRUSTER_STUCK, Channel.Y, 0.008),
}
"""Kind, channel and size of each; the size of the stuck thruster in m/s^2."""
GOALS_S = {
    "frozen": 1.5,
    "range step 0.5 m": 10.0,
    "range scale 3 %": 10.0,
    "rate 2 cm/s": 30.0,
    "rate -2 cm/s": 30.0,
    "rate 8 mm/s": 120.0,
    "rate -8 mm/s": 120.0,
}
"""Greatest 95th percentile of the delay."""


def fly(member: Member, setup=SETUP, from_t: float | None = None):
    """Feed one pass; yield each sample's time and the findings that stand after it."""
    limits = load_limits()
    simulated = simulate(member.scenario, limits, setup, member.seed)
    tracker = Tracker(limits, setup)
    contact = simulated.truth.t_contact
    for message in simulated.messages:
        sample = message.record
        if not isinstance(sample, RelativeSample):
            continue
        if contact is not None and sample.t >= contact:
            break
        tracker.update(sample)
        yield simulated, sample, tracker


def false_findings(job) -> FaultFree:
    """Give the hours of one fault-free pass and its findings' rising edges."""
    member, setup = job
    watch = Watch()
    for _, sample, tracker in fly(member, setup):
        watch.note(tracker, sample.t)
    return watch.hours, watch.edges


def delay_of(job) -> Delay:
    """Give the delay from a fault's first sample to the first finding, None where none came."""
    name, member, at_range_m, source, setup, least = job
    kind, channel, size = FAULTS[name]
    whose = None if kind in VEHICLE_KINDS else source
    fault = Fault(kind, source=whose, channel=channel, size=size, at_range_m=at_range_m)
    scenario = replace(member.scenario, faults=(fault,))
    start = None
    for simulated, sample, tracker in fly(Member(scenario, member.seed), setup):
        if start is None:
            spans = simulated.truth.faults
            if not spans:
                return name, None, NEVER
            start = spans[0].t_start
        if sample.t < start:
            continue
        for one in tracker.findings(sample.t):
            if one.since >= start and one.level >= least:
                return name, sample.t - start, f"{one.id.value} {one.level.word}"
    return name, None, "missed"


def harm_of(job) -> Harm:
    """Give mark, error and coverage of time to contact at 5 m and 2 m under a fault."""
    name, member, at_range_m, alone = job
    kind, channel, size = FAULTS[name]
    whose = None if kind in VEHICLE_KINDS else OPTICAL
    fault = Fault(kind, source=whose, channel=channel, size=size, at_range_m=at_range_m)
    scenario = replace(member.scenario, faults=(fault,))
    limits = load_limits()
    simulated = simulate(scenario, limits, SETUP, member.seed)
    truth, tracker = simulated.truth, Tracker(limits, SETUP)
    due = sorted((truth.time_at_range(mark), mark) for mark in (5.0, 2.0))
    out = []
    for message in simulated.messages:
        sample = message.record
        if not isinstance(sample, RelativeSample) or (alone and sample.source != OPTICAL):
            continue
        tracker.update(sample)
        if due and sample.t >= due[0][0]:
            _, mark = due.pop(0)
            shown, true_s = tracker.to_contact(sample.t), truth.t_contact - sample.t
            if shown.best_s is not None:
                high = np.inf if shown.high_s is None else shown.high_s
                out.append((mark, shown.best_s - true_s, shown.low_s <= true_s <= high))
    return name, out


def coast_of(job) -> Coast | None:
    """Give what is left of the estimate at the end of a silence of all sources near 8 m.

    Length of the silence, error of time to contact, error of range, width and coverage of the
    bounds, asked just before the first sample after it.
    """
    member, silent_s = job
    start_m = 8.0 + 0.09 * silent_s
    fault = Fault(FaultKind.DROPOUT, at_range_m=start_m, for_s=silent_s)
    limits = load_limits()
    simulated = simulate(replace(member.scenario, faults=(fault,)), limits, SETUP, member.seed)
    truth, tracker = simulated.truth, Tracker(limits, SETUP)
    if not truth.faults:
        return None
    end = truth.faults[0].t_end
    for message in simulated.messages:
        sample = message.record
        if isinstance(sample, RelativeSample):
            if sample.t >= end:
                break
            tracker.update(sample)
    shown, left = tracker.to_contact(end), truth.t_contact - end
    if shown.best_s is None:
        return None
    i = int(np.searchsorted(truth.t, end))
    high = np.inf if shown.high_s is None else shown.high_s
    range_error = tracker.estimate(end).range_m - float(truth.range_m[i])
    inside = shown.low_s <= left <= high
    return silent_s, shown.best_s - left, range_error, high - shown.low_s, inside


COAST_S = (0.5, 5.0, 10.0, 20.0)


def coasts(count: int, seed: int, pieces: Pieces) -> None:
    """Fly passes with a silence and print what coasting makes of it."""
    jobs = {
        f"coast {seed} {i} {length}": (member, length)
        for length in COAST_S
        for i, member in enumerate(population(Population.NOMINAL, count, seed))
    }
    found = pieces.run(coast_of, jobs, Coast | None)
    results = [one for one in found.values() if one is not None]
    print(f"Silence of all sources ending near 8 m, seed {seed}, {len(found)} passes flown:\n")
    lines = []
    for length in COAST_S:
        some = [one for one in results if one[0] == length]
        if not some:
            continue
        late, off, width = (np.array([one[i] for one in some]) for i in (1, 2, 3))
        cover = 100 * np.mean([one[4] for one in some])
        lines.append(
            (
                f"{length:g} s",
                f"{np.sqrt(np.mean(late**2)):.2f}",
                f"{100 * np.sqrt(np.mean(off**2)):.1f}",
                f"{np.median(width):.1f}",
                f"{cover:.0f} %",
            )
        )
    print_table(
        ("silent for", "time to contact, RMS error, s", "range, RMS error, cm",
         "width of bounds, s", "bounds hold"),
        lines,
    )  # fmt: skip


def harm(count: int, seed: int, pieces: Pieces) -> None:
    """Fly faulty passes and print what becomes of time to contact."""
    members = population(Population.NOMINAL, count, seed)
    lines = {name: [name] for name in FAULTS}
    for alone in (False, True):
        rng = np.random.default_rng(seed)
        jobs = {
            f"harm {seed} {i} {name} {alone}": (name, m, float(rng.uniform(8.0, 60.0)), alone)
            for name in FAULTS
            for i, m in enumerate(members)
        }
        results = list(pieces.run(harm_of, jobs, Harm).values())
        words = "optical alone" if alone else "both sources"
        print(f"Harm, {words}: {len(results)} passes flown, seed {seed}\n")
        for name in FAULTS:
            for mark in (5.0, 2.0):
                some = [one for n, rows in results if n == name for one in rows if one[0] == mark]
                if not some:
                    continue
                rms = np.sqrt(np.mean([error**2 for _, error, _ in some]))
                cover = 100 * np.mean([inside for _, _, inside in some])
                lines[name].append(f"{rms:.2f} ({cover:.0f} %, {len(some)})")
    print("RMS error of time to contact, s (bounds hold, passes where it was shown):\n")
    print_table(
        ("fault", "both, 5 m", "both, 2 m", "optical alone, 5 m", "optical alone, 2 m"),
        lines.values(),
    )


def false_alarms(hours: float, seed: int, pieces: Pieces, setup: Setup, kind: Population) -> None:
    """Fly fault-free hours and print what was found."""
    passes = math.ceil(hours * 3600.0 / 820.0)
    jobs = {
        f"false {kind.value} {seed} {i} declared {len(setup.sources)}": (member, setup)
        for i, member in enumerate(population(kind, passes, seed))
    }
    results = list(pieces.run(false_findings, jobs, FaultFree).values())
    flown = sum(one for one, _ in results)
    print(f"Fault-free: {flown:.1f} of {hours:g} h run, ", end="")
    print(f"{len(results)} {kind.value} passes, seed {seed}\n")
    print_false(flown, (edge for _, edges in results for edge in edges))


def delays(
    count: int,
    seed: int,
    pieces: Pieces,
    setup: Setup,
    least: Level,
    source: SourceId,
    only: Sequence[str],
) -> None:
    """Fly faulty passes and print delays."""
    members = population(Population.NOMINAL, count, seed)
    rng = np.random.default_rng(seed)
    jobs = {}
    for name in FAULTS:
        ranges = rng.uniform(8.0, 60.0, count)
        if name not in only:
            continue
        for i, (m, x) in enumerate(zip(members, ranges, strict=True)):
            key = f"delay {seed} {i} {name} {source} {least.word} declared {len(setup.sources)}"
            jobs[key] = (name, m, float(x), source, setup, least)
    results = list(pieces.run(delay_of, jobs, Delay).values())
    print(f"Faults of {source}: {len(results)} of {len(jobs)} passes, seed {seed}, ", end="")
    print(f"at least {least.word}\n")
    lines = []
    for name in FAULTS:
        some = [(delay, what) for n, delay, what in results if n == name and what != NEVER]
        if some:
            lines.append((name, *_delay_line(some, GOALS_S.get(name))))
    print_table(
        (
            "fault",
            "passes",
            "found",
            "median, s",
            "95th percentile, s",
            "goal",
            "",
            "first found by",
        ),
        lines,
    )


def _delay_line(some: list[tuple[float | None, str]], goal: float | None) -> list[str]:
    every = np.sort([math.inf if delay is None else delay for delay, _ in some])
    p95 = float(every[math.ceil(0.95 * len(every)) - 1])
    by = Counter(what for delay, what in some if delay is not None).most_common()
    return [
        str(len(every)),
        f"{100 * np.mean(np.isfinite(every)):.1f} %",
        _seconds(float(every[(len(every) - 1) // 2])),
        _seconds(p95),
        "" if goal is None else f"{goal:g}",
        "" if goal is None else verdict(p95, goal),
        ", ".join(f"{what} {n}" for what, n in by),
    ]


def _seconds(value: float) -> str:
    return f"{value:.1f}" if math.isfinite(value) else "never"


def main() -> None:
    """Run from the command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--hours", type=float, default=0.0)
    parser.add_argument("--faults", type=int, default=0)
    parser.add_argument("--harm", type=int, default=0)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--source", type=SourceId, default=OPTICAL)
    parser.add_argument("--undeclared", action="store_true")
    parser.add_argument("--warnings-only", action="store_true")
    parser.add_argument(
        "--population", type=Population, choices=list(Population), default=Population.NOMINAL,
        help="of the fault-free hours",
    )  # fmt: skip
    parser.add_argument("--only", nargs="+", choices=FAULTS, default=list(FAULTS))
    parser.add_argument("--store", type=Path, help="file to keep results in and go on from")
    parser.add_argument("--minutes", type=float, default=math.inf, help="begin none later")
    options = parser.parse_args()
    setup = replace(SETUP, sources={}) if options.undeclared else SETUP
    pieces = Pieces(options.workers, options.store, options.minutes)
    if options.hours:
        false_alarms(options.hours, options.seed, pieces, setup, options.population)
    if options.harm:
        harm(options.harm, options.seed, pieces)
        coasts(options.harm, options.seed, pieces)
    if options.faults:
        least = Level.WARNING if options.warnings_only else Level.ADVISORY
        delays(options.faults, options.seed, pieces, setup, least, options.source, options.only)


if __name__ == "__main__":
    main()
