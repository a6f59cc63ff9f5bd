"""Every goal of speed, measured beside its baseline in the same run: a function a group of rows.

Each takes a `Size`: the whole, or a short one that only shows that everything still runs.
"""

from __future__ import annotations

import math
import statistics
import tempfile
import time
from collections.abc import Callable, Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from multiprocessing import get_context
from pathlib import Path

from tests.benchmarks import decode, latency, recording, redraw, rejudging, start, state_model
from tests.benchmarks.table import Row


@dataclass(frozen=True, slots=True)
class Size:
    """How much is measured.

    Attributes
    ----------
    messages : int
        Of the link.
    rounds : int
        Of link and state model; the median or the least counts.
    approach_m : float
        Range from which the state model is fed.
    seconds, settle_s : float
        Of each run of the window, and before it.
    rates : tuple of float
        Slowest and fastest of these runs, samples/s.
    trail_rows : int
    samples : int
        Of recordings.
    passes : int
        Judged as arrays; whole hundreds.
    jobs : int
        Passes judged in one and in two processes.
    starts : int
        Of each program.
    """

    messages: int
    rounds: int
    approach_m: float
    seconds: float
    settle_s: float
    rates: tuple[float, float]
    trail_rows: int
    samples: int
    passes: int
    jobs: int
    starts: int


STEADY_PER_S = 1000.0
WHOLE = Size(300_000, 3, 60.0, 12.0, 2.0, (10.0, 10_000.0), 4_000_000, 1_000_000, 400, 24, 7)
SHORT = Size(3_000, 1, 4.0, 0.8, 0.4, (20.0, 500.0), 5_000, 5_000, 50, 2, 1)


def link(size: Size) -> Iterator[Row]:
    """Decode and record what is received."""
    payload = decode.PAYLOADS["MessagePack"]
    alone = decode.measured(decode.bare(None), payload, size.messages, size.rounds)
    decoded = decode.measured(decode.bare(decode.decode), payload, size.messages, size.rounds)
    yield Row(
        "typed decode, thread CPU a message", f"{decoded:.2f} us", f"receive only {alone:.2f} us",
        decoded / alone, 4.0,
    )  # fmt: skip
    count = min(size.messages, decode.RECORDED)
    bare = decode.walled(decode.bare_wall, payload, count, size.rounds)
    whole = decode.walled(decode.recorded_wall, payload, count, size.rounds)
    yield Row(
        "receive, record raw and columns, decode", f"{whole:,.0f}/s",
        f"receive only {bare:,.0f}/s", whole / bare, 0.4, at_most=False,
    )  # fmt: skip


def engine(size: Size) -> Iterator[Row]:
    """Feed the state model, with and without a snapshot after each sample."""
    frames = state_model.frames_of("nominal", size.approach_m)

    def least(work: Callable[..., list[float]]) -> float:
        return min(statistics.median(work(frames)) for _ in range(size.rounds))

    alone = least(state_model.decode_times)
    for what, work, goal in (
        ("feed, median a sample, us", state_model.feed_times, 100.0),
        ("feed and snapshot, median a sample, us", state_model.both_times, 400.0),
    ):
        took = least(work)
        yield Row(what, f"{took:.0f} us", f"decode only {alone:.1f} us", took, goal)


def window(size: Size) -> Iterator[Row]:
    """From publish to painted in a window on a virtual screen, with all of a watch behind it."""
    slow, fast = size.rates
    with latency.virtual_screen() as env:

        def run(rate: float, record: str = "on") -> latency.Figures:
            seconds, settle_s = size.seconds, size.settle_s
            return latency.run("console", rate, seconds, env, record=record, settle_s=settle_s)

        calm, busy, bare = run(slow), run(fast), run(fast, "off")
        steady = run(STEADY_PER_S) if fast > STEADY_PER_S else busy
    for one in (calm, busy, steady):
        assert one.recorded == one.sent, f"{one.sent - one.recorded} samples are not recorded"
    yield Row(
        f"publish to painted, 99 %, {fast:g}/s", f"{busy.p99_ms:.0f} ms",
        f"{slow:g}/s {calm.p99_ms:.0f} ms", busy.p99_ms / calm.p99_ms, 1.3,
    )  # fmt: skip
    yield Row(
        f"the same, recording with FULL, {fast:g}/s", f"{busy.p99_ms:.0f} ms",
        f"not recording {bare.p99_ms:.0f} ms", busy.p99_ms / bare.p99_ms, 1.25,
    )  # fmt: skip
    for one, goal in ((calm, 50.0), (steady, 100.0)):
        yield Row(
            f"publish to painted, 99 %, {one.rate:g}/s, ms", f"{one.p99_ms:.0f} ms",
            f"median {one.p50_ms:.0f} ms", one.p99_ms, goal,
        )  # fmt: skip
    yield Row(
        f"CPU of one core at {steady.rate:g}/s, %", f"{steady.cpu:.0f} %",
        f"{calm.cpu:.0f} % at {slow:g}/s", steady.cpu, 60.0,
    )  # fmt: skip


def drawing(size: Size) -> Iterator[Row]:
    """Redraw of all plots with a long trail."""
    empty, full = redraw.next_frames_ms(size.trail_rows)
    yield Row(
        f"next frame, all plots, {size.trail_rows:,} points a curve", f"{full:.1f} ms",
        f"empty plots {empty:.1f} ms", full / empty, 2.0,
    )  # fmt: skip


def archive(size: Size) -> Iterator[Row]:
    """Record, and read in bulk."""
    with tempfile.TemporaryDirectory(prefix="leadmark-goals-") as name:
        folder = Path(name)
        relative, frames = recording.made(size.samples)
        full, normal = recording.writing(folder, relative, frames)
        path = folder / "whole.leadmark"
        recording.handing_in(path, relative, frames)
        each = recording.size(path, len(relative), frames)
        bulk_s, load_s = recording.bulk(path, folder, len(relative))
    yield Row(
        "commit of 1,000 samples, FULL", f"{full:,.0f}/s", f"NORMAL {normal:,.0f}/s",
        full / normal, 0.5, at_most=False,
    )  # fmt: skip
    raw = recording.RAW_BYTES
    yield Row("bytes a sample", f"{each:.0f} B", f"raw floats {raw} B", each / raw, 3.0)
    yield Row(
        f"reading {size.samples:,} samples in bulk", f"{bulk_s * 1e3:.1f} ms",
        f"np.load {load_s * 1e3:.1f} ms", bulk_s / load_s, 5.0,
    )  # fmt: skip


def judging(size: Size) -> Iterator[Row]:
    """Judge whole passes as arrays, and in processes."""
    copied, judged, streamed = rejudging.pass_times(rejudging.ten_limits(), size.passes)
    ours = f"{judged * 1e6:,.0f} us a pass"
    yield Row(
        "judging whole passes, ten limits", ours, f"np.copyto {copied * 1e6:,.0f} us",
        judged / copied, 10.0,
    )  # fmt: skip
    yield Row(
        "the same, times faster than", ours, f"single samples {streamed * 1e6:,.0f} us",
        streamed / judged, 20.0, at_most=False,
    )  # fmt: skip
    one, two = (judged_a_second(processes, size.jobs) for processes in (1, 2))
    yield Row(
        "judging in two processes", f"{two:.1f} passes/s", f"one process {one:.1f} passes/s",
        two / one, 1.7, at_most=False,
    )  # fmt: skip


def score_shipped(_: int) -> float:
    """Judge a shipped pass as ``leadmark score`` does; give its length, s."""
    from console.app.score import ScoreOrder, score_one
    from console.archive.shipped import shipped

    path = shipped("replay_data", "passes") / "retreat.leadmark"
    return float(score_one(path, ScoreOrder()).outcome["duration_s"])


def judged_a_second(processes: int, count: int) -> float:
    """Give the passes a second that so many processes judge, their start not counted."""
    with ProcessPoolExecutor(processes, mp_context=get_context("spawn")) as pool:
        assert not any(map(math.isnan, pool.map(score_shipped, range(2 * processes))))
        begin_s = time.perf_counter()
        list(pool.map(score_shipped, range(count)))
        return count / (time.perf_counter() - begin_s)


def starting(size: Size) -> Iterator[Row]:
    """From the start of a process to its first painting."""
    took = start.measured(size.starts)

    def against(what: str, name: str, base: str, called: str, goal: float) -> Row:
        ours, theirs = took[name], took[base]
        return Row(
            what, f"{ours * 1e3:.0f} ms", f"{called} {theirs * 1e3:.0f} ms", ours / theirs, goal
        )

    yield against("first painting of the shell", "shell", "qt", "Qt import", 1.5)
    yield against("first painting of watch", "watch", "pyqtgraph", "pyqtgraph import", 2.0)
    yield against("first sample shown", "sample", "pyqtgraph", "pyqtgraph import", 2.0)
    help_s = took["help"]
    yield Row(
        "leadmark --help, s", f"{help_s * 1e3:.0f} ms", f"Python {took['python'] * 1e3:.0f} ms",
        help_s, start.HELP_GOAL_S,
    )  # fmt: skip


GROUPS: dict[str, Callable[[Size], Iterator[Row]]] = {
    "link": link,
    "engine": engine,
    "window": window,
    "drawing": drawing,
    "archive": archive,
    "judging": judging,
    "starting": starting,
}
