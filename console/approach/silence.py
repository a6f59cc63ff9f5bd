"""Silence: sources whose data grows old, as cautions and warnings that name them.

Stale is a caution at ``stale_after_s``, a silent link a warning at ``lost_after_s``. From soft
capture on relative navigation is expected to end, so only the capture status is watched then,
against ``lost_after_s``, since it comes but once or twice a second.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from console.core.ids import SourceId
from console.core.units import MICROSECOND_S
from console.envelope.limits import DataRules, Level
from console.judging.register import LINK_CHECK
from console.tracking.source import SourceBoard

STALE = "data:stale"
LINK = LINK_CHECK


@dataclass(frozen=True, slots=True)
class Silence:
    """A change: a source fell silent to this degree, or is heard again."""

    id: str
    source: SourceId
    level: Level
    begins: bool
    since: float
    """When it was last heard, on its own clock."""
    now: float
    words: str


class SilenceWatch:
    """Compares each source's age with the two thresholds and gives the changes."""

    def __init__(self, rules: DataRules) -> None:
        self._rules = rules
        self._standing: dict[tuple[str, SourceId], float] = {}

    def look(self, board: SourceBoard, engine_s: float) -> Iterator[Silence]:
        """Give what changed since the last look."""
        stale_s, lost_s = self._rules.stale_after_s, self._rules.lost_after_s
        for source in board.sources.values():
            age_s = source.age_s(engine_s)
            if age_s <= stale_s and not self._standing:
                continue
            now = source.now(engine_s)
            yield from self._change(STALE, source.id, Level.CAUTION, age_s, stale_s, now)
            yield from self._change(LINK, source.id, Level.WARNING, age_s, lost_s, now)

    def look_at_capture(self, source: SourceId, age_s: float, now: float) -> Iterator[Silence]:
        """Watch the capture status instead, from soft capture on."""
        yield from self._change(LINK, source, Level.CAUTION, age_s, self._rules.lost_after_s, now)

    def retire(self, now: float) -> Iterator[Silence]:
        """End every standing silence, when relative navigation is no longer expected."""
        for (id_, source), since in list(self._standing.items()):
            del self._standing[(id_, source)]
            level = Level.CAUTION if id_ == STALE else Level.WARNING
            words = f"{source}: relative navigation no longer expected after soft capture"
            yield Silence(id_, source, level, False, since, now, words)

    def _change(
        self,
        id_: str,
        source: SourceId,
        level: Level,
        age_s: float,
        threshold_s: float,
        now: float,
    ) -> Iterator[Silence]:
        is_silent = age_s > threshold_s + MICROSECOND_S
        key = (id_, source)
        if is_silent and key not in self._standing:
            self._standing[key] = now - age_s
            words = (
                f"Link silent: {source} not heard for {age_s:.1f} s, state coasted"
                if id_ == LINK
                else f"{source} stale: newest sample {age_s:.1f} s old"
            )
            yield Silence(id_, source, level, True, now - age_s, now, words)
        elif not is_silent and key in self._standing:
            since = self._standing.pop(key)
            words = f"{source} heard again after {now - age_s - since:.1f} s"
            yield Silence(id_, source, level, False, since, now, words)
