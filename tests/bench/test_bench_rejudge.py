"""The bench judges exactly as the console does, and only what changed."""

from __future__ import annotations

import os
from pathlib import Path

import numpy as np
import pytest
from random_passes import make_case
from rejudge_cases import as_tuples, compared, streamed
from test_bench_naive import write_rows

from console.archive.ready_columns import keep_ready, prune_ready, read_ready, ready_folder
from console.bench.pass_set import PassSet, load_passes
from console.bench.ready_pass import ReadyOrder, make_ready
from console.bench.rejudge import Rejudge
from console.core.errors import InputError, UsageError
from console.envelope.limits import Curve, LimitsFile
from console.envelope.reading import parse_limits
from console.envelope.setup import Setup
from tests.fakes.changed import replace

CASES = int(os.environ.get("LEADMARK_RANDOM_PASSES", "60"))
"""How many random passes are compared; tests/benchmarks/judging_equality.py does 2,000."""


@pytest.fixture(autouse=True)
def own_data(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Keep what is cached within the test."""
    monkeypatch.setenv("LEADMARK_DATA", str(tmp_path / "data"))


def limits_with(seed: int, least: int = 1) -> LimitsFile:
    """Give random limits, at least so many."""
    while True:
        text = make_case(seed).limits_text
        if text.count("[[limit]]") >= least:
            return parse_limits(text.encode(), "random.toml")
        seed += 1000


def files(folder: Path, seeds: range) -> list[Path]:
    """Write random tables."""
    return [write_rows(make_case(seed).rows, folder / f"pass-{seed}.csv") for seed in seeds]


def test_random_passes_judged_as_arrays_give_the_console_s_own_records(tmp_path: Path) -> None:
    """Tables and recordings, either basis, any source: every field of every record is equal."""
    assert sum(compared(seed, tmp_path) for seed in range(CASES)) > CASES


def test_many_passes_under_one_limits_file_are_each_judged_as_alone(tmp_path: Path) -> None:
    """A set judged at once gives for each pass what the engine gives."""
    limits = limits_with(5)
    paths = files(tmp_path, range(200, 212))
    judged = Rejudge(load_passes(paths, ReadyOrder(limits, Setup()))).judge(limits)
    for number, path in enumerate(paths):
        assert as_tuples(streamed(path, limits, None)) == as_tuples(judged.of(number)), path.name


def test_what_is_kept_is_what_was_made(tmp_path: Path) -> None:
    """The second loading takes the kept arrays: equal to the bit, and no engine runs."""
    limits = limits_with(9)
    (path,) = files(tmp_path, range(300, 301))
    first = make_ready(path, ReadyOrder(limits, Setup()))
    assert len(list(ready_folder().iterdir())) == 1
    again = make_ready(path, ReadyOrder(limits, Setup()))
    bare = make_ready(path, ReadyOrder(limits, Setup()), cached=False)
    for one in (first, again):
        assert np.array_equal(one.columns.t, bare.columns.t)
        for quantity, values in bare.columns.estimated.items():
            assert np.array_equal(one.columns.estimated[quantity], values, equal_nan=True)
        for quantity, values in bare.columns.measured.items():
            assert np.array_equal(one.columns.measured[quantity], values, equal_nan=True)
        assert (one.source, one.contact_t) == (bare.source, bare.contact_t)
        assert one.data_alarms == bare.data_alarms


@pytest.mark.parametrize("change", ["pass", "data rules", "source", "setup"])
def test_another_pass_rule_source_or_setup_is_made_anew(tmp_path: Path, change: str) -> None:
    """Nothing is taken from the store that does not follow from the very same inputs."""
    limits = limits_with(9)
    (path,) = files(tmp_path, range(301, 302))
    make_ready(path, ReadyOrder(limits, Setup()))
    order = ReadyOrder(limits, Setup())
    if change == "pass":
        path.write_text(path.read_text() + "\n")
    elif change == "data rules":
        order = replace(order, limits=replace(limits, data=replace(limits.data, stale_after_s=9)))
    elif change == "source":
        order = replace(order, source="optical")
    else:
        order = replace(order, setup=Setup(holds_m=(20.0,)))
    make_ready(path, order)
    assert len(list(ready_folder().iterdir())) == 2


def test_other_limits_need_no_other_run(tmp_path: Path) -> None:
    """The engine's run does not depend on the limits that are judged afterwards."""
    limits = limits_with(9)
    (path,) = files(tmp_path, range(302, 303))
    make_ready(path, ReadyOrder(limits, Setup()))
    make_ready(path, ReadyOrder(replace(limits, limits=(), title="other"), Setup()))
    assert len(list(ready_folder().iterdir())) == 1


def test_a_damaged_file_of_the_store_is_as_good_as_none() -> None:
    """Cut short, of another form, or not there: the pass is made anew."""
    table = np.arange(12.0).reshape(3, 4)
    assert keep_ready("k", {"a": 1}, table)
    found = read_ready("k")
    assert found is not None
    assert (found[0], found[1].tolist()) == ({"a": 1}, table.tolist())
    path = ready_folder() / "k.columns"
    whole = path.read_bytes()
    for bad in (whole[:-8], whole[:30], b"", b"leadmark columns 2\n" + whole[19:]):
        path.write_bytes(bad)
        assert read_ready("k") is None
    path.unlink()
    assert read_ready("k") is None


def test_the_store_keeps_within_bounds() -> None:
    """The file not used for longest goes first; one in use stays."""
    for number, key in enumerate("abc"):
        keep_ready(key, {}, np.zeros((1, 100)))
        os.utime(ready_folder() / f"{key}.columns", (number, number))
    size = (ready_folder() / "a.columns").stat().st_size
    assert prune_ready(in_use=["a"], most_bytes=2 * size) == 1
    assert sorted(p.stem for p in ready_folder().iterdir()) == ["a", "c"]


def test_a_broken_pass_is_told_and_the_rest_goes_on(tmp_path: Path) -> None:
    """The refusal names the file; progress counts it too."""
    limits = limits_with(9)
    good = files(tmp_path, range(303, 305))
    bad = tmp_path / "bad.csv"
    bad.write_text("no,such,columns\n1,2,3\n")
    told: list[tuple[int, int]] = []
    found = load_passes(
        [good[0], bad, good[1]], ReadyOrder(limits, Setup()),
        on_progress=lambda done, of, name: told.append((done, of)),
    )  # fmt: skip
    assert [one.name for one in found.passes] == [path.name for path in good]
    (refused,) = found.refused
    assert "bad.csv" in refused.reason
    assert told == [(1, 3), (2, 3), (3, 3)]


def test_worker_processes_make_what_one_process_makes(tmp_path: Path) -> None:
    """Order and content are the same; a folder stands for the passes in it."""
    limits = limits_with(9)
    files(tmp_path, range(306, 309))
    (tmp_path / "notes.txt").write_text("not a pass")
    order = ReadyOrder(limits, Setup())
    two = load_passes([tmp_path], order, jobs=2)
    one = load_passes([tmp_path], order)
    assert [p.name for p in two.passes] == [p.name for p in one.passes]
    assert len(two.passes) == 3
    assert np.array_equal(two.stack.t, one.stack.t)


def test_an_empty_folder_is_refused(tmp_path: Path) -> None:
    """Nothing to judge is a fault of the call, told at once."""
    with pytest.raises(InputError, match="no pass in it"):
        load_passes([tmp_path], ReadyOrder(limits_with(9), Setup()))


def test_stopping_leaves_the_rest_out(tmp_path: Path) -> None:
    """What is done by then is kept."""
    paths = files(tmp_path, range(310, 313))
    done: list[int] = []
    found = load_passes(
        paths, ReadyOrder(limits_with(9), Setup()),
        on_progress=lambda n, of, name: done.append(n), is_stopped=lambda: len(done) >= 1,
    )  # fmt: skip
    assert len(found) == 1


def test_only_what_changed_is_judged(tmp_path: Path) -> None:
    """One curve moved is one limit judged; moved back, none is."""
    limits = limits_with(5, least=3)
    rejudge = Rejudge(load_passes(files(tmp_path, range(320, 323)), ReadyOrder(limits, Setup())))
    before = rejudge.judge(limits)
    distinct = len(set(limits.limits))
    assert rejudge.judged == distinct
    moved = replace(limits.limits[1], curve=Curve((0.0, 200.0), (0.123, 0.456)))
    draft = replace(limits, limits=(limits.limits[0], moved, *limits.limits[2:]))
    after = rejudge.judge(draft)
    assert rejudge.judged == distinct + 1
    assert after.runs[0] is before.runs[0]
    rejudge.judge(limits)
    assert rejudge.judged == distinct + 1


def test_what_is_remembered_is_bounded(tmp_path: Path) -> None:
    """A long dragging does not fill the memory; the limits used last stay known."""
    limits = limits_with(9)
    ready = load_passes(files(tmp_path, range(324, 325)), ReadyOrder(limits, Setup()))
    rejudge, one = Rejudge(ready, kept=3), limits.limits[0]
    for number in range(5):
        rejudge.run(replace(one, deadband=float(number)))
    rejudge.run(replace(one, deadband=2.0))
    assert rejudge.judged == 5
    rejudge.run(replace(one, deadband=0.0))
    assert rejudge.judged == 6


def test_other_rules_ask_for_loading_anew() -> None:
    """Columns made under other data rules would be judged wrongly: that is refused."""
    limits = limits_with(9)
    rejudge = Rejudge(PassSet.of([], limits))
    other = replace(limits, data=replace(limits.data, stale_after_s=9.0))
    with pytest.raises(UsageError, match="load them again"):
        rejudge.judge(other)
