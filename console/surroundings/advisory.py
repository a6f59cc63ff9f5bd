"""What is predicted, and what is said of it, as values."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from console.surroundings.interval import Interval


class Happening(StrEnum):
    """What is predicted."""

    CONTACT = "contact"
    HANDS_OFF = "hands-off"


@dataclass(frozen=True, slots=True)
class Predicted:
    """When something is predicted, UTC seconds, with 95 % bounds.

    Attributes
    ----------
    high_s : float or None
        None: the late bound is open.
    """

    happening: Happening
    best_s: float
    low_s: float
    high_s: float | None


@dataclass(frozen=True, slots=True)
class Advisory:
    """One thing to know of, level advisory.

    Attributes
    ----------
    key : str
        The same for the same matter, whatever its figures, such as ``contact:light``.
    words : str
    avoid : tuple of Interval
        Nearest contact times (of the happening itself where contact is not predicted) that
        would avoid it: at most one before and one after.
    earlier_s, later_s : float or None
        By how much it may come earlier or later before the answer changes; None: not within
        what is known, or not any more.
    """

    key: str
    words: str
    avoid: tuple[Interval, ...] = ()
    earlier_s: float | None = None
    later_s: float | None = None


@dataclass(frozen=True, slots=True)
class Ahead:
    """What was found: advisories, and facts worth saying when nothing is wrong.

    Attributes
    ----------
    clear : tuple of Interval
        Contact times from now on at which all that is known is good: light, view and link.
    """

    advisories: tuple[Advisory, ...] = ()
    facts: tuple[str, ...] = ()
    clear: tuple[Interval, ...] = ()
