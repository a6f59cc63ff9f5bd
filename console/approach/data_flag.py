"""Data exceedances: what the cross-checks and the silence watch find, raised and cleared.

They follow the same life as the limits' exceedances and are told apart by their id,
``data:frozen`` and so on, and by the source they name.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import TypeAlias

from console.approach.event import AnyEvent, ExceedanceCleared, ExceedanceRaised
from console.approach.silence import LINK, STALE, Silence, SilenceWatch
from console.core.ids import SourceId
from console.envelope.limits import DataRules, Level
from console.judging.exceedance import Exceedance
from console.judging.register import Register
from console.tracking.finding import Finding
from console.tracking.source import SourceBoard

Key: TypeAlias = tuple[str, SourceId, Level]
"""Id, source and level: a finding that grows worse clears at one level and rises at the next."""


class DataFlagBook:
    """Keeps the register in step with what is found wrong with the data now."""

    def __init__(self, rules: DataRules, register: Register) -> None:
        self._register = register
        self._silence = SilenceWatch(rules)
        self._standing: dict[Key, Exceedance] = {}
        self._had_flags = False

    def look(
        self, findings: tuple[Finding, ...], board: SourceBoard, engine_s: float
    ) -> Iterator[AnyEvent]:
        """Compare findings and ages with what stands; give the events of what changed.

        Each event's time is on the clock of the source it speaks of.
        """
        if findings or self._standing:
            yield from self._compare(findings, board, engine_s)
        had_standing = bool(self._standing)
        for change in self._silence.look(board, engine_s):
            yield from self._take(change)
        if had_standing or self._standing or self._had_flags:
            self._mark(board)

    def _compare(
        self, findings: tuple[Finding, ...], board: SourceBoard, engine_s: float
    ) -> Iterator[AnyEvent]:
        found: dict[Key, Finding] = {(f.id.value, f.source, f.level): f for f in findings}
        for key in [k for k in self._standing if k not in found and not _is_silence(k[0])]:
            yield self._clear(key, board.now(key[1], engine_s), "")
        for key, finding in found.items():
            if key not in self._standing:
                now = board.now(finding.source, engine_s)
                yield self._raise(key, finding.since, now, finding.evidence)

    def _mark(self, board: SourceBoard) -> None:
        """Tell each source which warnings stand against it, for the choice of source."""
        self._had_flags = bool(self._standing)
        for source in board.sources.values():
            source.flags = {
                id_
                for id_, name, level in self._standing
                if name == source.id and level is Level.WARNING
            }

    def look_at_capture(self, source: SourceId, age_s: float, t: float) -> Iterator[AnyEvent]:
        """Watch the capture status for silence."""
        for change in self._silence.look_at_capture(source, age_s, t):
            yield from self._take(change)

    def retire(self, t: float) -> Iterator[AnyEvent]:
        """End what stands about relative navigation, which soft capture ends."""
        for change in self._silence.retire(t):
            yield from self._take(change)
        for key in list(self._standing):
            yield self._clear(key, t, "relative navigation no longer expected after soft capture")

    def flags_of(self, source: str) -> tuple[str, ...]:
        """Give the ids that stand against a source."""
        return tuple([id_ for id_, name, _ in self._standing if name == source])

    def _take(self, change: Silence) -> Iterator[AnyEvent]:
        key = (change.id, change.source, change.level)
        if change.begins:
            yield self._raise(key, change.since, change.now, change.words)
        elif key in self._standing:
            yield self._clear(key, change.now, change.words)

    def _raise(self, key: Key, onset: float, t: float, words: str) -> AnyEvent:
        id_, source, level = key
        exceedance = self._register.raise_data(id_, source, level, onset, t, words)
        self._standing[key] = exceedance
        return ExceedanceRaised(
            t=t, key=exceedance.key, id=id_, level=level.word, onset=onset, source=source,
            value=None, limit=None, words=words, shelved=not exceedance.waits,
        )  # fmt: skip

    def _clear(self, key: Key, t: float, words: str) -> AnyEvent:
        exceedance = self._standing.pop(key)
        self._register.clear_data(exceedance, t)
        return ExceedanceCleared(
            t=t, key=exceedance.key, id=exceedance.id, level=exceedance.level.word,
            onset=exceedance.onset, raised=exceedance.raised, source=exceedance.source,
            peak=None, peak_limit=None, peak_t=None, words=words or exceedance.words,
        )  # fmt: skip


def _is_silence(id_: str) -> bool:
    return id_ in (STALE, LINK)
