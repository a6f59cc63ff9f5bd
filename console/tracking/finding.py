"""A finding: something about a source's data that should make it less believed."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from console.core.ids import SourceId
from console.envelope.limits import Level


class FindingId(StrEnum):
    """What was found; the value is the id of the data exceedance it becomes."""

    FROZEN = "data:frozen"
    JUMP = "data:jump"
    RATE = "data:rate"
    BIAS = "data:bias"
    DISAGREE = "data:disagree"


@dataclass(frozen=True, slots=True)
class Finding:
    """One standing finding.

    Attributes
    ----------
    since : float
        Time of the sample that raised it, on the source's own clock.
    evidence : str
        What was seen, with its figures.
    """

    id: FindingId
    source: SourceId
    level: Level
    since: float
    evidence: str


OFF_S: Final = 3.0


class Standing:
    """The life of one finding: raised by evidence, cleared when none has come for a while.

    Parameters
    ----------
    id, source
        What is found, and of whom.
    off_s : float
        Time without evidence after which it clears.
    """

    __slots__ = ("_evidence_t", "finding", "id", "off_s", "source")

    def __init__(self, id: FindingId, source: SourceId, off_s: float = OFF_S) -> None:  # noqa: A002
        self.id = id
        self.source = source
        self.off_s = off_s
        self.finding: Finding | None = None
        self._evidence_t = 0.0

    def note(self, t: float, level: Level | None, evidence: str) -> None:
        """Take what a check says at a sample: a level with its evidence, or None for nothing."""
        finding = self.finding
        if level is not None:
            self._evidence_t = t
            if finding is None:
                self.finding = Finding(self.id, self.source, level, t, evidence)
            elif level > finding.level:
                self.finding = Finding(self.id, self.source, level, finding.since, evidence)
        elif finding is not None and t - self._evidence_t >= self.off_s:
            self.finding = None

    def keep(self, t: float) -> None:
        """Count the finding as seen again, so that it goes on standing."""
        self._evidence_t = t

    @property
    def level(self) -> Level | None:
        """Its level while it stands."""
        return None if self.finding is None else self.finding.level
