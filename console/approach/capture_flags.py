"""Capture's own exceedances: late evidence, lagging hooks, contradictions, failed checks.

They follow the data checks' life, in the same register, and are told apart by ids that begin
with ``capture:``.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from console.approach.event import AnyEvent, ExceedanceCleared, ExceedanceRaised
from console.envelope.limits import Level
from console.judging.exceedance import Exceedance
from console.judging.register import Register


@dataclass(frozen=True, slots=True)
class Flag:
    """Something that should stand now.

    Attributes
    ----------
    onset : float
        Since when, UTC.
    cleared : str
        What is said once it no longer stands.
    key : str
        What it is about: another key under the same id is another exceedance.
    """

    level: Level
    words: str
    onset: float
    cleared: str
    key: str = ""


@dataclass(slots=True)
class _Standing:
    exceedance: Exceedance
    flag: Flag


class CaptureFlags:
    """Keeps the register in step with what should stand about capture."""

    def __init__(self, register: Register) -> None:
        self._register = register
        self._standing: dict[str, _Standing] = {}

    def look(self, wanted: Mapping[str, Flag], source: str, t: float) -> Iterator[AnyEvent]:
        """Raise what is new, clear what no longer stands.

        Parameters
        ----------
        wanted : mapping
            By id, ``capture:late`` and so on.
        source : str
            Who reports capture.
        t : float
            Now, on that source's clock.
        """
        for id_, standing in list(self._standing.items()):
            flag = wanted.get(id_)
            if flag is None or flag.key != standing.flag.key or flag.level != standing.flag.level:
                yield self._clear(id_, t)
        for id_, flag in wanted.items():
            if id_ not in self._standing:
                yield self._raise(id_, flag, source, t)

    def _raise(self, id_: str, flag: Flag, source: str, t: float) -> AnyEvent:
        onset = min(flag.onset, t)
        exceedance = self._register.raise_data(id_, source, flag.level, onset, t, flag.words)
        self._standing[id_] = _Standing(exceedance, flag)
        return ExceedanceRaised(
            t=t, key=exceedance.key, id=id_, level=flag.level.word, onset=onset, source=source,
            value=None, limit=None, words=flag.words, shelved=not exceedance.waits,
        )  # fmt: skip

    def _clear(self, id_: str, t: float) -> AnyEvent:
        standing = self._standing.pop(id_)
        exceedance = standing.exceedance
        self._register.clear_data(exceedance, t)
        return ExceedanceCleared(
            t=t, key=exceedance.key, id=id_, level=exceedance.level.word, onset=exceedance.onset,
            raised=exceedance.raised, source=exceedance.source, peak=None, peak_limit=None,
            peak_t=None, words=standing.flag.cleared or exceedance.words,
        )  # fmt: skip
