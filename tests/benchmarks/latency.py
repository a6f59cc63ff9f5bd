"""From publish to painted: the whole of ``leadmark watch`` in a real window on a virtual screen.

``python -m tests.benchmarks.latency`` prints, at 10 to 10,000 samples a second, the median and the
99th percentile of the time from a sample's publishing to the end of the painting that shows it,
the processor time of the console in percent of one core, frames a second, and what was lost; then
the same of a bare subscriber that only keeps the newest sample and of one bare pyqtgraph plot.
``--sustained MINUTES`` holds one rate (``--rate``) so long; ``--burst`` sends 20,000 samples in
one second after that. Publisher and console are processes of their own; the console is the whole
composition: link, engine, recording with FULL, window of 1600 by 900.

A sample's time ends with the first painting that shows it or a newer one.
"""

from __future__ import annotations

import argparse
import json
import os
import shutil
import signal
import sqlite3
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import msgspec
import numpy as np
from numpy.typing import NDArray

RATES = (10.0, 100.0, 1000.0, 5000.0, 10000.0)
SETTLE_S = 2.0
BURST = 20_000
BURST_APART_S = 0.01
"""The parent hears so late at most that the steady part has ended."""
CLOSE_WITHIN_S = 300.0
Array = NDArray[np.float64]
TICKS_A_S = os.sysconf("SC_CLK_TCK")


class Numbered(msgspec.Struct):
    """All that is looked up of a recorded sample."""

    seq: int


@dataclass(frozen=True, slots=True)
class Figures:
    """What one run showed.

    Attributes
    ----------
    rate : float
        Samples a second that were sent.
    p50_ms, p99_ms : float
        From publish to painted.
    cpu : float
        Processor time of the process, in percent of one core.
    frames_per_s : float
        Paintings that showed something newer.
    sent, recorded : int
        Samples; those in the recording up to its first gap, -1 where nothing records.
    burst_ms : float
        The longest from publish to painted in the burst behind it, 0 where there was none.
    facts : dict
        What the console says of itself.
    """

    rate: float
    p50_ms: float
    p99_ms: float
    cpu: float
    frames_per_s: float
    sent: int
    recorded: int = -1
    burst_ms: float = 0.0
    facts: dict[str, Any] = field(default_factory=dict)


@contextmanager
def virtual_screen() -> Iterator[dict[str, str]]:
    """Start Xvfb; give the environment of programs that shall be seen on it.

    Raises
    ------
    FileNotFoundError
        There is no Xvfb on this machine.
    """
    read, write = os.pipe()
    command = [
        "Xvfb",
        "-displayfd",
        str(write),
        "-screen",
        "0",
        "1920x1080x24",
        "-nolisten",
        "tcp",
    ]
    server = subprocess.Popen(
        command, pass_fds=[write], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
    )
    os.close(write)
    try:
        with os.fdopen(read) as number:
            display = f":{number.readline().strip()}"
        yield os.environ | {"DISPLAY": display, "QT_QPA_PLATFORM": "xcb"}
    finally:
        server.terminate()
        server.wait()


def run(
    role: str,
    rate: float,
    seconds: float,
    env: dict[str, str],
    *,
    burst: int = 0,
    record: str = "on",
    settle_s: float = SETTLE_S,
) -> Figures:
    """Publish for some seconds to one of the ends and compare stamps."""
    folder = Path(tempfile.mkdtemp(prefix="leadmark-latency-"))
    sent_file, shown_file = folder / "sent", folder / "shown"
    env = env | {"LEADMARK_DATA": str(folder)}
    publisher = end("publish", str(rate), str(seconds), str(burst), str(sent_file), env=env)
    taker = None
    try:
        endpoint = line_of(publisher)
        more = [record] if role == "console" else []
        taker = end(role, endpoint, str(shown_file), *more, env=env)
        line_of(taker, "ready")
        time.sleep(settle_s)
        say(publisher)
        line_of(publisher, "begun")
        time.sleep(min(settle_s, seconds / 4.0))
        from_s, cpu = time.time(), cpu_s(taker.pid)
        line_of(publisher, "steady")
        to_s, cpu = time.time(), cpu_s(taker.pid) - cpu
        line_of(publisher, "done")
        time.sleep(settle_s / 2.0)
        taker.send_signal(signal.SIGTERM)
        taker.wait(CLOSE_WITHIN_S)
        say(publisher)
        publisher.wait(10.0)
        return compared(rate, sent_file, shown_file, (from_s, to_s), cpu)
    finally:
        for process in (publisher, taker):
            if process is not None and process.poll() is None:
                process.kill()
                process.wait()
        shutil.rmtree(folder)


def compared(
    rate: float, sent_file: Path, shown_file: Path, span_s: tuple[float, float], cpu: float
) -> Figures:
    """Look up for each sample sent which painting showed it first."""
    sent = np.fromfile(sent_file)
    shown, done = np.fromfile(shown_file).reshape(2, -1)
    from_s, to_s = span_s

    def took_ms(since_s: float, until_s: float) -> Array:
        asked = sent[(sent >= since_s) & (sent < min(until_s, shown[-1]))]
        return (done[np.searchsorted(shown, asked)] - asked) * 1e3

    frames = int(np.count_nonzero((done >= from_s) & (done < to_s)))
    steady_ms = took_ms(from_s, to_s)
    if not len(steady_ms):
        raise RuntimeError(
            f"nothing of {len(sent)} samples was shown within {to_s - from_s:.1f} s"
        )
    p50, p99 = np.percentile(steady_ms, [50.0, 99.0])
    burst_ms = took_ms(to_s + BURST_APART_S, np.inf)
    facts = json.loads(shown_file.with_suffix(".json").read_text(encoding="utf-8"))
    span = to_s - from_s
    return Figures(
        rate, float(p50), float(p99), cpu / span * 100.0, frames / span, len(sent),
        rows_in(shown_file.with_suffix(".leadmark")), float(max(burst_ms, default=0.0)), facts,
    )  # fmt: skip


def rows_in(recording: Path) -> int:
    """Count the recorded samples that follow one another without a gap; -1: nothing recorded."""
    if not recording.exists():
        return -1
    number_of = msgspec.msgpack.Decoder(Numbered).decode
    with closing(sqlite3.connect(recording)) as connection:
        query = "SELECT payload FROM frames WHERE topic = 'rel/optical' ORDER BY id"
        count = 0
        for (payload,) in connection.execute(query):
            count += number_of(payload).seq == count
    return count


def end(role: str, *given: str, env: dict[str, str]) -> subprocess.Popen[str]:
    """Start one of the ends."""
    command = [sys.executable, "-m", "tests.benchmarks.latency_ends", role, *given]
    pipe = subprocess.PIPE
    return subprocess.Popen(command, stdin=pipe, stdout=pipe, text=True, env=env)


def line_of(process: subprocess.Popen[str], wanted: str = "") -> str:
    """Read its next line, or the one that is wanted."""
    assert process.stdout is not None
    for line in process.stdout:
        if wanted in line:
            return line.strip()
    raise RuntimeError(f"{process.args}: ended before it said {wanted or 'anything'}")


def say(process: subprocess.Popen[str]) -> None:
    """Let a publisher go on."""
    assert process.stdin is not None
    process.stdin.write("\n")
    process.stdin.flush()


def cpu_s(pid: int) -> float:
    """Give the processor time a process has used, all its threads, s."""
    words = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
    return (int(words[11]) + int(words[12])) / TICKS_A_S


HEAD = (
    f"{'':<24}{'rate':>7}{'p50 ms':>9}{'p99 ms':>9}{'CPU %':>8}{'frames/s':>10}"
    f"{'sent':>9}{'recorded':>10}  said by the console"
)


def row(name: str, one: Figures) -> str:
    """Give a line of the table."""
    recorded = "" if one.recorded < 0 else str(one.recorded)
    facts = one.facts
    said = "" if not facts else (
        f"lost {facts['lost']}, dropped {facts['overflowed']}, most behind "
        f"{facts['most_behind_s']:.2f} s" + (f", {facts['failure']}" if facts["failure"] else "")
        + (f"; in the burst at most {one.burst_ms:.0f} ms to the screen" if one.burst_ms else "")
    )  # fmt: skip
    return (
        f"{name:<24}{one.rate:>7.0f}{one.p50_ms:>9.1f}{one.p99_ms:>9.1f}{one.cpu:>8.1f}"
        f"{one.frames_per_s:>10.1f}{one.sent:>9}{recorded:>10}  {said}"
    )


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seconds", type=float, default=15.0)
    parser.add_argument("--rates", type=float, nargs="*", default=RATES)
    parser.add_argument("--only", choices=("console", "receive", "plot"), nargs="*")
    parser.add_argument("--sustained", type=float, metavar="MINUTES", default=0.0)
    parser.add_argument("--rate", type=float, default=1000.0)
    parser.add_argument("--burst", action="store_true")
    options = parser.parse_args()
    print(HEAD)
    burst = BURST if options.burst else 0
    with virtual_screen() as env:
        if options.sustained:
            seconds = 60.0 * options.sustained
            one = run("console", options.rate, seconds, env, burst=burst)
            print(row("console, sustained", one), flush=True)
            return
        for role in options.only or ("receive", "plot", "console"):
            for rate in options.rates:
                print(row(role, run(role, rate, options.seconds, env, burst=burst)), flush=True)
        if not options.only:
            one = run("console", max(options.rates), options.seconds, env, record="off")
            print(row("console, not recording", one), flush=True)


if __name__ == "__main__":
    main()
