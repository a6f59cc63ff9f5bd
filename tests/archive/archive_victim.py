"""Run by a test in a process of its own, which kills it: records, shows, and tells what it showed.

Each line on standard output is the number of a frame and the monotonic time at which it was
"shown", that is after it was handed to the recorder and to the state model (here the toy one).
"""

from __future__ import annotations

import random
import sys
import threading
import time
from collections import deque
from pathlib import Path

from archive_tools import META, T0, frame_of, sample, toy_events

from console.approach.action import Note
from console.archive.recording import ActionTaken, FrameTaken, Input, Recorder

RATE_HZ = 500.0


class Feed:
    """Hands one input at a time to the toy state model."""

    def __init__(self) -> None:
        self._inputs: deque[Input] = deque()
        self._events = toy_events(self._endless())
        self._count = 0

    def _endless(self) -> object:
        while True:
            yield self._inputs.popleft()

    def take(self, one: Input) -> bytes | None:
        """Feed an input; give the event it made, if it made one."""
        self._inputs.append(one)
        self._count += 1
        # The generator runs dry inside ten inputs, so it is asked when it has ten.
        return next(self._events) if self._count % 10 == 0 else None


def main(path: Path, seed: int) -> None:
    """Record until killed."""
    rng = random.Random(seed)
    feed = Feed()
    recorder = Recorder(path, META)
    begin_s = time.monotonic()
    index = 0
    while True:
        record = sample(index, rng)
        frame = frame_of(record)
        number = recorder.frame(frame)
        recorder.sample(record, number)
        event = feed.take(FrameTaken(number, frame))
        if event:
            recorder.event(event, number)
        if index % 37 == 0:
            note = Note(initials="AB", text=f"note {index}")
            recorder.action(T0 + index, note, number)
            event = feed.take(ActionTaken(number, T0 + index, note))
            if event:
                recorder.event(event, number)
        sys.stdout.write(f"{number} {time.monotonic()!r}\n")
        sys.stdout.flush()
        index += 1
        wait_s = begin_s + index / RATE_HZ - time.monotonic()
        if wait_s > 0.0:
            threading.Event().wait(wait_s)


if __name__ == "__main__":
    main(Path(sys.argv[1]), int(sys.argv[2]))
