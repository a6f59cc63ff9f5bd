"""What a trainer orders: which approach, what goes wrong in it, what the trainee must not see."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from console.simulation.faults import Fault


class Hidden(StrEnum):
    """A part of the watch that is kept from the trainee; the engine is the same."""

    EXCEEDANCES = "exceedances"
    """The list of exceedances and flags, and the flags at the sources."""
    MARGINS = "margins"
    """Margins, verdicts and predicted values of the ledger, and the lanes' bands."""
    CALLS = "calls"
    """The calls to make, their countdowns, the range marks; the trainee's own calls stay."""
    TIME_TO_CONTACT = "time_to_contact"
    """Countdowns to contact and to the hands-off point."""
    STOP = "stop"
    """The last useful stop call."""
    PREDICTION = "prediction"
    """The predicted path and what is predicted at contact."""


class Origin(StrEnum):
    """Where an exercise's approach comes from."""

    SCENARIO = "scenario"
    PASS = "pass"


@dataclass(frozen=True, slots=True)
class Rules:
    """How calls are held against the truth.

    Attributes
    ----------
    early_s : float
        A call so long before its event still answers it.
    response_s : float
        So long after it, too.
    """

    early_s: float = 3.0
    response_s: float = 15.0

    @property
    def trial_s(self) -> float:
        """Length of every observation interval, signal and noise alike."""
        return self.early_s + self.response_s


@dataclass(frozen=True, slots=True)
class Exercise:
    """An exercise as the trainer wrote it.

    Attributes
    ----------
    title : str
        For the trainer and the debrief; the trainee does not see it.
    origin, name : Origin, str
        A scenario's shipped name or file, or a recorded pass's file.
    from_range_m : float or None
        Where a scenario starts; None: where it says itself.
    seed : int
        All that is random comes from it.
    speed : float
        Pass seconds a second.
    hidden : frozenset of Hidden
    faults : tuple of Fault
        Beside those the scenario has itself.
    after_capture_s : float
        How long it goes on after soft capture, or contact where that is the last.
    rules : Rules
    text : str
        The file whole, kept in the recording.
    sha256 : str
        Of the text: runs with the same one are the same exercise.
    """

    title: str
    origin: Origin
    name: str
    from_range_m: float | None = None
    seed: int = 1
    speed: float = 1.0
    hidden: frozenset[Hidden] = frozenset()
    faults: tuple[Fault, ...] = ()
    after_capture_s: float = 20.0
    rules: Rules = Rules()
    text: str = ""
    sha256: str = ""
