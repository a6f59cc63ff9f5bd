"""``leadmark campaign``: order, fly, keep, report."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

from console.app.input_file import DEFAULT_LIMITS, load_setup, read_bytes, scenario_path
from console.archive.parquet_pass import write_parquet_pass
from console.archive.places import data_folder
from console.archive.shipped import shipped
from console.archive.whole_file import whole_file
from console.bench.campaign_figures import columns_of, worst_runs
from console.bench.campaign_order import CHUNK, CampaignOrder, Prepared, prepare
from console.bench.campaign_report import Wanted, report_lines
from console.bench.campaign_run import drawn_of
from console.bench.campaign_runner import LocalRunner, Runner
from console.bench.campaign_store import CampaignStore, begun_by_another_program
from console.core.errors import InputError
from console.core.records import CaptureStatus, RelativeSample
from console.envelope.reading import parse_limits
from console.simulation.reading import parse_scenario
from console.simulation.simulate import simulate
from console.simulation.spread_reading import parse_spread

if TYPE_CHECKING:
    from console.bench.campaign_figures import Columns

DEFAULT_SPREAD = "port_c_approach"
REPORT_NAME = "report.txt"
TOLD_EVERY_S = 5.0
Say = Callable[[str], None]


@dataclass(frozen=True, slots=True)
class CampaignCall:
    """What the command line asks for.

    Attributes
    ----------
    scheduler : str or None
        Address of a Dask scheduler; None: worker processes on this machine.
    out : Path or None
        Folder of the campaign; None: one of its own in the user's data folder.
    keep : int
        How many of the worst passes are written for replay.
    chunk : int
        Runs in one unit of work.
    """

    runs: int
    seed: int = 1
    spread: Path | None = None
    limits: Path | None = None
    setup: Path | None = None
    scenario: str = "nominal"
    from_range_m: float | None = None
    jobs: int = 1
    scheduler: str | None = None
    out: Path | None = None
    keep: int = 8
    chunk: int = CHUNK
    wanted: Wanted = field(default_factory=Wanted)


def run_campaign(call: CampaignCall, say: Say) -> int:
    """Fly what is missing of a campaign and report it; give the exit status.

    Raises
    ------
    InputError
        A file is refused, the folder is another campaign's, or the scheduler does not answer.
    """
    order = order_of(call)
    prepared = prepare(order)
    store = CampaignStore(call.out or _default_folder(order), order)
    missing = store.missing()
    say(f"Campaign {order.sha256[:12]} in {store.folder}: {order.runs} runs")
    if call.out is None and len(missing) == order.chunks:
        other = begun_by_another_program(store.folder.parent, order)
        if other is not None:
            say(f"Not taken up: what another text of this program has flown of it, in {other}")
    if len(missing) < order.chunks:
        done = order.runs - sum(len(order.runs_of(chunk)) for chunk in missing)
        say(f"{done} runs are there already; flying the others")
    for line in _flown(_runner(call), store, missing):
        say(line)
    table = store.write_table()
    columns = columns_of(store.table())
    lines = list(
        report_lines(order, prepared.limits, prepared.dispersion.title, columns, call.wanted)
    )
    with whole_file(store.folder / REPORT_NAME) as part:
        part.write_text("\n".join(lines) + "\n", encoding="utf-8")
    for line in lines:
        say(line)
    say(f"Table: {table}")
    for path in keep_worst(prepared, columns, store.folder, call.keep):
        say(f"Worst passes: {path}")
    return 0


def order_of(call: CampaignCall) -> CampaignOrder:
    """Read the files a campaign is ordered with."""
    limits = call.limits or shipped("replay_data", "limits", f"{DEFAULT_LIMITS}.toml")
    spread = call.spread or shipped("replay_data", "spreads", f"{DEFAULT_SPREAD}.toml")
    setup = load_setup(call.setup)
    order = CampaignOrder(
        runs=call.runs,
        seed=call.seed,
        limits=_text(limits),
        setup=setup.text,
        scenario=_text(scenario_path(call.scenario)),
        spread=_text(spread),
        altitude_km=setup.orbit.altitude_km,
        from_range_m=call.from_range_m,
        chunk=call.chunk,
    )
    _check(order, limits, spread, call)
    return order


def _check(order: CampaignOrder, limits: Path, spread: Path, call: CampaignCall) -> None:
    """Read every text under its own file's name, so that a fault is told where it stands."""
    parse_limits(order.limits.encode(), limits.name)
    scenario = parse_scenario(order.scenario.encode(), call.scenario)
    parse_spread(order.spread.encode(), spread.name, tuple(s.name for s in scenario.sensors))


def _text(path: Path) -> str:
    try:
        return read_bytes(path).decode("utf-8")
    except UnicodeDecodeError:
        raise InputError.of(path.name, "", "not UTF-8", "save the file as UTF-8") from None


def _default_folder(order: CampaignOrder) -> Path:
    return data_folder() / "campaigns" / order.sha256[:12]


def _runner(call: CampaignCall) -> Runner:
    if call.scheduler is None:
        return LocalRunner(call.jobs)
    from console.bench.campaign_dask import DaskRunner

    return DaskRunner(call.scheduler)


def _flown(runner: Runner, store: CampaignStore, missing: list[int]) -> Iterator[str]:
    """Fly units and keep their parts; give a line now and then."""
    order = store.order
    total = sum(len(order.runs_of(chunk)) for chunk in missing)
    begun = told = time.monotonic()
    done = 0
    for chunk, part in runner.run(order.to_bytes(), missing):
        store.save(chunk, part)
        done += len(order.runs_of(chunk))
        now = time.monotonic()
        if now - told >= TOLD_EVERY_S or done == total:
            told = now
            yield f"{done} of {total} runs, {_left(now - begun, done, total)}"


def _left(taken_s: float, done: int, total: int) -> str:
    """Say how long the rest takes at the pace so far."""
    if done == total:
        return f"done in {_clock(taken_s)}"
    return f"about {_clock(taken_s / done * (total - done))} left"


def _clock(seconds: float) -> str:
    minutes, rest = divmod(round(seconds), 60)
    return f"{minutes} min {rest} s" if minutes else f"{rest} s"


def keep_worst(prepared: Prepared, columns: Columns, folder: Path, count: int) -> Iterator[Path]:
    """Fly the worst runs again from their seeds and write each as a pass to replay."""
    worst = folder / "worst"
    for run in worst_runs(prepared.limits, columns, count):
        worst.mkdir(exist_ok=True)
        drawn = drawn_of(prepared, run)
        flown = simulate(drawn.scenario, prepared.limits, prepared.setup, drawn.seed)
        records = [
            message.record
            for message in flown.messages
            if isinstance(message.record, RelativeSample | CaptureStatus)
        ]
        target = worst / f"run-{run:06d}.parquet"
        kinds = ", ".join(sorted({fault.kind.value for fault in drawn.scenario.faults}))
        note = f"campaign {prepared.order.sha256[:12]}, run {run}, faults: {kinds or 'none'}"
        write_parquet_pass(target, records, {"title": drawn.scenario.title, "note": note})
        yield target
