"""Holds one run of a target to a second of the processor and a bounded growth of memory.

Processor time, not time by the clock: a run on a busy or paused machine is not the input's fault.
The signal is seen between two bytecodes and inside a long match of a regular expression; what
never comes back from other compiled code is left to the caller's own time limit.
"""

from __future__ import annotations

import os
import resource
import signal
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from types import FrameType
from typing import NamedTuple

PROCESSOR_S = 1.0
GROWTH_MB = 100.0


STATUS = Path("/proc/self/status")
HELD = "/proc/self/statm"
SET_BACK = "/proc/self/clear_refs"
PAGE_KB = resource.getpagesize() // 1024


class TooLongError(Exception):
    """A run took more than its share of the processor."""


class TooMuchError(Exception):
    """A run made the process grow by more than its share of memory."""


def set_peak_back() -> None:
    """Let the peak of this process begin again at what it holds now, where that can be had."""
    with suppress(OSError):
        descriptor = os.open(SET_BACK, os.O_WRONLY)
        try:
            os.write(descriptor, b"5")
        finally:
            os.close(descriptor)


def held_kb() -> int:
    """Resident memory now, kB; its peak where the system does not say."""
    try:
        descriptor = os.open(HELD, os.O_RDONLY)
    except OSError:
        return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    try:
        return int(os.read(descriptor, 64).split()[1]) * PAGE_KB
    finally:
        os.close(descriptor)


def peak_kb() -> int:
    """Peak of the resident memory, kB: since it was set back on Linux, else of the process."""
    with suppress(OSError):
        for line in STATUS.read_text(errors="replace").splitlines():
            if line.startswith("VmHWM:"):
                return int(line.split()[1])
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss


@contextmanager
def bounded(processor_s: float = PROCESSOR_S, growth_mb: float = GROWTH_MB) -> Iterator[None]:
    """Raise where what runs inside takes too much time of the processor, or memory."""

    def too_long(number: int, frame: FrameType | None) -> None:
        raise TooLongError(f"more than {processor_s:g} s of the processor")

    set_peak_back()
    before_kb = held_kb()
    former = signal.signal(signal.SIGPROF, too_long)
    signal.setitimer(signal.ITIMER_PROF, processor_s)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0.0)
        signal.signal(signal.SIGPROF, former)
    if resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before_kb <= growth_mb * 1024.0:
        return  # never below the peak since it was set back, and ten times as quick to ask
    grown_mb = (peak_kb() - before_kb) / 1024.0
    if grown_mb > growth_mb:
        raise TooMuchError(f"{grown_mb:.0f} MB more, at most {growth_mb:g}")


class Fault(NamedTuple):
    """Where and how a property broke; two inputs with the same fault are one finding."""

    kind: str
    place: str
    words: str


def fault_of(error: BaseException) -> Fault:
    """Name an error by its kind and the innermost line of the program it passed."""
    place, trace = "", error.__traceback__
    while trace is not None:
        file = Path(trace.tb_frame.f_code.co_filename)
        if "console" in file.parts:
            place = f"{file.stem}:{trace.tb_lineno}"
        trace = trace.tb_next
    return Fault(type(error).__name__, place, " ".join(str(error).split())[:300])


def finding(
    run: Callable[[bytes], str], data: bytes, processor_s: float = PROCESSOR_S
) -> tuple[str, Fault | None]:
    """Run a target on an input; give the kind of outcome, and the fault where there is one."""
    try:
        with bounded(processor_s):
            return run(data), None
    except Exception as error:
        return "broken", fault_of(error)
