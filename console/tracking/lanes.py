"""The estimator over many passes at once: the same filters, sample by sample, passes side by side.

For campaigns. A *lane* is one pass with two sources whose samples stand on one grid of times, so
that the same sample is due in every lane at once and one array operation serves them all. What is
stepped is what a healthy pass needs of the estimator: each source's own filter, the combined one,
and the noise that is learned. Everything rare is left to the estimator itself: the start (lanes
are loaded from tracks that have started), doubt about a source, a change of the source in use.
Whether a pass is that healthy is asked in :mod:`console.tracking.plain`.

Formulas and the order of their operations are those of ``axis``, ``along``, ``filter``, ``noise``
and ``joint``, where their sources stand; each method here names the one it does for all lanes. A
test holds every estimate equal to the estimator's to the last bit.

Rows of a filter are range, y, z, roll, pitch, yaw; its three columns are the first source's own
filter, the combined one, and the second source's own. A sample of the first source moves columns
0 and 1, one of the second columns 1 and 2: two neighbours, updated together.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from console.envelope.setup import SourceNoise
from console.tracking.along import (
    MANOEUVRE_Q,
    MANOEUVRE_TREND,
    RANGE_Q,
    RANGE_Q_FAST,
    SETTLED_TREND,
    SLOW_MPS,
    STEP_AT_MOST_S,
    TREND_CLIP,
    TREND_S,
    TREND_SHARE,
)
from console.tracking.axis import GATE_SQUARED, REJECTS_TO_RESET
from console.tracking.filter import ANGLE_Q, LATERAL_Q
from console.tracking.joint import BEST_EVERY
from console.tracking.lane_state import Flags, Floats, Integers, LaneState
from console.tracking.noise import (
    GATE_FACTOR,
    INTERVAL_MEMORY,
    LONGEST_STEP_S,
    SCATTER_CLIP,
    SCATTER_EXPECTED,
    SCATTER_FLOOR,
    SCATTER_MARGIN,
    SCATTER_MEMORY,
    SLOW_NOISE_S,
)
from console.tracking.plan import KNEE_BAND_M, STEEPEST_PER_S, ClosingPlan

POSITIONS: Final = (0, 1, 2, 6, 7, 8)
"""Columns of a sample's twelve values that the filter's rows are positions of."""
RATES: Final = (3, 4, 5, 9, 10, 11)
CHANNELS: Final = (0, 3, 1, 4, 7, 10)
"""Columns the six channels of a noise model are learned from."""
_Q: Final = np.array([0.0, LATERAL_Q, LATERAL_Q, ANGLE_Q, ANGLE_Q, ANGLE_Q]).reshape(6, 1, 1)
_RANGE, _RANGE_RATE, _LATERAL, _LATERAL_RATE, _ANGLE, _ANGLE_RATE = range(6)
_OF_POSITIONS: Final = [_LATERAL, _LATERAL, _ANGLE, _ANGLE, _ANGLE]
_OF_RATES: Final = [_LATERAL_RATE, _LATERAL_RATE, _ANGLE_RATE, _ANGLE_RATE, _ANGLE_RATE]
"""Noise channels of the rows behind the first."""


class LaneFilter:
    """Step lanes by samples.

    Parameters
    ----------
    plan : ClosingPlan
        The law range is expected to follow.
    declared : tuple of SourceNoise, length 2
        What the setup says of the two sources, the first heard first.
    sends : tuple of pairs of bool, length 2
        Whether each source sends lateral rates, and body rates.
    stale_after_s : float
        Age beyond which a source no longer counts as fresh.
    """

    def __init__(
        self,
        plan: ClosingPlan,
        declared: tuple[SourceNoise, SourceNoise],
        sends: tuple[tuple[bool, bool], tuple[bool, bool]],
        stale_after_s: float,
    ) -> None:
        self._plan = plan
        self._stale_after_s = stale_after_s
        self._at_zero = tuple(_column(one, "at_zero") for one in declared)
        self._per_m = tuple(_column(one, "per_m") for one in declared)
        self._learned = tuple(_learned(*one) for one in sends)
        self._rated = tuple(_rated(*one) for one in sends)

    def take(self, state: LaneState, source: int, t: float, values: Floats) -> None:
        """Take one sample of a source in every lane.

        Parameters
        ----------
        state : LaneState
            Changed in place.
        source : int
            0 or 1.
        t : float
            Its time, later than all before of its source.
        values : ndarray, shape (12, lanes)
            As measured; those a source does not send are not looked at.
        """
        self._learn(state, source, t, values)
        state.newest[source] = values
        state.newest_t[source] = t
        self._look_for_best(state)
        columns = slice(source, source + 2)
        self._predict(state, columns, t)
        self._take_along(state, source, columns, values)
        self._take_others(state, source, columns, values)
        self._tell_manoeuvre(state, t)

    # ------------------------------------------------------------------ noise

    def _variance(self, state: LaneState, source: int, channel: int, range_m: Floats) -> Floats:
        """Give :meth:`Channel.variance` in every lane."""
        at_zero, per_m = self._at_zero[source][channel], self._per_m[source][channel]
        sigma: Floats = (at_zero + per_m * np.abs(range_m)) * state.factor[source, channel]
        return sigma * sigma

    def _variances(
        self, state: LaneState, source: int, channels: list[int], distance_m: Floats
    ) -> Floats:
        """Give the same of several channels at once, shape (channels, 2, lanes)."""
        at_zero = self._at_zero[source][channels][:, :, None]
        sigma: Floats = at_zero + self._per_m[source][channels][:, :, None] * distance_m
        sigma *= state.factor[source, channels][:, None, :]
        return sigma * sigma

    def _learn(self, state: LaneState, source: int, t: float, values: Floats) -> None:
        """Note the interval, and the scatter of the steps from the sample before.

        Does :meth:`NoiseModel.note_interval` and :meth:`Channel.note_step`.
        """
        dt = t - state.newest_t[source]
        interval = state.interval_s[source]
        short = (dt < LONGEST_STEP_S) | (dt < 2.0 * interval)
        interval += np.where(short, INTERVAL_MEMORY * (dt - interval), INTERVAL_MEMORY * interval)
        own = 2 * source
        rows = self._learned[source]
        difference = values[CHANNELS, :] - state.newest[source][CHANNELS, :]
        difference[_RANGE] -= state.v[0, own] * dt
        difference[_LATERAL] -= state.v[1, own] * dt
        difference[_ANGLE] -= state.v[4, own] * dt
        difference = difference[rows]
        factor, square = state.factor[source, rows], state.square[source, rows]
        sigma = self._at_zero[source][rows] + self._per_m[source][rows] * np.abs(state.p[0, own])
        sigma *= factor
        ratio = difference * difference / (2.0 * (sigma * sigma)) * factor * factor / square
        np.minimum(ratio, SCATTER_CLIP, out=ratio)
        new = square * (1.0 + SCATTER_MEMORY * (ratio - SCATTER_EXPECTED))
        np.maximum(new, SCATTER_FLOOR, out=new)
        raised = np.where(new > 1.0, np.maximum(1.0, np.sqrt(new) - SCATTER_MARGIN), factor)
        near = dt <= LONGEST_STEP_S
        if near.all():
            state.square[source, rows], state.factor[source, rows] = new, raised
        else:
            state.square[source, rows] = np.where(near, new, square)
            state.factor[source, rows] = np.where(near, raised, factor)

    def _look_for_best(self, state: LaneState) -> None:
        """Find the source of the lesser rate variance, as :attr:`Joint.best` does."""
        count = state.since_best
        count += 1
        due = count >= BEST_EVERY
        count[due] = 0
        due |= state.best < 0
        if due.any():
            at_zero = [
                self._at_zero[n][_RANGE_RATE] * state.factor[n, _RANGE_RATE] for n in (0, 1)
            ]
            second = at_zero[1] * at_zero[1] < at_zero[0] * at_zero[0]
            state.best = np.where(due, second.astype(np.intp), state.best)

    # ------------------------------------------------------------------ the filters

    def _predict(self, state: LaneState, columns: slice, t: float) -> None:
        """Do :meth:`RelativeFilter.predict` in two columns."""
        now = state.t[columns]
        while True:
            rest = t - now
            if not (rest > 0.0).any():
                return
            dt = np.maximum(np.minimum(rest, STEP_AT_MOST_S), 0.0)
            self._step(state, columns, dt)
            now[...] = np.where(rest <= STEP_AT_MOST_S, np.maximum(t, now), now + STEP_AT_MOST_S)

    def _step(self, state: LaneState, columns: slice, dt: Floats) -> None:
        """Do :meth:`Along.step` and :meth:`Axis.predict`."""
        p, v = state.p[:, columns], state.v[:, columns]
        a, b, c = state.a[:, columns], state.b[:, columns], state.c[:, columns]
        speed = -v[0]
        brake = self._deceleration(p[0], speed)
        excess = np.abs(speed) - SLOW_MPS
        q = RANGE_Q + np.where(excess > 0.0, RANGE_Q_FAST * excess * excess, 0.0)
        q += MANOEUVRE_Q * (state.manoeuvring[columns] | state.is_told[columns])
        moved = v * dt
        moved[0] = (v[0] + 0.5 * brake * dt) * dt
        p += moved
        v[0] += brake * dt
        qdt = _Q * dt
        qdt[0] = q * dt
        a += dt * (2.0 * b + dt * c) + qdt * dt * dt / 3.0
        b[...] = b + dt * c + 0.5 * qdt * dt
        c += qdt

    def _tell_manoeuvre(self, state: LaneState, t: float) -> None:
        """Do :meth:`Joint._tell_manoeuvre` for sources that are all trusted."""
        fresh = t - state.newest_t <= self._stale_after_s
        state.is_told[::2] = (state.manoeuvring[::2] & fresh).any(axis=0)

    def _deceleration(self, range_m: Floats, speed_mps: Floats) -> Floats:
        """Do :meth:`ClosingPlan.deceleration`; nothing for a vehicle that does not close."""
        outside = range_m - self._plan.knee_m
        far = outside > KNEE_BAND_M
        slope = (speed_mps - self._plan.knee_rate_mps) / np.where(far, outside, 1.0)
        k = np.minimum(np.maximum(np.where(far, slope, 0.0), 0.0), STEEPEST_PER_S)
        return np.where(speed_mps > 0.0, k * speed_mps, 0.0)

    def _take_along(self, state: LaneState, source: int, columns: slice, values: Floats) -> None:
        """Do :meth:`Along.take_range` and :meth:`Along.take_rate`."""
        gain = 1.0 + SLOW_NOISE_S / state.interval_s[source]
        variance = self._variance(state, source, _RANGE, state.p[0, columns])
        residual = values[0] - state.p[0, columns]
        row = slice(0, 1)
        _take_position(
            state, row, columns, residual[None], variance[None] * GATE_FACTOR,
            variance[None] * gain,
        )  # fmt: skip
        variance = self._variance(state, source, _RANGE_RATE, state.p[0, columns])
        residual = values[3] - state.v[0, columns]
        self._note_trend(state, source, columns, residual, variance)
        _take_rate(
            state, row, columns, residual[None], variance[None] * GATE_FACTOR,
            variance[None] * gain,
        )  # fmt: skip

    def _note_trend(
        self, state: LaneState, source: int, columns: slice, residual: Floats, variance: Floats
    ) -> None:
        """Do :meth:`Along.note_trend`: always in a source's own filter, else if it is the best."""
        leads = np.ones(residual.shape, dtype=np.bool_)
        leads[1 - source] = state.best == source
        interval = state.interval_s[source]
        spread = state.c[0, columns] + variance * GATE_FACTOR
        normal = residual / np.sqrt(spread)
        normal = np.minimum(np.maximum(normal, -TREND_CLIP), TREND_CLIP)
        old = state.trend[columns]
        new = old + (normal - old) * np.minimum(interval / (interval + TREND_S), TREND_SHARE)
        state.trend[columns] = np.where(leads, new, old)
        was = state.manoeuvring[columns]
        over = np.abs(new) > np.where(was, SETTLED_TREND, MANOEUVRE_TREND)
        state.manoeuvring[columns] = np.where(leads, over, was)

    def _take_others(self, state: LaneState, source: int, columns: slice, values: Floats) -> None:
        """Do the lateral and attitude axes' updates of :meth:`RelativeFilter.take`."""
        range_m = state.p[0, columns]
        gain = 1.0 + SLOW_NOISE_S / state.interval_s[source]
        distance = np.abs(range_m)
        variance = self._variances(state, source, _OF_POSITIONS, distance)
        rows = slice(1, 6)
        residual = values[POSITIONS[1:], None, :] - state.p[rows, columns]
        turned = residual[2:]
        far = ~((turned >= -180.0) & (turned < 180.0))
        if far.any():
            turned[far] = (turned[far] + 180.0) % 360.0 - 180.0
        _take_position(state, rows, columns, residual, variance * GATE_FACTOR, variance * gain)
        rated = self._rated[source]
        if rated is None:
            return
        channels = _OF_RATES[rated.start - 1 : rated.stop - 1]
        variance = self._variances(state, source, channels, distance)
        residual = values[RATES[rated], None, :] - state.v[rated, columns]
        _take_rate(state, rated, columns, residual, variance * GATE_FACTOR, variance * gain)


def _take_position(
    state: LaneState, rows: slice, columns: slice, residual: Floats, gate: Floats, gain: Floats
) -> None:
    """Do :meth:`Axis.take_position` for rows of two filters."""
    at = (rows, columns)
    believed = _believed(state.a[at], residual, gate, state.position_rejects[at])
    own, other = (state.p[at], state.a[at]), (state.v[at], state.c[at])
    _correct(own, other, state.b[at], residual, believed, gain)


def _take_rate(
    state: LaneState, rows: slice, columns: slice, residual: Floats, gate: Floats, gain: Floats
) -> None:
    """Do :meth:`Axis.take_rate` for rows of two filters."""
    at = (rows, columns)
    believed = _believed(state.c[at], residual, gate, state.rate_rejects[at])
    own, other = (state.v[at], state.c[at]), (state.p[at], state.a[at])
    _correct(own, other, state.b[at], residual, believed, gain)


def _correct(
    own: tuple[Floats, Floats],
    other: tuple[Floats, Floats],
    cross: Floats,
    residual: Floats,
    believed: Flags,
    gain: Floats,
) -> None:
    """Correct in place what was measured and what hangs on it, each a mean and its variance.

    The scalar update of :meth:`Axis.take_position` and :meth:`Axis.take_rate`, nothing where the
    sample is not believed.
    """
    s = own[1] + gain
    k_own, k_other = own[1] / s * believed, cross / s * believed
    own[0][...] += k_own * residual
    other[0][...] += k_other * residual
    other[1][...] -= k_other * cross
    left = 1.0 - k_own
    cross *= left
    own[1][...] *= left


def _believed(variance: Floats, residual: Floats, gate: Floats, rejects: Integers) -> Flags:
    """Tell which samples are believed; after many rejects a variance is opened, and one is.

    The gate of :meth:`Axis.take_position`.
    """
    square = residual * residual
    off = square >= GATE_SQUARED * (variance + gate)
    rejects += off
    again = off & (rejects >= REJECTS_TO_RESET)
    if again.any():
        variance[again] += square[again]
        off &= ~again
    rejects *= off
    return ~off


def _column(noise: SourceNoise, name: str) -> Floats:
    """Give one figure of each declared channel, shape (6, 1)."""
    sigmas = (
        noise.range_m, noise.range_rate_mps, noise.lateral_m, noise.lateral_rate_mps,
        noise.angle_deg, noise.angle_rate_dps,
    )  # fmt: skip
    return np.array([[getattr(sigma, name)] for sigma in sigmas])


def _learned(lateral_rates: bool, body_rates: bool) -> slice | list[int]:
    """Give the noise channels a source's samples tell of; neighbours as a slice, which is fast."""
    if lateral_rates:
        return slice(_RANGE, (_ANGLE_RATE if body_rates else _ANGLE) + 1)
    rows = [_RANGE, _RANGE_RATE, _LATERAL, _ANGLE]
    return [*rows, _ANGLE_RATE] if body_rates else rows


def _rated(lateral_rates: bool, body_rates: bool) -> slice | None:
    """Give the rows whose rates a source sends."""
    if lateral_rates:
        return slice(1, 6) if body_rates else slice(1, 3)
    return slice(3, 6) if body_rates else None
