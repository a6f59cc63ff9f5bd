"""Reported rate against the slope of the reported position: steps, and rates that do not fit.

``e = position - integral of rate`` of one source should be constant. It steps where the position
jumps, and runs off in a straight line where the rate is wrong. The filter takes no part in it:
its own rate would hide what is looked for.

The rate is integrated after a running median of five, e is kept as medians of blocks of at least
half a second and five samples, each again the median of itself and its neighbours (at one
outlier in a hundred samples, three in one block happen every day): so outliers do no harm, and an
hour costs no more memory than a minute.
"""

from __future__ import annotations

import math
from collections import deque
from statistics import median
from typing import Final, NamedTuple

from console.tracking.noise import SCALE_ERROR, SLOW_NOISE_S

BLOCK_S: Final = 0.5
BLOCK_SAMPLES: Final = 5
BLOCK_SAMPLES_AT_MOST: Final = 64
BLOCKS_AT_LEAST: Final = 8
MEDIAN: Final = 5
MIDDLE: Final = MEDIAN // 2
LONG_S: Final = 60.0
BLOCKS_KEPT: Final = 128
GAP_S: Final = 2.5
"""A longer gap breaks the integral: the rate inside it is not known."""
GAP_INTERVALS: Final = 3.0
RATE_LEAP_MPS: Final = 0.5
"""No vehicle near a port changes its rate by so much from one sample to the next."""
BRIDGE_S: Final = 1.0
"""A rate that leaps and is back within so long is left out of the integral: some wild ones in a
row, which a median of five lets pass. One that stays is taken for what the source says."""
STEP_NEW: Final = 3
STEP_OLD: Final = 8
MEDIAN_LOSS: Final = 1.57
"""Variance of a median over that of a mean, pi/2."""


class Slope(NamedTuple):
    """A least-squares slope of e with its 1-sigma and the time it spans."""

    value: float
    sigma: float
    span_s: float


class Step(NamedTuple):
    """A step of e with its 1-sigma and the time it is told from."""

    value: float
    sigma: float
    span_s: float


class ChannelNoise(NamedTuple):
    """White variances of position and rate, the rate's fixed error, and the sample interval."""

    position_variance: float
    rate_variance: float
    rate_bias: float
    interval_s: float


class SlopeCheck:
    """Follows e of one position channel and its rate."""

    __slots__ = (
        "_away_s",
        "_blocks",
        "_integral",
        "_open",
        "_open_t",
        "_points",
        "_rate",
        "_raw",
    )

    def __init__(self) -> None:
        self._points: deque[tuple[float, float, float]] = deque(maxlen=MEDIAN)
        self._rate: float | None = None
        """The newest that is believed."""
        self._away_s = 0.0
        """For how long rates have been a leap away from it."""
        self._integral = 0.0
        self._open: list[float] = []
        self._open_t = 0.0
        self._raw: deque[tuple[float, float]] = deque(maxlen=3)
        self._blocks: deque[tuple[float, float]] = deque(maxlen=BLOCKS_KEPT)

    def restart(self) -> None:
        """Forget everything but the newest samples (after a step, or a gap)."""
        self._blocks.clear()
        self._raw.clear()
        self._open.clear()

    def take(self, t: float, position: float, rate: float, interval_s: float) -> bool:
        """Take a sample; True where a block was finished and the checks are worth asking.

        Parameters
        ----------
        t : float
            Later than the sample before.
        position, rate : float
            As measured.
        interval_s : float
            Usual time between samples.
        """
        points = self._points
        if points and t - points[-1][0] > max(GAP_S, GAP_INTERVALS * interval_s):
            points.clear()
            self._rate = None
            self.restart()
        points.append((t, position, rate))
        if len(points) < MEDIAN:
            return False
        (_, _, a), (before_t, _, b), (now_t, now_position, c), (_, _, d), (_, _, e) = points
        middle = sorted((a, b, c, d, e))[MIDDLE]
        self._integrate(middle, now_t - before_t)
        return self._add(now_t, now_position - self._integral)

    def _integrate(self, rate: float, dt: float) -> None:
        before = self._rate
        if before is None:
            self._rate, self._away_s = rate, 0.0
            return
        if abs(rate - before) > RATE_LEAP_MPS:
            self._away_s += dt
            if self._away_s <= BRIDGE_S:
                self._integral += before * dt
                return
            before = rate
        self._integral += 0.5 * (before + rate) * dt
        self._rate, self._away_s = rate, 0.0

    def _add(self, t: float, e: float) -> bool:
        opened = self._open
        if not opened:
            self._open_t = t
        if len(opened) < BLOCK_SAMPLES_AT_MOST:
            opened.append(e)
        if t - self._open_t < BLOCK_S - 0.15 or len(opened) < BLOCK_SAMPLES:
            return False
        raw = self._raw
        raw.append((0.5 * (self._open_t + t), median(opened)))
        opened.clear()
        if len(raw) < 3:
            return False
        (_, first), (t_mid, second), (_, third) = raw
        self._blocks.append((t_mid, max(min(first, second), min(max(first, second), third))))
        return True

    @property
    def span_s(self) -> float:
        """The time over which e is known without a break, s."""
        blocks = self._blocks
        return blocks[-1][0] - blocks[0][0] if blocks else 0.0

    def slope(self, window_s: float, noise: ChannelNoise, speed: float) -> Slope | None:
        """Give the least-squares slope of e over the newest so many seconds.

        Parameters
        ----------
        window_s : float
            Length of the window, longer for a slow source (at least eight blocks); None is given
            until half of it, or 10 s, is filled.
        noise : ChannelNoise
            Of the two channels.
        speed : float
            Rate of the channel: a scale error of the position shows as a share of it.

        Notes
        -----
        var = 12 S_p / T^3 + 6 S_r / (5 T) + b_r^2 + (0.001 v)^2, with S = sigma^2 (dt + 1.5 s)
        the intensity of the white and the slow noise together: the first term is the slope of
        white noise (Draper and Smith, *Applied Regression Analysis*, section 1.4), the second
        that of the random walk which integrated rate noise is (from the regression of Brownian
        motion on time; checked by simulation).
        """
        blocks = self._blocks
        if len(blocks) < BLOCKS_AT_LEAST:
            return None
        newest_t, newest_e = blocks[-1]
        start = min(newest_t - window_s, blocks[-BLOCKS_AT_LEAST][0])
        n = 0
        st = se = stt = ste = 0.0
        span = 0.0
        for t, e in reversed(blocks):
            if t < start:
                break
            u, w = t - newest_t, e - newest_e
            n += 1
            st += u
            se += w
            stt += u * u
            ste += u * w
            span = -u
        if span < min(0.5 * window_s, 10.0) or n < BLOCKS_AT_LEAST:
            return None
        value = (n * ste - st * se) / (n * stt - st * st)
        slow = noise.interval_s + SLOW_NOISE_S
        scale = SCALE_ERROR * speed
        variance = (
            12.0 * noise.position_variance * slow / span**3
            + 1.2 * noise.rate_variance * slow / span
            + noise.rate_bias**2
            + scale * scale
        )
        return Slope(value, math.sqrt(variance), span)

    def step(self, noise: ChannelNoise) -> Step | None:
        """Give the difference between the newest blocks of e and those before them.

        Notes
        -----
        Medians of 3 against 8 blocks. Variance: the slow noise (half the white sigma) at both
        ends, the white noise of the fewer samples, the random walk and the fixed error of the
        rate over the time between the two middles. A median of many has pi/2 of a mean's variance
        (Cramer, *Mathematical Methods of Statistics*, 1946, section 28.5; from memory).
        """
        blocks = self._blocks
        if len(blocks) < STEP_NEW + STEP_OLD:
            return None
        recent = list(blocks)[-(STEP_NEW + STEP_OLD) :]
        old, new = recent[:STEP_OLD], recent[STEP_OLD:]
        value = median([e for _, e in new]) - median([e for _, e in old])
        apart = new[1][0] - 0.5 * (old[3][0] + old[4][0])
        samples = STEP_NEW * max(BLOCK_SAMPLES, BLOCK_S / noise.interval_s)
        variance = (
            noise.position_variance * (0.5 + MEDIAN_LOSS / samples)
            + noise.rate_variance * (noise.interval_s + SLOW_NOISE_S) * apart
            + (noise.rate_bias * apart) ** 2
        )
        return Step(value, math.sqrt(variance), recent[-1][0] - recent[0][0])
