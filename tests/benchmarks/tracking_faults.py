"""Measure the data checks: false findings in fault-free hours, and delays of real faults.

Run from the top of the checkout::

    python -m tests.benchmarks.tracking_faults --hours 100 --seed 9001
    python -m tests.benchmarks.tracking_faults --faults 120 --seed 9101

    python -m tests.benchmarks.tracking_faults --harm 100 --seed 9201

Fault-free hours are nominal passes, half of them with a hold, with two sources, dropouts and
outliers. A false finding is a rising edge of a source's finding at a level; one that rises in
level counts at both. A fault begins at a random range of 8 to 60 m; the delay is from its first
sample to the first finding against the faulty source (or, for a disagreement, any). Harm is what
a fault does to time to contact: RMS error and coverage of the 95 % bounds at 5 m and at 2 m, with
two sources and with the faulty one alone.
"""

from __future__ import annotations

import argparse
from collections import Counter
from concurrent.futures import ProcessPoolExecutor

import numpy as np

from console.core.ids import SourceId
from console.core.records import RelativeSample
from console.envelope.limits import Level
from console.simulation.faults import Channel, Fault, FaultKind
from console.simulation.population import Member, Population, population
from console.simulation.simulate import simulate
from console.tracking.tracker import Tracker
from tests.benchmarks.tracking_campaign import SETUP, load_limits
from tests.fakes.changed import replace

OPTICAL = SourceId("optical")
FAULTS = {
    "frozen": (FaultKind.FREEZE, None, 0.0),
    "range step 0.5 m": (FaultKind.BIAS, Channel.RANGE, 0.5),
    "range step 0.15 m": (FaultKind.BIAS, Channel.RANGE, 0.15),
    "range scale 3 %": (FaultKind.SCALE, Channel.RANGE, 0.03),
    "rate 2 cm/s": (FaultKind.BIAS, Channel.RANGE_RATE, 0.02),
    "rate -2 cm/s": (FaultKind.BIAS, Channel.RANGE_RATE, -0.02),
    "rate 8 mm/s": (FaultKind.BIAS, Channel.RANGE_RATE, 0.008),
    "rate -8 mm/s": (FaultKind.BIAS, Channel.RANGE_RATE, -0.008),
}


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


def false_findings(job) -> tuple[float, list[tuple[str, str, str, float, str]]]:
    """Give the hours of one fault-free pass and its findings' rising edges."""
    member, setup = job
    standing: dict[tuple[str, str], Level] = {}
    edges = []
    first = last = 0.0
    for _, sample, tracker in fly(member, setup):
        first, last = first or sample.t, sample.t
        now = {}
        for one in tracker.findings(sample.t):
            key = (one.id.value, one.source)
            now[key] = one.level
            if standing.get(key) is None or one.level > standing[key]:
                range_m = tracker.estimate(sample.t).range_m
                edges.append((one.id.value, one.source, one.level.word, range_m, one.evidence))
        standing = now
    return (last - first) / 3600.0, edges


def delay_of(job) -> tuple[str, float | None, str]:
    """Give the delay from a fault's first sample to the first finding, None where none came."""
    name, member, at_range_m, source, setup, least = job
    kind, channel, size = FAULTS[name]
    fault = Fault(kind, source=source, channel=channel, size=size, at_range_m=at_range_m)
    scenario = replace(member.scenario, faults=(fault,))
    start = None
    for simulated, sample, tracker in fly(Member(scenario, member.seed), setup):
        if start is None:
            spans = simulated.truth.faults
            if not spans:
                return name, None, "never came"
            start = spans[0].t_start
        if sample.t < start:
            continue
        for one in tracker.findings(sample.t):
            if one.since >= start and one.level >= least:
                return name, sample.t - start, f"{one.id.value} {one.level.word}"
    return name, None, "missed"


def harm_of(job) -> tuple[str, list[tuple[float, float, bool]]]:
    """Give mark, error and coverage of time to contact at 5 m and 2 m under a fault."""
    name, member, at_range_m, alone = job
    kind, channel, size = FAULTS[name]
    fault = Fault(kind, source=OPTICAL, channel=channel, size=size, at_range_m=at_range_m)
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


def coast_of(job) -> tuple[float, float | None, float, float, bool] | None:
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


def print_coasts(count: int, seed: int, workers: int) -> None:
    """Fly passes with a silence and print what coasting makes of it."""
    members = population(Population.NOMINAL, count, seed)
    lengths = (0.5, 5.0, 10.0, 20.0)
    with ProcessPoolExecutor(workers) as pool:
        jobs = [(m, length) for length in lengths for m in members]
        results = [one for one in pool.map(coast_of, jobs, chunksize=8) if one is not None]
    print(f"silence of all sources ending near 8 m, {count} passes each, seed {seed}")
    for length in lengths:
        some = [one for one in results if one[0] == length]
        late, off, width = (np.array([one[i] for one in some]) for i in (1, 2, 3))
        cover = 100 * np.mean([one[4] for one in some])
        print(
            f"  {length:4.1f} s: time to contact {np.sqrt(np.mean(late**2)):.2f} s rms, range "
            f"{100 * np.sqrt(np.mean(off**2)):.1f} cm rms, covered {cover:.0f} %, median width "
            f"{np.median(width):.1f} s"
        )


def print_harm(count: int, seed: int, workers: int) -> None:
    """Fly faulty passes and print what becomes of time to contact."""
    members = population(Population.NOMINAL, count, seed)
    for alone in (False, True):
        rng = np.random.default_rng(seed)
        jobs = [
            (name, m, float(rng.uniform(8.0, 60.0)), alone) for name in FAULTS for m in members
        ]
        with ProcessPoolExecutor(workers) as pool:
            results = list(pool.map(harm_of, jobs, chunksize=8))
        print(f"harm, {count} passes each, seed {seed}, {'optical alone' if alone else 'both'}")
        for name in FAULTS:
            parts = []
            for mark in (5.0, 2.0):
                some = [one for n, rows in results if n == name for one in rows if one[0] == mark]
                rms = np.sqrt(np.mean([error**2 for _, error, _ in some]))
                cover = 100 * np.mean([inside for _, _, inside in some])
                parts.append(f"{mark:.0f} m {rms:5.2f} s ({cover:3.0f} %, shown {len(some)})")
            print(f"  {name:18s}", ", ".join(parts))


def print_false(hours: float, seed: int, workers: int, setup) -> None:
    """Fly fault-free hours and print what was found."""
    passes = round(hours * 3600.0 / 860.0)
    members = population(Population.NOMINAL, passes, seed)
    with ProcessPoolExecutor(workers) as pool:
        results = list(pool.map(false_findings, [(m, setup) for m in members], chunksize=4))
    flown = sum(one for one, _ in results)
    edges = [edge for _, some in results for edge in some]
    print(f"fault-free: {flown:.1f} h, {passes} passes, seed {seed}")
    for key, count in sorted(Counter((e[0], e[1], e[2]) for e in edges).items()):
        id_, source, level = key
        rate = 100 * count / flown
        print(f"  {id_:14s} {source:8s} {level:9s} {count:4d}  {rate:6.2f}/100 h")
    for edge in edges[:40]:
        print("   ", edge[0], edge[1], edge[2], f"{edge[3]:.1f} m:", edge[4])


def print_delays(count: int, seed: int, workers: int, setup, least: Level, source: str) -> None:
    """Fly faulty passes and print delays."""
    rng = np.random.default_rng(seed)
    members = population(Population.NOMINAL, count, seed)
    jobs = []
    for name in FAULTS:
        ranges = rng.uniform(8.0, 60.0, count)
        jobs += [
            (name, m, float(x), SourceId(source), setup, least)
            for m, x in zip(members, ranges, strict=True)
        ]
    with ProcessPoolExecutor(workers) as pool:
        results = list(pool.map(delay_of, jobs, chunksize=8))
    print(f"faults of {source}, {count} passes each, seed {seed}, at least {least.word}")
    for name in FAULTS:
        some = [(delay, what) for n, delay, what in results if n == name and what != "never came"]
        found = sorted(delay for delay, _ in some if delay is not None)
        every = np.array([np.inf if delay is None else delay for delay, _ in some])
        by = Counter(what for _, what in some)
        if found:
            p95 = np.sort(every)[int(np.ceil(0.95 * len(every))) - 1]
            print(
                f"  {name:18s} hit {100 * len(found) / len(some):5.1f} %, median "
                f"{np.median(every):6.1f} s, p95 {p95:6.1f} s; {dict(by)}"
            )
        else:
            print(f"  {name:18s} never found; {dict(by)}")


def main() -> None:
    """Run from the command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--hours", type=float, default=0.0)
    parser.add_argument("--faults", type=int, default=0)
    parser.add_argument("--harm", type=int, default=0)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--source", default="optical")
    parser.add_argument("--undeclared", action="store_true")
    parser.add_argument("--warnings-only", action="store_true")
    options = parser.parse_args()
    setup = replace(SETUP, sources={}) if options.undeclared else SETUP
    if options.hours:
        print_false(options.hours, options.seed, options.workers, setup)
    if options.harm:
        print_harm(options.harm, options.seed, options.workers)
        print_coasts(options.harm, options.seed, options.workers)
    if options.faults:
        least = Level.WARNING if options.warnings_only else Level.ADVISORY
        print_delays(options.faults, options.seed, options.workers, setup, least, options.source)


if __name__ == "__main__":
    main()
