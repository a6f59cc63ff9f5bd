"""Stretches in which the source in use was stale, each told on one clock from begin to end."""

from __future__ import annotations

from collections import deque

from console.approach.snapshot import LinkGap
from console.tracking.source import DELAY_AT_MOST_S, Source

GAPS_KEPT = 100


class LinkGaps:
    """The newest gaps; one that stands is told on the clock of the source now in use.

    Another source's clock, or the same one set anew, may be hours off: a gap from one clock's
    time to another's would have any length, or less than none.
    """

    def __init__(self) -> None:
        self._gaps: deque[LinkGap] = deque(maxlen=GAPS_KEPT)
        self._offset_s = 0.0
        """Engine clock minus the one that the gap that stands is told on, s."""

    def told(self, source: Source | None) -> tuple[LinkGap, ...]:
        """Give them, the earliest first; ``source`` is the one in use."""
        gaps = tuple(self._gaps)
        if source is None or not self._stands:
            return gaps
        return (*gaps[:-1], self._by_clock_of(source))

    def look(self, source: Source, *, is_stale: bool) -> None:
        """Begin or end a gap of the source in use."""
        if self._stands:
            self.follow_clock(source)
            if not is_stale:
                self._close(source.newest.t)
        elif is_stale:
            self._gaps.append(LinkGap(source.newest.t, None))
            self._offset_s = source.clock_offset_s

    def follow_clock(self, source: Source) -> None:
        """Tell the gap that stands on this source's clock from now on."""
        if self._stands and (moved := self._by_clock_of(source)) is not self._gaps[-1]:
            self._gaps[-1] = moved
            self._offset_s = source.clock_offset_s

    def _by_clock_of(self, source: Source) -> LinkGap:
        gap, moved_s = self._gaps[-1], self._offset_s - source.clock_offset_s
        return gap if abs(moved_s) <= DELAY_AT_MOST_S else LinkGap(gap.t_start + moved_s, None)

    def end(self, t: float, now: float) -> None:
        """End the gap that stands, if one does, by what another sender said.

        ``t`` is by that sender's clock, ``now`` by that of the source in use.
        """
        if self._stands:
            self._close(t if abs(now - t) <= DELAY_AT_MOST_S else now)

    def _close(self, t: float) -> None:
        self._gaps[-1] = LinkGap(self._gaps[-1].t_start, t)

    @property
    def _stands(self) -> bool:
        return bool(self._gaps) and self._gaps[-1].t_end is None
