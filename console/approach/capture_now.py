"""What the snapshot says of capture beyond the statuses: damping, leak check, what is awaited."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from console.core.units import MICROSECOND_S


class DampingVerdict(StrEnum):
    """What is known of the relative motion after soft capture."""

    SETTLED = "settled"
    SETTLING = "settling"
    NOT_SETTLING = "not settling"
    UNDECIDED = "not yet decidable"


@dataclass(frozen=True, slots=True)
class Span:
    """A figure with its 95 % bounds; an unknown one, or an open bound, is None."""

    best: float | None
    low: float | None
    high: float | None


@dataclass(frozen=True, slots=True)
class DampingChannel:
    """One of the two sizes of relative motion: m/s or deg/s.

    Attributes
    ----------
    verdict, reason : DampingVerdict, str
        The reason is empty where the verdict needs none.
    level : float
        Motion below it counts as settled.
    t_first : float or None
        First sample of the fitted record, UTC; the fit's figures count from here. None, like the
        figures, where the record cannot carry a fit.
    amplitude : float or None
        Fitted envelope at ``t_first``.
    decay_s : Span
        Time constant.
    period_s : float or None
        Of the motion; None where it does not swing.
    noise : float or None
        1-sigma of the size's white noise.
    t_settles : Span
        When the envelope falls to the level, UTC.
    """

    unit: str
    verdict: DampingVerdict
    reason: str
    level: float
    t_first: float | None
    amplitude: float | None
    decay_s: Span
    period_s: float | None
    noise: float | None
    t_settles: Span


@dataclass(frozen=True, slots=True)
class DampingNow:
    """Damping of the relative motion, both channels together."""

    verdict: DampingVerdict
    reason: str
    words: str
    """The verdict as one line, as headless text and the plots' head have it."""
    t_settles: Span
    """When the last channel falls to its level, UTC."""
    channels: tuple[DampingChannel, ...]
    is_over: bool
    """The ring is drawn in: the fit stays as it was."""


class LeakState(StrEnum):
    """What is known of the vestibule's leak."""

    PASSES = "passes"
    FAILS = "fails"
    UNDECIDED = "not yet decidable"
    REFUSED = "refused"
    """The record cannot carry a verdict; the reason says why."""


class VestibuleStage(StrEnum):
    """What the vestibule's pressure does."""

    UNKNOWN = "pressure not yet known"
    EMPTY = "not pressurised"
    FILLING = "pressurising"
    CLOSED = "pressure held"


@dataclass(frozen=True, slots=True)
class LeakNow:
    """The vestibule's leak check.

    Attributes
    ----------
    words : str
        The verdict as one line.
    t_first : float or None
        Begin of the record, UTC: pressure held since then.
    t_verdict : float or None
        When the verdict was reached.
    loss_pa_per_h, loss_kg_per_day, loss_pa_m3_per_s : Span
        The same leak in three units; kPa/h is a thousandth of the first.
    limit_pa_per_h, limit_kg_per_day : float
        The limit; in kg/day at the record's mean temperature, or 20 degC before there is one.
    minutes_needed : float or None
        Until a verdict, foreseen; None where none is foreseen within a day, or none is needed.
    may_never : bool
        The limit lies between the leak's 95 % bounds: it may never be decided.
    samples : int
        Readings in the record.
    """

    stage: VestibuleStage
    state: LeakState
    reason: str
    words: str
    t_first: float | None
    t_verdict: float | None
    loss_pa_per_h: Span
    loss_kg_per_day: Span
    loss_pa_m3_per_s: Span
    limit_pa_per_h: float
    limit_kg_per_day: float
    minutes_needed: float | None
    may_never: bool
    samples: int


@dataclass(frozen=True, slots=True)
class Awaited:
    """Evidence that is awaited: since when, for how long, and how long it usually takes."""

    words: str
    since: float
    waited_s: float
    expected_s: float

    @property
    def is_late(self) -> bool:
        """Whether it has taken longer than usual."""
        return self.waited_s >= self.expected_s - MICROSECOND_S


NOT_KNOWN = Span(None, None, None)
