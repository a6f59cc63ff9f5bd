"""What the bench's view asks of whoever loads, judges and saves for it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

from console.bench.compare import Comparison
from console.bench.labels import Label
from console.bench.pass_set import PassSet
from console.bench.rejudge import Judged, LimitRun
from console.bench.sweep import Knob, SweepPoint
from console.envelope.limits import LimitsFile


@dataclass(frozen=True, slots=True)
class Loading:
    """How far loading is.

    Attributes
    ----------
    done, of : int
        Passes; ``of`` is 0 before they are counted.
    fault : str
        What kept the whole set from being loaded; empty where nothing did.
    """

    done: int = 0
    of: int = 0
    name: str = ""
    fault: str = ""


@dataclass(frozen=True, slots=True)
class Question:
    """What is to be judged: a draft, and which of its limits is looked at.

    Attributes
    ----------
    only : bool
        Count the limit looked at alone, not all of its level.
    marks : int
        How often passes were marked so far: a new mark is a new question.
    """

    draft: LimitsFile
    limit: int
    only: bool = False
    marks: int = 0


@dataclass(frozen=True, slots=True)
class SweepQuestion:
    """Which limit of a draft is to be varied, in what, and through which values."""

    draft: LimitsFile
    limit: int
    knob: Knob
    values: tuple[float, ...]
    marks: int = 0


@dataclass(frozen=True, slots=True)
class Answer:
    """What judging gave.

    Attributes
    ----------
    before, after : Judged
        The file as opened, and the draft.
    run : LimitRun
        Of the limit looked at, as drafted; its margins are worked out.
    took_s : float
        How long it took.
    """

    question: Question
    before: Judged
    after: Judged
    comparison: Comparison
    run: LimitRun
    took_s: float


class BenchPort(Protocol):
    """The other side of the bench's view."""

    @property
    def opened(self) -> LimitsFile:
        """The limits file as it was opened or last saved."""
        ...

    @property
    def labels(self) -> Sequence[Label | None]:
        """What is known of each pass of the set, in its order."""
        ...

    def loading(self) -> Loading:
        """Give how far loading is."""
        ...

    def loaded(self) -> PassSet | None:
        """Give the passes once all are loaded, None before."""
        ...

    def ask(self, question: Question) -> None:
        """Have a question judged; one still waiting is dropped for it."""
        ...

    def take(self) -> Answer | None:
        """Give a new answer, None where there is none."""
        ...

    def ask_sweep(self, question: SweepQuestion) -> None:
        """Have a limit swept; a sweep still waiting is dropped for it."""
        ...

    def take_sweep(self) -> tuple[SweepQuestion, tuple[SweepPoint, ...]] | None:
        """Give a finished sweep with its question, None where there is none."""
        ...

    def mark(self, number: int, label: Label | None) -> str:
        """Keep what is known of a pass; give what kept it from being kept, empty if nothing."""
        ...

    def save(self, draft: LimitsFile, reason: str, author: str) -> LimitsFile:
        """Save a draft over the file opened; raises InputError, and then nothing is written."""
        ...

    def open_pass(self, number: int, t: float | None) -> None:
        """Show a pass in Watch."""
        ...

    def close(self) -> None:
        """Stop loading and judging."""
        ...
