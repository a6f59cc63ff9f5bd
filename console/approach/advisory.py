"""Advisories of the procedure in the register: raised and cleared with their events.

Their ids are told apart from limits' by the ``:`` no limit id holds, and name no source:
``step:<id>`` and ``poll:<id>`` are overdue, ``hold:<id>`` was left without its release.
"""

from __future__ import annotations

from console.approach.event import AnyEvent, ExceedanceCleared, ExceedanceRaised
from console.envelope.limits import Level
from console.judging.exceedance import Exceedance
from console.judging.register import Register

LEVEL = Level.ADVISORY


class AdvisoryBook:
    """What of the procedure stands as an advisory, by id."""

    def __init__(self, register: Register) -> None:
        self._register = register
        self._standing: dict[str, Exceedance] = {}
        self._raisings: dict[str, int] = {}

    def stands(self, id_: str) -> bool:
        """Tell whether an advisory stands."""
        return id_ in self._standing

    def raise_(self, id_: str, onset: float, t: float, words: str) -> list[AnyEvent]:
        """Let an advisory stand; give its event, or nothing where it stands already."""
        if id_ in self._standing:
            return []
        count = self._raisings[id_] = self._raisings.get(id_, 0) + 1
        record = Exceedance(f"{id_}#{count}", id_, LEVEL, onset, t, words=words)
        self._standing[id_] = self._register.raise_(record)
        return [
            ExceedanceRaised(
                t=t, key=record.key, id=id_, level=LEVEL.word, onset=onset, source=None,
                value=None, limit=None, words=words, shelved=not record.waits,
            )
        ]  # fmt: skip

    def clear(self, id_: str, t: float) -> list[AnyEvent]:
        """End an advisory; give its event, or nothing where none stands."""
        record = self._standing.pop(id_, None)
        if record is None:
            return []
        self._register.clear_data(record, t)
        return [
            ExceedanceCleared(
                t=t, key=record.key, id=id_, level=LEVEL.word, onset=record.onset,
                raised=record.raised, source=None, peak=None, peak_limit=None, peak_t=None,
                words=record.words,
            )
        ]  # fmt: skip
