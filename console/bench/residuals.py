"""Build the archive of residuals that calibrated chances at contact rest on.

Run with ``python -m console.bench.residuals``: simulated passes of the wide population are flown
through the tracker, and what was left over at each range is written to the shipped file. The wide
population, because an archive must hold what can go wrong: a vehicle that keeps itself better than
it is told apart by its own scatter close in, and is only under-rated far out. For another vehicle,
guidance or source the archive must be made anew.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterable
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path
from typing import Final, TypeAlias

from console.archive.shipped import shipped
from console.archive.whole_file import whole_file
from console.core.ids import SourceId
from console.core.records import RelativeSample
from console.envelope.limits import LimitsFile
from console.envelope.reading import parse_limits
from console.envelope.setup import Setup
from console.simulation.population import Member, Population, population
from console.simulation.scenario import SENSOR_B
from console.simulation.simulate import simulate
from console.simulation.truth import ContactTruth
from console.tracking.fitting import Case, ContactValues, fit_archive
from console.tracking.residuals import ResidualArchive
from console.tracking.tracker import Tracker

RANGES_M: Final = (100.0, 50.0, 30.0, 20.0, 14.0, 10.0, 7.0, 5.0, 3.0, 2.0, 1.0)
PASSES: Final = 200
SEED: Final = 2031
LIMITS: Final = ("replay_data", "limits", "port_c_final_approach.toml")
TARGET: Final = ("replay_data", "residuals.json")
SETUP: Final = Setup(sources={SourceId("radio"): SENSOR_B})
Found: TypeAlias = list[tuple[float, Case]]


def build(
    members: Iterable[Member], limits: LimitsFile, setup: Setup, made_by: str, workers: int = 1
) -> ResidualArchive:
    """Fly passes and make an archive of what was left over.

    Parameters
    ----------
    members : iterable of Member
        Scenario and seed of each pass.
    limits, setup : LimitsFile, Setup
        As a console would have them.
    made_by : str
        Words about the passes, kept in the archive.
    workers : int
        Processes.

    Raises
    ------
    ValueError
        At some range there is no pass.
    """
    jobs = [(member, limits, setup) for member in members]
    if workers > 1:
        with ProcessPoolExecutor(workers) as pool:
            found = list(pool.map(_cases_of, jobs, chunksize=4))
    else:
        found = [_cases_of(job) for job in jobs]
    cases: dict[float, list[Case]] = {range_m: [] for range_m in RANGES_M}
    for one in found:
        for range_m, case in one:
            cases[range_m].append(case)
    return fit_archive(cases, made_by)


def _cases_of(job: tuple[Member, LimitsFile, Setup]) -> Found:
    """Fly one pass; give the forecast at each range with the contact that came."""
    member, limits, setup = job
    simulated = simulate(member.scenario, limits, setup, member.seed)
    truth = simulated.truth
    if truth.contact is None:
        return []
    contact = _values(truth.contact)
    due = []
    for range_m in RANGES_M:
        t = truth.time_at_range(range_m)
        if t is not None:
            due.append((t, range_m))
    due.sort()
    tracker = Tracker(limits, setup)
    found: Found = []
    for message in simulated.messages:
        sample = message.record
        if not isinstance(sample, RelativeSample):
            continue
        tracker.update(sample)
        while due and sample.t >= due[0][0]:
            _, range_m = due.pop(0)
            features = tracker.features(sample.t)
            if features is not None:
                found.append((range_m, (features, contact)))
        if not due:
            break
    return found


def _values(contact: ContactTruth) -> ContactValues:
    return ContactValues(
        closing=contact.closing_rate_mps,
        y=contact.y_m,
        z=contact.z_m,
        y_rate=contact.y_rate_mps,
        z_rate=contact.z_rate_mps,
        roll=contact.roll_deg,
        pitch=contact.pitch_deg,
        yaw=contact.yaw_deg,
        roll_rate=contact.roll_rate_dps,
        pitch_rate=contact.pitch_rate_dps,
        yaw_rate=contact.yaw_rate_dps,
    )


def main(arguments: list[str] | None = None) -> None:
    """Build the shipped archive, or another one, from the command line."""
    parser = argparse.ArgumentParser(prog="python -m console.bench.residuals", description=__doc__)
    parser.add_argument(
        "--passes", type=int, default=PASSES, help="how many (default %(default)s)"
    )
    parser.add_argument("--seed", type=int, default=SEED, help="default %(default)s")
    parser.add_argument("--jobs", type=int, default=2, help="processes (default %(default)s)")
    parser.add_argument("--out", type=Path, default=shipped(*TARGET), help="file to write")
    options = parser.parse_args(arguments)
    path = shipped(*LIMITS)
    limits = parse_limits(path.read_bytes(), path.name)
    made_by = (
        f"python -m console.bench.residuals --passes {options.passes} --seed {options.seed}: "
        "simulated passes of the wide population"
    )
    members = population(Population.WIDE, options.passes, options.seed)
    archive = build(members, limits, SETUP, made_by, options.jobs)
    with whole_file(options.out) as part:
        part.write_bytes(archive.to_bytes())


if __name__ == "__main__":
    main()
