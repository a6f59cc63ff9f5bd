"""Work for the Debrief view in a process of its own, so that a live watch never waits for it."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from multiprocessing import get_context
from multiprocessing.connection import Connection
from pathlib import Path
from typing import Protocol, TypeAlias

from console.app.report import write_report
from console.app.score import ScoreOrder, score_one
from console.core.errors import InputError
from console.debrief import figures
from console.debrief.chapter import chapter
from console.debrief.page import Chapter, Picture
from console.debrief.port import PictureKey
from console.debrief.review import Debrief
from console.present.theme import Theme

DOTS_PER_INCH = 150.0
CLOSE_WITHIN_S = 5.0


@dataclass(frozen=True, slots=True)
class Gathered:
    """A debrief is there; its pictures follow."""

    debrief: Debrief
    chapter: Chapter


@dataclass(frozen=True, slots=True)
class Drawn:
    """A picture is there."""

    key: PictureKey
    png: bytes


@dataclass(frozen=True, slots=True)
class Wrote:
    """A report is written."""

    path: Path


@dataclass(frozen=True, slots=True)
class Refused:
    """It could not be done, with the reason and the mend."""

    words: str


Told: TypeAlias = Gathered | Drawn | Wrote | Refused
Work: TypeAlias = Callable[[], Iterator[Told]]


@dataclass(frozen=True, slots=True)
class Gather:
    """Gather a pass, then draw its figures in the themes, the first one first."""

    path: Path
    themes: tuple[Theme, ...]

    def __call__(self) -> Iterator[Told]:
        """Do it, telling each thing as it is done."""
        result = score_one(self.path, ScoreOrder(wants_report=True))
        if result.debrief is None:
            yield Refused(result.refusal)
            return
        debrief = result.debrief
        told = chapter(debrief)
        yield Gathered(debrief, told)
        shown = [
            block.figure
            for section in told.sections
            for block in section.blocks
            if isinstance(block, Picture)
        ]
        for theme in self.themes:
            for figure in shown:
                png = figures.png(figure, debrief, theme, DOTS_PER_INCH)
                yield Drawn((figure, theme.name), png)


@dataclass(frozen=True, slots=True)
class Write:
    """Write the report of a debrief."""

    debrief: Debrief
    path: Path

    def __call__(self) -> Iterator[Told]:
        """Do it."""
        try:
            self.path.parent.mkdir(parents=True, exist_ok=True)
            write_report([self.debrief], self.path, time.time())
        except InputError as error:
            yield Refused(str(error))
        except OSError as error:
            yield Refused(f"{self.path}: {error.strerror or error}: choose another folder")
        else:
            yield Wrote(self.path)


class Job(Protocol):
    """Work under way."""

    def take(self) -> list[Told]:
        """Give what was told since the last call; never waits."""
        ...

    @property
    def is_over(self) -> bool:
        """Whether nothing more will be told."""
        ...

    def stop(self) -> None:
        """Leave the work."""
        ...


Start: TypeAlias = Callable[[Work], Job]


class ProcessJob:
    """Work in a process of its own; spawned, so that it shares no lock with this one."""

    def __init__(self, work: Work) -> None:
        context = get_context("spawn")
        self._heard, told = context.Pipe(duplex=False)
        self._process = context.Process(target=_run, args=(work, told), daemon=True)
        self._process.start()
        told.close()
        self._is_over = False

    def take(self) -> list[Told]:
        """Give what was told since the last call."""
        told: list[Told] = []
        try:
            while not self._is_over and self._heard.poll():
                told.append(self._heard.recv())
        except (EOFError, OSError):
            self._is_over = True
            self._process.join(CLOSE_WITHIN_S)
            if self._process.exitcode:
                told.append(Refused("the work on it ended by itself: open the pass again"))
        return told

    @property
    def is_over(self) -> bool:
        """Whether nothing more will be told."""
        return self._is_over

    def stop(self) -> None:
        """End the process."""
        self._is_over = True
        self._process.terminate()
        self._process.join(CLOSE_WITHIN_S)
        self._heard.close()
        if self._process.exitcode is not None:
            self._process.close()


def _run(work: Work, told: Connection) -> None:
    for one in work():
        told.send(one)
    told.close()
