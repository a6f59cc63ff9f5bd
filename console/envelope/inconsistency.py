"""One thing in a limits file that does not hang together."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from console.envelope.limits import Allow, Level


class Kind(StrEnum):
    """What contradicts what."""

    ORDER = "warning before its caution"
    GLIDE_SLOPE = "glide slope outside the closing envelope"
    CONTACT = "envelope at 0 m outside a contact limit"
    GAP = "gap of range"
    DEADBAND = "dead band wider than the region"
    DELAY = "delay longer than the time to contact"
    STOPPING = "hands-off distance against stopping distance"


@dataclass(frozen=True, slots=True)
class Inconsistency:
    """A finding on a file that was read without fault.

    Attributes
    ----------
    level : Level
        Caution: the file contradicts itself. Advisory: something usual is left open.
    place : str
        Id of the limit, or the table's name.
    words, mend : str
        What was found, with figures, and how to mend it.
    """

    kind: Kind
    level: Level
    place: str
    words: str
    mend: str

    def __str__(self) -> str:
        """Give it on one line."""
        return f"{self.place}: {self.words}: {self.mend}"


def mirrored(allow: Allow) -> float:
    """Give 1 for a limit to stay below, -1 for one to stay above."""
    return 1.0 if allow is Allow.BELOW else -1.0
