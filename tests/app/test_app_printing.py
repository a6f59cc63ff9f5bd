"""A terminal that is not read, or goes away: the watch goes on and tells what is missing."""

from __future__ import annotations

import contextlib
import errno
import fcntl
import os
import signal
import subprocess
import sys
import threading
import time
from pathlib import Path

import msgspec
import pytest
from app_tools import HandClock, Script, environment, sample_frame

from console.app import printing as printing_module
from console.app.demo import DemoOrder, demo_headless
from console.app.input_file import load_limits
from console.app.printing import Printing
from console.app.watching import WatchOrder, watch_headless
from console.approach.event import AnyEvent, ContactMade, MarkPassed
from console.archive.recording import open_recording
from console.cli import arguments
from console.cli.arguments import say_watching
from console.core.errors import InputError
from console.envelope.setup import Setup

LEAST_PIPE_BYTES = 4096
PASS = Path("replay_data/passes/nominal_to_docked.leadmark").resolve()


class Pager:
    """A writer that takes nothing until it is read on."""

    def __init__(self) -> None:
        self.reads_on = threading.Event()
        self.asked = threading.Event()
        self.lines: list[str] = []

    def __call__(self, line: str) -> None:
        """Take a line when there is a reader."""
        self.asked.set()
        assert self.reads_on.wait(20.0)
        self.lines.append(line)


def gone(line: str) -> None:
    """Find nobody who reads."""
    raise BrokenPipeError(errno.EPIPE, "Broken pipe")


def test_lines_come_in_order_and_all() -> None:
    """Where the terminal reads, every line comes, in order, the last ones last."""
    lines: list[str] = []
    with Printing(lines.append, most=3, waits=True) as printing:
        for n in range(500):
            printing.say(str(n))
        printing.close("last", "of all")
    assert lines == [*map(str, range(500)), "last", "of all"]


def test_paused_pager_holds_nobody_and_what_is_missing_is_counted() -> None:
    """A full line-up refuses at once; the gap is told where it is, and closing loses nothing."""
    pager = Pager()
    with Printing(pager, most=4) as printing:
        printing.say("0")
        assert pager.asked.wait(5.0)  # 0 is in the writer's hands, four more may wait
        for n in range(1, 42):
            printing.say(str(n))
        pager.reads_on.set()
        while len(pager.lines) < 6:
            time.sleep(0.001)
        printing.say("after")
        printing.close("summary")
    assert pager.lines == [
        "0", "1", "2", "3", "4",
        "37 lines were not printed: the terminal was not reading", "after", "summary",
    ]  # fmt: skip


def test_half_must_be_printed_before_lines_are_taken_again() -> None:
    """A slow terminal gets few notes of long gaps, not one after each line."""
    gate = threading.Semaphore(0)
    lines: list[str] = []

    def slow(line: str) -> None:
        assert gate.acquire(timeout=20.0)
        lines.append(line)

    with Printing(slow, most=8) as printing:
        for n in range(200):
            printing.say(str(n))
            if n % 5 == 0:
                gate.release()
        gate.release(1000)
        printing.close()
    notes = [line for line in lines if "not printed" in line]
    missing = sum(int(note.split()[0]) for note in notes)
    assert missing + len(lines) - len(notes) == 200
    assert 1 <= len(notes) <= 200 // 5 // 4 + 2


def test_reader_that_went_away_ends_the_printing_alone() -> None:
    """After a broken pipe lines are taken and forgotten; only closing tells of it."""
    printing = Printing(gone)
    printing.say("0")
    printing._thread.join(5.0)
    printing.say("1")
    with pytest.raises(BrokenPipeError):
        printing.close("summary")


def test_reader_that_went_away_ends_who_only_prints() -> None:
    """A replay has nothing else to do: it ends at the next line."""
    printing = Printing(gone, waits=True)
    printing.say("0")
    printing._thread.join(5.0)
    with pytest.raises(BrokenPipeError):
        printing.say("1")


def test_full_disk_behind_the_terminal_is_tried_again(monkeypatch: pytest.MonkeyPatch) -> None:
    """A line that a file refuses comes when there is room; at the end its error is told."""
    monkeypatch.setattr(printing_module, "AGAIN_AFTER_S", 0.001)
    lines: list[str] = []
    left = [3]

    def full(line: str) -> None:
        left[0] -= 1
        if left[0] >= 0 or line == "summary":
            raise OSError(errno.ENOSPC, "No space left on device")
        lines.append(line)

    printing = Printing(full)
    printing.say("0")
    while not lines:
        time.sleep(0.001)
    with pytest.raises(OSError, match="No space left"):
        printing.close("summary")
    assert lines == ["0"]


def test_watch_goes_on_behind_a_paused_pager(tmp_path: Path) -> None:
    """Not one line was read, and yet everything is judged and recorded; then all lines come."""
    path = tmp_path / "a.leadmark"
    frames = [sample_frame(n / 10, 10.3 - 0.009 * n, n) for n in range(60)]
    clock, pager = HandClock(), Pager()
    script = Script(clock, [(frame.t_received_s, [frame]) for frame in frames])
    begin = time.monotonic()
    before: list[int] = []

    def is_over() -> bool:
        if not script.is_over.is_set() or not path.exists() or time.monotonic() < begin + 0.5:
            return False
        with open_recording(path) as recording:
            before.append(sum(1 for _ in recording.events()))
        pager.reads_on.set()
        return True

    order = WatchOrder("Live", ["a script"], load_limits(None), Setup(), record=path)
    state = watch_headless(order, clock, script, is_over, pager)  # type: ignore[arg-type]
    assert state.judged == 60
    with open_recording(path) as recording:
        events = [msgspec.json.decode(line, type=AnyEvent) for line in recording.events()]
    assert before[0] >= len(events) - 1  # its own end may bring one
    assert before[0] > 3
    assert sum(line.startswith("2031-") for line in pager.lines) == len(events)
    assert any(line.startswith("Summary") for line in pager.lines)


def test_watch_goes_on_when_the_reader_went_away(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """The first line finds nobody: that is told once, and all is recorded to the end."""
    path = tmp_path / "a.leadmark"
    frames = [sample_frame(n / 10, 10.3 - 0.009 * n, n) for n in range(60)]
    clock = HandClock()
    script = Script(clock, [(frame.t_received_s, [frame]) for frame in frames])
    order = WatchOrder("Live", ["a script"], load_limits(None), Setup(), record=path)
    monkeypatch.setattr(arguments, "say_unbuffered", gone)
    with pytest.raises(BrokenPipeError):
        watch_headless(
            order, clock, script, script.is_over.is_set, say_watching,  # type: ignore[arg-type]
        )  # fmt: skip
    told = "leadmark: nothing reads these lines any more; the watch goes on (Ctrl+C ends it)\n"
    assert capsys.readouterr().err == told
    with open_recording(path) as recording:
        assert recording.was_closed
        events = [msgspec.json.decode(line, type=AnyEvent) for line in recording.events()]
    assert any(isinstance(event, MarkPassed) for event in events)


def test_demo_goes_on_when_nobody_reads_its_first_line(tmp_path: Path) -> None:
    """It says that it goes on, and so it does: to the scenario's end, recorded."""
    path = tmp_path / "a.leadmark"
    with pytest.raises(BrokenPipeError):
        demo_headless(DemoOrder(from_range_m=0.3, speed=200.0, record=path), gone)
    with open_recording(path) as recording:
        assert recording.was_closed
        assert any(isinstance(msgspec.json.decode(line, type=AnyEvent), ContactMade)
                   for line in recording.events())  # fmt: skip


def replaying(folder: Path) -> subprocess.Popen[str]:
    """Begin to replay a pass into a pipe, as fast as it goes."""
    words = ("replay", str(PASS), "--headless", "--speed", "max")
    return subprocess.Popen(
        [sys.executable, "-m", "console", *words],
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, env=environment(folder),
    )  # fmt: skip


def test_closed_pipe_ends_a_replay_quietly(tmp_path: Path) -> None:
    """Whoever reads one line and goes ends it: status 0, nothing on standard error."""
    with replaying(tmp_path) as running:
        assert running.stdout is not None
        assert running.stderr is not None
        assert running.stdout.readline().startswith("Replaying ")
        running.stdout.close()
        assert running.wait(20.0) == 0
        assert running.stderr.read() == ""


def test_program_ends_cleanly_while_the_terminal_does_not_read(tmp_path: Path) -> None:
    """Ended while its last lines wait for a pager, it leaves nothing on standard error."""
    with replaying(tmp_path) as running:
        assert running.stdout is not None
        assert running.stderr is not None
        fcntl.fcntl(running.stdout, fcntl.F_SETPIPE_SZ, LEAST_PIPE_BYTES)
        running.stdout.readline()
        for _ in range(3):  # at the first it sums up, at the next it waits for the pager no more
            running.send_signal(signal.SIGTERM)
            with contextlib.suppress(subprocess.TimeoutExpired):
                running.wait(2.0)
                break
        assert running.returncode == 0
        assert running.stderr.read() == ""


def test_a_terminal_that_is_none_takes_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    """Started with its standard output closed, a command says nothing, as it does in a window."""
    monkeypatch.setattr(sys, "stdout", None)
    arguments.say_unbuffered("a line")


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="a device of Linux")
def test_a_full_disk_is_named_as_what_it_is(monkeypatch: pytest.MonkeyPatch) -> None:
    """The one line of the refusal says that the output did not fit, not which file of ours."""
    with Path("/dev/full").open("w", encoding="utf-8") as full:
        monkeypatch.setattr(sys, "stdout", full)
        with pytest.raises(OSError, match="No space left on device: 'standard output'"):
            arguments.say_unbuffered("a line")


def test_what_a_terminal_cannot_write_is_replaced(
    capfd: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """A terminal without the sign gets a mark for it; no watch ends for that."""
    with open(1, "w", encoding="ascii", closefd=False) as plain:
        monkeypatch.setattr(sys, "stdout", plain)
        arguments.say_unbuffered("2× 5 °")
    assert capfd.readouterr().out == "2? 5 ?\n"


class Filling:
    """An output whose disk fills up in the middle of a line, and has room again later."""

    encoding = "utf-8"

    def __init__(self) -> None:
        self.buffer = self
        self.raw = self
        self.bytes = b""
        self.calls = 0

    def write(self, data: bytes) -> int:
        """Take a part, refuse, then take all."""
        self.calls += 1
        if self.calls == 2:
            raise OSError(errno.ENOSPC, "No space left on device")
        taken = data[:4] if self.calls == 1 else data
        self.bytes += taken
        return len(taken)


def test_a_line_written_in_part_is_gone_on_with(monkeypatch: pytest.MonkeyPatch) -> None:
    """The rest alone is tried again: the line comes whole, and once."""
    monkeypatch.setattr(printing_module, "AGAIN_AFTER_S", 0.001)
    output = Filling()
    monkeypatch.setattr(sys, "stdout", output)
    with Printing(arguments.say_unbuffered) as printing:
        printing.say("5 ° caution")
        while output.calls < 3:
            time.sleep(0.001)
        printing.close("5 ° caution", "summary")
    assert output.bytes.decode() == "5 ° caution\n5 ° caution\nsummary\n"


def test_an_output_that_never_blocks_is_waited_for_to_the_end(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """As a terminal that another program set so: closing drops nothing, and tears no line."""
    reader, writer = os.pipe()
    os.set_blocking(writer, False)
    lines = [f"{n:06d} " + "x" * 60 for n in range(2000)]
    came: list[str] = []

    def read() -> None:
        with os.fdopen(reader, encoding="utf-8") as pipe:
            time.sleep(0.1)  # the pipe is full long before
            came.extend(pipe.read().splitlines())

    reading = threading.Thread(target=read)
    with os.fdopen(writer, "w", encoding="utf-8") as pipe:
        monkeypatch.setattr(sys, "stdout", pipe)
        with Printing(arguments.say_unbuffered, waits=True) as printing:
            for line in lines:
                printing.say(line)
            reading.start()
            printing.close("last")
    reading.join()
    assert came == [*lines, "last"]


def test_printing_that_cannot_begin_says_so_in_a_line(monkeypatch: pytest.MonkeyPatch) -> None:
    """The system gives no more threads."""

    def refuse(thread: threading.Thread) -> None:
        raise RuntimeError("can't start new thread")

    monkeypatch.setattr(threading.Thread, "start", refuse)
    with pytest.raises(
        InputError, match="the printing: cannot begin: can't start new thread: end"
    ):
        Printing(gone)
