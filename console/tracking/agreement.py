"""Whether two sources agree within what both say of their own uncertainty.

Two sources cannot vote: the finding names both and is a caution. It is charged to the source that
has shown by itself that it is wrong, if one has, else to the one heard later.
"""

from __future__ import annotations

import math
from typing import Final, NamedTuple

from console.envelope.limits import Level
from console.tracking.finding import Finding, FindingId
from console.tracking.noise import SCALE_ERROR
from console.tracking.track import SourceTrack

RAISE_SIGMAS: Final = 5.0
CLEAR_SIGMAS: Final = 3.5
ON_S: Final = 2.0
OFF_S: Final = 3.0
FRESH_S: Final = 2.0
STEADY_TREND: Final = 1.0
STEADY_S: Final = 10.0


class Gap(NamedTuple):
    """The channel in which two sources differ most, by how much and how many sigmas."""

    channel: str
    value: float
    unit: str
    sigmas: float


class Agreement:
    """Two sources compared sample by sample, by their own filters.

    Parameters
    ----------
    first, second : SourceTrack
        In the order first heard.
    """

    __slots__ = ("_clear_t", "_moved_t", "_raise_t", "finding", "first", "gap", "second")

    def __init__(self, first: SourceTrack, second: SourceTrack) -> None:
        self.first = first
        self.second = second
        self.finding: Finding | None = None
        self.gap: Gap | None = None
        self._raise_t: float | None = None
        self._clear_t: float | None = None
        self._moved_t = -math.inf

    def take(self, track: SourceTrack, t: float) -> None:
        """Compare after a sample of one of the two.

        Only the slower one's samples are looked at: between them nothing is learned of it. Stale
        sources, frozen ones, and one whose filter does not follow its own samples are left alone.
        """
        other = self.second if track is self.first else self.first
        if track.noise.interval_s < other.noise.interval_s:
            return
        gap = self.gap = self._compare(t)
        if gap is None:
            self._raise_t = None
            return
        if gap.sigmas > RAISE_SIGMAS:
            self._clear_t = None
            if self._raise_t is None:
                self._raise_t = t
            if self.finding is None and t - self._raise_t >= ON_S:
                self._raise(t, gap)
        else:
            self._raise_t = None
            self._relax(t, gap)
        self._weigh_taint(t, gap)

    def _weigh_taint(self, t: float, gap: Gap) -> None:
        """Let a source that was wrong be trusted again once it agrees, and not before."""
        for track, other in ((self.first, self.second), (self.second, self.first)):
            if not track.is_tainted or not other.is_trusted:
                continue
            if gap.sigmas > CLEAR_SIGMAS:
                track.checks.jump.keep(t)
            elif not track.is_faulty and self.finding is None:
                track.is_tainted = False
                track.noise.step_m = 0.0

    def _relax(self, t: float, gap: Gap) -> None:
        if self.finding is None or gap.sigmas > CLEAR_SIGMAS:
            self._clear_t = None
            return
        if self._clear_t is None:
            self._clear_t = t
        if t - self._clear_t >= OFF_S:
            self.finding = None
            self._clear_t = None

    def _raise(self, t: float, gap: Gap) -> None:
        charged, other, value = self.second, self.first, gap.value
        if self.first.is_tainted and not self.second.is_tainted:
            charged, other, value = self.first, self.second, -gap.value
        side = "above" if value > 0.0 else "below"
        words = (
            f"{gap.channel} {abs(value):.3g} {gap.unit} {side} that of {other.source}, "
            f"{gap.sigmas:.1f} sigma"
        )
        self.finding = Finding(FindingId.DISAGREE, charged.source, Level.CAUTION, t, words)

    def _compare(self, t: float) -> Gap | None:
        """Give the channel in which the two differ most; None where they cannot be compared.

        Notes
        -----
        Difference of two estimates over the root of the sum of their variances, fixed errors
        added (the test for a common origin of two tracks with independent errors: Bar-Shalom,
        Li, *Multitarget-Multisensor Tracking*, 1995, section 8.3; from memory).
        """
        one, two = self.first, self.second
        if not (one.filter.started and two.filter.started):
            return None
        if max(abs(t - one.filter.t), abs(t - two.filter.t)) > FRESH_S:
            return None
        if max(one.filter.along.axis.position_rejects, two.filter.along.axis.position_rejects) > 1:
            return None
        if one.checks.frozen.finding is not None or two.checks.frozen.finding is not None:
            return None
        a, b = one.filter.along.axis, two.filter.along.axis
        ahead = one.filter.t - two.filter.t
        scale = 2.0 * (SCALE_ERROR * a.p) ** 2
        n, m = one.noise, two.noise
        range_gap = b.p + b.v * ahead - a.p
        variance = a.a + b.a + n.range_bias_m**2 + m.range_bias_m**2 + scale
        worst = _gap("range", range_gap, "m", variance)
        if self._steady(t):
            variance = a.c + b.c + n.range_rate_bias_mps**2 + m.range_rate_bias_mps**2
            worst = _worse(worst, _gap("range rate", b.v - a.v, "m/s", variance))
        lateral = n.lateral_bias_m**2 + m.lateral_bias_m**2 + scale
        p, q = one.filter.y, two.filter.y
        gap = _gap("y", q.p + q.v * ahead - p.p, "m", p.a + q.a + lateral)
        worst = _worse(worst, gap)
        p, q = one.filter.z, two.filter.z
        gap = _gap("z", q.p + q.v * ahead - p.p, "m", p.a + q.a + lateral)
        return _worse(worst, gap)

    def _steady(self, t: float) -> bool:
        """Tell whether neither rate is changing: two filters lag a manoeuvre differently."""
        size = max(abs(self.first.filter.along.trend), abs(self.second.filter.along.trend))
        if size > STEADY_TREND:
            self._moved_t = t
        return t - self._moved_t > STEADY_S


def _gap(channel: str, value: float, unit: str, variance: float) -> Gap:
    return Gap(channel, value, unit, abs(value) / math.sqrt(variance))


def _worse(one: Gap, two: Gap) -> Gap:
    return one if one.sigmas >= two.sigmas else two
