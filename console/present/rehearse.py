"""What the Rehearse view asks of the application: exercises, a run, its score, earlier runs."""

from __future__ import annotations

from concurrent.futures import Future
from dataclasses import dataclass
from pathlib import Path
from typing import Protocol

from console.present.port import WatchPort
from console.present.rehearse_draft import Choices, Draft
from console.present.rehearse_keys import CallKey, MarkChoice
from console.rehearsal.exercise import Hidden
from console.rehearsal.score import RehearsalScore


class RunningRehearsal(Protocol):
    """A rehearsal, ready to begin or under way."""

    @property
    def port(self) -> WatchPort:
        """The watch as the trainee may see it."""
        ...

    @property
    def trainee(self) -> str:
        """Initials."""
        ...

    @property
    def hidden(self) -> frozenset[Hidden]:
        """What the trainee does not see."""
        ...

    @property
    def marks(self) -> MarkChoice:
        """The marks ahead at the start."""
        ...

    @property
    def seen_keys(self) -> tuple[CallKey, ...]:
        """A key for each kind of exceedance."""
        ...

    @property
    def is_over(self) -> bool:
        """Whether everything was played and fed, or the watch broke off."""
        ...

    def start(self) -> None:
        """Begin to play: the trainee sits before it."""
        ...

    def stop(self) -> Path:
        """End it and close its recording; give the recording."""
        ...


@dataclass(frozen=True, slots=True)
class Reviewed:
    """A run's score, and the other runs on file, the earliest first."""

    path: Path
    score: RehearsalScore
    others: tuple[RehearsalScore, ...]


class RehearseDesk(Protocol):
    """The application behind the view; what takes time is given as a future."""

    def choices(self) -> Choices:
        """Give what there is to choose from."""
        ...

    def read(self, path: str) -> Draft:
        """Read an exercise file.

        Raises
        ------
        InputError
            It cannot be read, or is no exercise.
        """
        ...

    def save(self, draft: Draft) -> Path:
        """Check a draft and write it as a file of the user's own.

        Raises
        ------
        InputError
            Something in it is refused.
        """
        ...

    def begin(self, draft: Draft, trainee: str) -> Future[RunningRehearsal]:
        """Check a draft, fly or read its approach; the future may hold InputError."""
        ...

    def review(self, path: Path) -> Future[Reviewed]:
        """Score a recording and gather the runs to compare with."""
        ...
