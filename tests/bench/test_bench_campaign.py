"""Campaigns: the same table however it is flown, nothing lost, figures by hand."""

from __future__ import annotations

import contextlib
import multiprocessing
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import msgspec
import pytest
from pyarrow import parquet

import console
from console import __version__
from console.app.campaign import CampaignCall, order_of, run_campaign
from console.archive.passes import read_pass
from console.archive.places import data_folder
from console.bench import campaign_lanes
from console.bench.campaign_lanes import LaneFlight
from console.bench.campaign_order import FLOWN_BY, CampaignOrder, prepare
from console.bench.campaign_run import fly_run
from console.bench.campaign_runner import LocalRunner
from console.bench.campaign_store import ORDER_NAME, CampaignStore
from console.bench.campaign_work import fly_chunk
from console.cli import main
from console.core.errors import InputError
from tests.bench.campaign_tools import same, small_order

NOT_OF_THE_ENGINE = (
    "console.archive.", "console.surroundings.", "console.bench.campaign_order",
    "console.bench.program_hash", "console.bench.scoring", "console.bench.trace",
)  # fmt: skip
RATE_GAP = "margin:range-rate-gap"


def test_runs_side_by_side_give_the_rows_of_runs_one_by_one(monkeypatch) -> None:
    """Lanes and the engine itself agree in every value, and most runs fly in lanes."""
    prepared = prepare(small_order(10))
    by_engine: list[int] = []

    def noted(prepared, run):
        by_engine.append(run)
        return fly_run(prepared, run)

    monkeypatch.setattr(campaign_lanes, "fly_run", noted)
    rows = LaneFlight(prepared).fly(range(10))
    faults = [row["faults"] for row in rows]
    assert any("dropout" in one for one in faults)
    assert any(one == "fast_closing" for one in faults)
    assert {run for run in range(10) if "dropout" in faults[run]} <= set(by_engine)
    assert len(by_engine) <= 5
    for run in set(range(10)) - set(by_engine):
        alone = fly_run(prepared, run)
        # the slope of range is made by sums over the pass here, sample by sample there
        assert same(rows[run], alone) in ([], [RATE_GAP])
        assert rows[run][RATE_GAP] == pytest.approx(alone[RATE_GAP], abs=1e-9, nan_ok=True)


def test_a_part_is_the_same_bytes_whoever_flies_it() -> None:
    """In this process, in a worker, in another cut of the work: row by row the same."""
    order = small_order(4).to_bytes()
    here = [fly_chunk(order, chunk) for chunk in (0, 1)]
    parts = dict(LocalRunner(2).run(order, [0, 1]))
    assert [parts[0], parts[1]] == here


def test_a_killed_worker_loses_nothing() -> None:
    """One of two workers is killed in the middle: every unit still comes, once, and the same."""
    order = small_order(6)
    flown: dict[int, bytes] = {}
    for chunk, part in LocalRunner(2).run(order.to_bytes(), range(order.chunks)):
        assert chunk not in flown
        if not flown:
            victim = multiprocessing.active_children()[0]
            assert victim.pid is not None
            os.kill(victim.pid, signal.SIGKILL)
        flown[chunk] = part
    assert sorted(flown) == [0, 1, 2]
    assert flown[2] == fly_chunk(order.to_bytes(), 2)


def test_workers_that_keep_dying_are_told(monkeypatch) -> None:
    """A pool that breaks time after time ends in one line, not in a circle."""

    def broken(self, order, chunks):
        raise campaign_runner_error()
        yield

    monkeypatch.setattr(LocalRunner, "_until_broken", broken)
    with pytest.raises(InputError, match="died 3 times"):
        list(LocalRunner(2).run(b"", [0]))


def campaign_runner_error() -> Exception:
    """Give the error of a broken pool."""
    from concurrent.futures.process import BrokenProcessPool

    return BrokenProcessPool("gone")


@pytest.mark.skipif(not Path("/proc/self/task").exists(), reason="asks the system for workers")
def test_a_killed_campaign_flies_only_what_is_missing(tmp_path: Path) -> None:
    """The first parts of a killed program stand untouched when it is started again.

    Its workers end with it.
    """
    words = [
        "campaign", "--runs", "6", "--chunk", "2", "--from", "2.2", "--seed", "3", "--keep", "1",
        "--out", str(tmp_path / "c"),
    ]  # fmt: skip
    first = tmp_path / "c" / "part-000000.parquet"
    program = subprocess.Popen(
        [sys.executable, "-m", "console", *words, "--jobs", "2"], stdout=subprocess.DEVNULL
    )
    try:
        deadline = time.monotonic() + 60.0
        while not first.exists() and time.monotonic() < deadline:
            time.sleep(0.02)
        workers = children_of(program.pid)
    finally:
        program.send_signal(signal.SIGKILL)
        program.wait()
    assert len(workers) >= 2
    while any(map(is_running, workers)) and time.monotonic() < deadline:
        time.sleep(0.02)
    assert not any(map(is_running, workers))
    stood = {path: path.stat().st_mtime_ns for path in (tmp_path / "c").glob("part-*.parquet")}
    assert stood
    assert main(words) == 0
    assert all(path.stat().st_mtime_ns == when for path, when in stood.items())
    straight = tmp_path / "straight"
    assert main([*words[:-1], str(straight)]) == 0
    worst = list((straight / "worst").iterdir())
    assert len(worst) == 1
    assert read_pass(worst[0]).columns().t.size > 100
    whole, again = ((f / "runs.parquet").read_bytes() for f in (straight, tmp_path / "c"))
    assert whole == again
    assert parquet.read_table(straight / "runs.parquet")["run"].to_pylist() == list(range(6))


def children_of(pid: int) -> list[int]:
    """Give the processes a process has started."""
    return [int(word) for word in Path(f"/proc/{pid}/task/{pid}/children").read_text().split()]


def is_running(pid: int) -> bool:
    """Tell whether a process runs; one that ended and was not asked for does not."""
    try:
        return Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0] not in "ZX"
    except OSError:
        return False


def test_a_folder_belongs_to_one_order(tmp_path: Path) -> None:
    """Other limits, runs or seed are refused; a part that is not whole is flown again."""
    order = small_order(4)
    store = CampaignStore(tmp_path / "c", order)
    assert store.missing() == [0, 1]
    store.save(0, fly_chunk(order.to_bytes(), 0))
    assert CampaignStore(tmp_path / "c", order).missing() == [1]
    store.part(0).write_bytes(store.part(0).read_bytes()[:-20])
    assert store.missing() == [0, 1]
    with pytest.raises(InputError, match="another campaign"):
        CampaignStore(tmp_path / "c", msgspec.structs.replace(order, seed=9))
    with pytest.raises(InputError, match=r"other seed, chunk\): give another folder"):
        CampaignStore(tmp_path / "c", msgspec.structs.replace(order, seed=9, chunk=7))
    for broken in (b"{}", b'{"limits_text": "\xcf\xff"}'):
        (tmp_path / "c" / ORDER_NAME).write_bytes(broken)
        with pytest.raises(InputError, match="cannot be read: give another folder"):
            CampaignStore(tmp_path / "c", order)
    with contextlib.suppress(InputError):
        (tmp_path / "file").write_text("x")
        CampaignStore(tmp_path / "file", order)
        pytest.fail("a file is no folder")


@pytest.mark.parametrize("program", ["0.1", f"{__version__} 0123456789abcdef"])
def test_runs_of_another_text_of_the_program_are_not_taken_up(
    tmp_path: Path, program: str
) -> None:
    """Of an older version or of this one changed: one line says so and how to begin anew."""
    order = small_order(2)
    CampaignStore(tmp_path / "c", msgspec.structs.replace(order, program=program))
    with pytest.raises(InputError) as caught:
        CampaignStore(tmp_path / "c", order)
    said = str(caught.value)
    assert f"flown by another text of this program: {program}, this is {__version__} " in said
    assert said.endswith("to begin anew give another folder with --out, or remove this one")


def test_a_campaign_begun_by_another_text_of_the_program_is_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """In the user's own folder the same command begins anew: one line says so, and only then."""
    monkeypatch.setenv("LEADMARK_DATA", str(tmp_path))
    call = CampaignCall(1, from_range_m=2.2, keep=0)
    order = order_of(call)
    other = msgspec.structs.replace(order, program=f"{__version__} 0123456789abcdef")
    before = CampaignStore(data_folder() / "campaigns" / other.sha256[:12], other).folder
    CampaignStore(data_folder() / "campaigns" / "third", msgspec.structs.replace(other, seed=9))
    told = f"Not taken up: what another text of this program has flown of it, in {before}"
    said: list[str] = []
    assert run_campaign(call, said.append) == 0
    assert said[1] == told
    again: list[str] = []
    assert run_campaign(call, again.append) == 0
    assert told not in again


def test_a_worker_with_another_text_of_the_program_refuses() -> None:
    """On a cluster that was not brought up to date nothing is flown."""
    order = msgspec.structs.replace(small_order(2), program=f"{__version__} 0123456789abcdef")
    with pytest.raises(InputError, match="install the same program on every worker"):
        fly_chunk(order.to_bytes(), 0)


def test_every_module_a_campaign_flies_by_is_in_its_programs_name() -> None:
    """What a worker imports of this program, but for reading files and for the names of rooms."""
    code = (
        "import sys, console.bench.campaign_work\n"
        "print(*(m for m in sys.modules if m.startswith('console.')))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    package = Path(console.__file__).parent
    named = {path for pattern in FLOWN_BY for path in package.glob(pattern)}
    missing = set()
    for module in done.stdout.split():
        path = package.joinpath(*module.split(".")[1:])
        file = path.with_suffix(".py")
        if file.exists() and file not in named:
            missing.add(module)
    assert {name for name in missing if not name.startswith(NOT_OF_THE_ENGINE)} == set()


def test_the_order_is_the_same_on_every_machine() -> None:
    """It travels as text and comes back with the same hash."""
    order = small_order(5)
    assert CampaignOrder.of_bytes(order.to_bytes()).sha256 == order.sha256
    assert [list(order.runs_of(chunk)) for chunk in range(order.chunks)] == [[0, 1], [2, 3], [4]]
    assert order.sha256 != msgspec.structs.replace(order, runs=6).sha256


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--runs", "0"], "--runs"),
        (["--chance", "1.5"], "--chance"),
        (["--spread", "absent.toml"], "absent.toml"),
        (["--scenario", "nosuch"], "nosuch"),
        (["--from", "9000"], "at most 2000"),
        (["--scheduler", "nonsense"], "--scheduler"),
    ],
)
def test_what_cannot_be_flown_is_refused_in_one_line(words, said, tmp_path, capsys) -> None:
    """Status 2, one line, no traceback."""
    with contextlib.suppress(SystemExit):
        assert main(["campaign", *words, "--out", str(tmp_path / "c")]) == 2
    error = capsys.readouterr().err
    assert said in error
    assert error.count("\n") == 1
