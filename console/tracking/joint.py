"""The combined filter: which sources it takes, and how it recovers from a wrong one.

While only one source has been heard its own filter is the combined one. Of several, those take
part that are trusted, as long as one such is fresh; if none is, all take part. A source is not
trusted while a warning stands against its data, and after that until it agrees with another one
again. Whenever a source falls out the combined filter starts again from the best remaining
source's own filter: a filter that has been dragged by a precise but wrong source finds back only
slowly, since its covariance says it is right.

Time is the lead's: the first source heard, or the one the caller prefers. A source whose clock
runs more than a second from the lead's takes no part (its own filter goes on).
"""

from __future__ import annotations

from typing import Final

from console.core.ids import SourceId
from console.core.records import RelativeSample
from console.tracking.filter import RelativeFilter
from console.tracking.track import SourceTrack

SKEW_AT_MOST_S: Final = 1.0
BEST_EVERY: Final = 64
"""The best source is looked for anew after so many samples: noise is learned slowly."""


class Joint:
    """Every source's track and the filter of all of them together.

    Parameters
    ----------
    stale_after_s : float
        Age beyond which a source no longer counts as fresh.
    """

    __slots__ = (
        "_best",
        "_count",
        "_filter",
        "_lead",
        "_members",
        "_skewed",
        "_stale_after_s",
        "tracks",
    )

    def __init__(self, stale_after_s: float) -> None:
        self.tracks: dict[SourceId, SourceTrack] = {}
        self._stale_after_s = stale_after_s
        self._filter: RelativeFilter | None = None
        self._members: tuple[SourceId, ...] = ()
        self._lead: SourceId | None = None
        self._skewed: frozenset[SourceId] = frozenset()
        self._best: SourceTrack | None = None
        self._count = 0

    def add(self, track: SourceTrack) -> None:
        """Take up a source heard for the first time."""
        self.tracks[track.source] = track
        self._best = None
        if self._lead is None:
            self._lead = track.source

    def prefer(self, source: SourceId) -> None:
        """Make a source the lead: the combined state is kept on its clock from now on."""
        if source != self._lead and source in self.tracks:
            self._lead = source
            self._skewed = frozenset()
            self._filter = self._best = None
            self._members = ()

    def take(self, track: SourceTrack, sample: RelativeSample) -> None:
        """Take a sample that its own track has just taken."""
        if len(self.tracks) < 2:
            return
        self._tell_manoeuvre(sample.t)
        if track.source == self._lead:
            self._watch_clocks(sample)
        members = self._choose(sample.t)
        self._count += 1
        if members != self._members or self._count >= BEST_EVERY:
            self._best = None
            self._count = 0
        if self._filter is None or (
            members != self._members and not set(self._members) <= set(members)
        ):
            self._restart(members)
        elif track.source in members and not track.checks.all_frozen:
            leads = track is self.best
            self._filter.take(sample, track.noise, track.uses_range, track.uses_rate, leads)
        self._members = members

    def _tell_manoeuvre(self, t: float) -> None:
        """Open every source's own filter while a fresh and trusted one shows a manoeuvre.

        Only how much a filter believes itself is shared, never a value: they stay independent.
        """
        tracks, moving = self.tracks.values(), False
        for one in tracks:
            if one.filter.along.manoeuvring and one.is_trusted and self._is_fresh(one, t):
                moving = True
        for one in tracks:
            one.filter.along.is_told = moving

    def _watch_clocks(self, sample: RelativeSample) -> None:
        """Find sources that run ahead of the lead (those behind are refused as late)."""
        skewed = frozenset(
            name
            for name, other in self.tracks.items()
            if other.newest is not None and other.newest.t - sample.t > SKEW_AT_MOST_S
        )
        if skewed - self._skewed and self._filter is not None:
            self._filter = None
        self._skewed = skewed

    def _choose(self, t: float) -> tuple[SourceId, ...]:
        tracks = self.tracks
        doubted = [one for one in tracks.values() if not one.is_trusted]
        if not (doubted or self._skewed):
            return tuple(tracks)
        usable = [one for name, one in tracks.items() if name not in self._skewed]
        if not any(self._is_fresh(one, t) and one.is_trusted for one in usable):
            return tuple(one.source for one in usable)
        return tuple(one.source for one in usable if one.is_trusted)

    def _is_fresh(self, track: SourceTrack, t: float) -> bool:
        newest = track.newest
        return newest is not None and t - newest.t <= self._stale_after_s

    def _restart(self, members: tuple[SourceId, ...]) -> None:
        started = [name for name in members if self.tracks[name].filter.started]
        if not started:
            self._filter = None
            return
        newest = max(self.tracks[name].filter.t for name in started)
        fresh = [
            name for name in started if newest - self.tracks[name].filter.t <= self._stale_after_s
        ]
        self._filter = self._best_of(tuple(fresh)).filter.copy()
        # It hears every source itself and is told of no manoeuvre, so nobody would take it back.
        self._filter.along.is_told = False

    def _best_of(self, members: tuple[SourceId, ...]) -> SourceTrack:
        tracks = [self.tracks[name] for name in members]
        return min(tracks, key=lambda one: one.noise.range_rate.variance(0.0))

    @property
    def filter(self) -> RelativeFilter | None:
        """The combined filter; None until one has started."""
        if self._filter is not None:
            return self._filter if self._filter.started else None
        lead = self._lead
        if lead is None or not self.tracks[lead].filter.started:
            return None
        return self.tracks[lead].filter

    @property
    def since_best(self) -> int:
        """How many samples ago the best source was looked for, -1 where it has to be now."""
        return -1 if self._best is None else self._count

    @property
    def is_started(self) -> bool:
        """Tell whether it has a filter of its own, apart from any source's."""
        return self._filter is not None and self._filter.started

    @property
    def best(self) -> SourceTrack:
        """The most precise source that takes part; its fixed errors are the combined ones'."""
        if self._best is None:
            self._best = self._best_of(self._members or tuple(self.tracks))
        return self._best

    def believable(self, t: float) -> list[SourceTrack]:
        """Give the sources that may be believed at a time: fresh, started, trusted.

        All fresh ones where none is trusted.
        """
        fresh = [
            one
            for name, one in self.tracks.items()
            if one.filter.started and name not in self._skewed and self._is_fresh(one, t)
        ]
        return [one for one in fresh if one.is_trusted] or fresh
