"""A watch as ``leadmark watch --headless`` puts it together, over a real socket, under trouble."""

from __future__ import annotations

import json
import os
import re
import sqlite3
import subprocess
import sys
import time
from collections.abc import Callable
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from types import TracebackType
from typing import Self

import console
from console.app.clock import SystemClock
from console.app.headless import StatusLines
from console.app.input_file import load_limits
from console.app.watching import WatchOrder, assemble, subscribe
from console.archive.places import SUFFIX
from console.archive.recording import open_recording
from console.envelope.setup import Setup
from console.present.port import Watched
from console.present.status_line import status_line
from console.present.tone import Tone

TOP = Path(console.__file__).parents[1]
LOOK_S = 0.02
LIMIT_S = 15.0


@dataclass(frozen=True)
class Row:
    """What became of one fault: a line of the table."""

    fault: str
    survived: bool
    counted: str
    shown: str
    lost: str

    @property
    def is_good(self) -> bool:
        """Whether the watch went on, the screen told, and nothing is lost without a word."""
        return self.survived and "NOTHING" not in self.shown and "NOTED" not in self.lost

    def cells(self) -> tuple[str, ...]:
        """Give the line's cells."""
        return (self.fault, "yes" if self.survived else "NO", self.counted, self.shown, self.lost)


class SenderProcess:
    """The misbehaving publisher in a process of its own."""

    def __init__(self, endpoint: str = "tcp://127.0.0.1:*", keys: Path | None = None) -> None:
        words = [sys.executable, "-m", "tests.benchmarks.trouble_sender", endpoint]
        self.process = subprocess.Popen(
            [*words, *([] if keys is None else [str(keys)])],
            stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, cwd=TOP,
            env={**os.environ, "PYTHONPATH": str(TOP)},
        )  # fmt: skip
        self.endpoint = str(self._answer()["endpoint"])
        self.refused = 0

    def do(self, deed: str, **how: object) -> int:
        """Have something done, wait until it is; give how many messages it took."""
        self.begin(deed, **how)
        return self.end()

    def begin(self, deed: str, **how: object) -> None:
        """Have something done, without waiting."""
        assert self.process.stdin is not None
        self.process.stdin.write(json.dumps({"do": deed, **how}) + "\n")
        self.process.stdin.flush()

    def end(self) -> int:
        """Wait for what was begun."""
        answer = self._answer()
        self.refused = int(str(answer["refused"]))
        return int(str(answer["took"]))

    def _answer(self) -> dict[str, object]:
        assert self.process.stdout is not None
        line = self.process.stdout.readline()
        assert line, "the sender has ended"
        answer: dict[str, object] = json.loads(line)
        return answer

    def close(self) -> None:
        """End it."""
        if self.process.poll() is None:
            assert self.process.stdin is not None
            self.process.stdin.close()
            self.process.wait(LIMIT_S)
        assert self.process.stdout is not None
        self.process.stdout.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """End."""
        self.close()


class Rig:
    """One running watch that records into a folder, and all that its screen has said.

    Attributes
    ----------
    said : dict of str to str
        Newest words of each note of the status line that was abnormal at any time, by the words
        without their numbers; in the order first said.
    lines : list of str
        What the text form wrote.
    """

    def __init__(self, folder: Path, endpoint: str, keys: Path | None = None) -> None:
        self.folder = folder
        self.said: dict[str, str] = {}
        self.lines: list[str] = []
        self._status_lines = StatusLines(self.lines.append)
        clock = SystemClock()
        source = subscribe([endpoint], clock, keys=keys, insecure=False)
        order = WatchOrder(
            mode="Live", endpoints=[endpoint], limits=load_limits(None), setup=Setup(),
            record=folder / f"watch{SUFFIX}",
        )  # fmt: skip
        made = assemble(order, source, clock)
        self.watch, self.state, self.recorder = made.watch, made.state, made.recorder
        self.watch.start()

    def look(self) -> str:
        """Look at the status line; keep what is abnormal, give all of it."""
        watched = Watched(self.watch.snapshot(), self.watch.status(), self.watch.limits)
        view = status_line(watched)
        for note in view.left:
            abnormal = note.tone in (Tone.CAUTION, Tone.WARNING)
            if abnormal or note.text.startswith(("link was", "a source began")):
                self.said[re.sub(r"[\d.:]+", "", note.text)] = note.text
        now_s = time.monotonic()
        self._status_lines.look(watched.status, self.recorder.path, now_s, watched.snapshot)
        return " · ".join(note.text for note in view.left)

    def until(self, is_true: Callable[[], bool], limit_s: float = LIMIT_S) -> bool:
        """Look until something is true; tell whether it came so."""
        end_s = time.monotonic() + limit_s
        while time.monotonic() < end_s:
            self.look()
            if is_true():
                return True
            time.sleep(LOOK_S)
        return False

    def until_said(self, words: str, limit_s: float = LIMIT_S) -> bool:
        """Look until the status line holds words."""
        return self.until(lambda: words in self.look(), limit_s)

    def rest(self, seconds: float) -> None:
        """Look on for a while."""
        self.until(lambda: False, seconds)

    def goes_on(self, limit_s: float = LIMIT_S) -> bool:
        """Tell whether the watch still takes samples, and judges those of the source in use."""
        received = self.state.sequence.total().received
        return self.until(
            lambda: self.state.sequence.total().received >= received + 10, limit_s
        ) and (self.watch.failure is None)

    def judges(self, limit_s: float = LIMIT_S) -> bool:
        """Tell whether samples are judged."""
        judged = self.state.judged
        return self.until(lambda: self.state.judged >= judged + 3, limit_s)

    @property
    def received(self) -> int:
        """Messages received so far."""
        return self.recorder._backlog.number

    def shown(self, *words: str) -> str:
        """Give what the screen said that holds one of the words, in its own words."""
        found = [text for text in self.said.values() if any(word in text for word in words)]
        return "; ".join(found) or "NOTHING"

    def close(self) -> None:
        """End the watch as the command does."""
        self.watch.stop()
        self.look()

    def lost(self, damaged: Path | None = None, taken_out: Path | None = None) -> str:
        """Close; give how many of the messages received are in no recording, and check each."""
        self.close()
        kept, noted = set(), 0
        there = sorted(self.folder.glob(f"*{SUFFIX}"))
        for path in there if taken_out is None else [*there, taken_out]:
            if path == damaged:
                continue
            with closing(sqlite3.connect(path)) as connection:
                assert connection.execute("PRAGMA integrity_check").fetchone() == ("ok",), path
            with open_recording(path) as recording:
                kept |= {number for number, _ in recording.frames()}
                elsewhere = "" if damaged is None else f"in {damaged.name}"
                noted += sum(
                    gap.frames
                    for gap in recording.gaps()
                    if not gap.reason.startswith("in ") or gap.reason == elsewhere
                )
        lost = self.received - len(kept)
        told = "" if noted == lost else f", {noted} NOTED IN THE FILE"
        return f"{lost:,} of {self.received:,}{told}"

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """End."""
        self.close()


def memory_mb() -> float:
    """Give what this process holds in memory, MB (Linux)."""
    pages = int(Path("/proc/self/statm").read_text().split()[1])
    return pages * os.sysconf("SC_PAGE_SIZE") / 1e6
