"""What a relative-navigation source measures: white and coloured noise, bias, scale, outliers.

Every random number is drawn for every sample whether a fault uses it or not, so that the same
seed gives the same noise with and without a fault.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from console.core.records import RelativeSample
from console.envelope.setup import LinearSigma, SourceNoise
from console.simulation.faults import Channel, FaultKind, FaultSpan
from console.simulation.scenario import Sensor
from console.simulation.truth import STATE_COLUMNS, STEP_S

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]

CHANNELS = tuple(Channel(name) for name in STATE_COLUMNS)
_POSITIONS = (0, 1, 2)
_WITH_RATES = ((0, 3), (1, 4), (2, 5), (6, 9), (7, 10), (8, 11))
DECIMALS = (2, 2, 2, 3, 3, 3, 2, 2, 2, 3, 3, 3)
"""Decimals a value is sent with: 1 cm, 1 mm/s, 0.01 deg, 0.001 deg/s."""
OUTLIER_SIGMAS = (10.0, 60.0)
FAULT_OUTLIER_SIGMA = 30.0


@dataclass(frozen=True, slots=True)
class Measured:
    """A source's samples in order of measurement, with the time each is published."""

    samples: tuple[RelativeSample, ...]
    t_publish: Array


@dataclass(frozen=True, slots=True)
class MeasuredColumns:
    """The same as arrays, for work on many passes at once.

    Attributes
    ----------
    number : ndarray of int, shape (n,)
        Which of the source's instants each sample is, from 0: those missing were dropped.
    t, t_publish : ndarray, shape (n,)
        Measured, published; UTC seconds.
    values : ndarray, shape (n, 12)
        Columns as ``truth.STATE_COLUMNS``, those not sent included.
    invalid : ndarray of bool, shape (n,)
        Flagged by the sensor itself.
    """

    number: NDArray[np.intp]
    t: Array
    values: Array
    invalid: Mask
    t_publish: Array


@dataclass(frozen=True, slots=True)
class _Draws:
    white: Array
    coloured: Array
    outlier: Array
    outlier_size: Array
    fixed: Array
    scale: Array
    jitter: Array
    dropouts: Array


def measure(
    sensor: Sensor,
    t0: float,
    states: Array,
    spans: tuple[FaultSpan, ...],
    seed: np.random.SeedSequence,
) -> Measured:
    """Measure a true motion.

    Parameters
    ----------
    sensor : Sensor
        Rate, delay and noise of the source.
    t0 : float
        UTC seconds of the first row.
    states : ndarray, shape (n, 12)
        True states every ``STEP_S``, columns as ``truth.STATE_COLUMNS``.
    spans : tuple of FaultSpan
        Faults of the pass with their times; those of other sources are left alone.
    seed : numpy.random.SeedSequence
        This source's own.
    """
    columns = measure_columns(sensor, t0, states, spans, seed)
    samples = _samples(sensor, columns.t, columns.values, columns.invalid)
    return Measured(samples, columns.t_publish)


def measure_columns(
    sensor: Sensor,
    t0: float,
    states: Array,
    spans: tuple[FaultSpan, ...],
    seed: np.random.SeedSequence,
) -> MeasuredColumns:
    """Measure a true motion, as arrays; parameters as for :func:`measure`."""
    last_s = (len(states) - 1) * STEP_S
    count = max(math.floor((last_s - sensor.phase_s) * sensor.rate_hz + 1e-9) + 1, 0)
    since_s = sensor.phase_s + np.arange(count) / sensor.rate_hz
    draws = _draw(sensor, count, seed)
    mine = tuple(span for span in spans if span.fault.concerns(sensor.name))
    t = t0 + since_s
    values = _values(sensor, sample_states(states, since_s), t, mine, draws)
    kept = ~_dropped(sensor, t, last_s, mine, draws)
    invalid = _standing(FaultKind.INVALID, t, mine)
    publish = _published(sensor, t, mine, draws)
    return MeasuredColumns(
        np.flatnonzero(kept), np.round(t[kept], 6), values[kept], invalid[kept], publish[kept]
    )


def sample_states(states: Array, since_s: Array) -> Array:
    """Give the true states at times between the rows, shape (m, 12).

    A row's rates stand until the next row; positions and angles follow them.
    """
    row = np.minimum(np.floor(since_s / STEP_S + 1e-9).astype(np.intp), len(states) - 1)
    past_s = since_s - row * STEP_S
    out = states[row]
    for place, rate in _WITH_RATES:
        out[:, place] += past_s * out[:, rate]
    return out


def sigmas(noise: SourceNoise, range_m: Array) -> Array:
    """Give the white 1-sigma of each channel at ranges, shape (n, 12)."""
    distance = np.abs(range_m)

    def over(sigma: LinearSigma) -> Array:
        return np.asarray(sigma.at_zero + sigma.per_m * distance)

    lateral, lateral_rate = over(noise.lateral_m), over(noise.lateral_rate_mps)
    angle, angle_rate = over(noise.angle_deg), over(noise.angle_rate_dps)
    return np.column_stack(
        [
            over(noise.range_m), lateral, lateral,
            over(noise.range_rate_mps), lateral_rate, lateral_rate,
            angle, angle, angle, angle_rate, angle_rate, angle_rate,
        ]
    )  # fmt: skip


def _draw(sensor: Sensor, count: int, seed: np.random.SeedSequence) -> _Draws:
    streams = [np.random.default_rng(child) for child in seed.spawn(7)]
    white, coloured, outlier, size, fixed, jitter, dropout = streams
    keep = math.exp(-1.0 / (sensor.rate_hz * sensor.coloured_s))
    steps = coloured.standard_normal((count, 12))
    steps[1:] *= math.sqrt(1.0 - keep * keep)
    walk = np.empty_like(steps)
    state = np.zeros(12)
    for i in range(count):
        state = np.add(state * keep, steps[i], out=walk[i])
    noise = sensor.noise
    bias = (
        [noise.range_bias_m] + [noise.lateral_bias_m] * 2
        + [noise.range_rate_bias_mps] + [noise.lateral_rate_bias_mps] * 2 + [0.0] * 6
    )  # fmt: skip
    return _Draws(
        white=white.standard_normal((count, 12)),
        coloured=sensor.coloured_share * walk,
        outlier=outlier.random((count, 12)),
        outlier_size=size.uniform(-1.0, 1.0, (count, 12)),
        fixed=fixed.standard_normal(12) * bias,
        scale=fixed.standard_normal(3) * sensor.scale,
        jitter=jitter.random(count),
        dropouts=dropout.random((sensor.dropouts.count, 2)),
    )


def _values(
    sensor: Sensor, true: Array, t: Array, spans: tuple[FaultSpan, ...], draws: _Draws
) -> Array:
    sigma = sigmas(sensor.noise, true[:, 0])
    noise = (draws.white + draws.coloured) * sigma
    for span in _of(FaultKind.NOISE, spans):
        noise[_mask(span, t)] *= span.fault.size
    low, high = OUTLIER_SIGMAS
    sizes = np.sign(draws.outlier_size) * (low + (high - low) * np.abs(draws.outlier_size))
    values = true + noise + draws.fixed
    values[:, _POSITIONS] += draws.scale * true[:, _POSITIONS]
    values += np.where(draws.outlier < sensor.outlier_share, sizes * sigma, 0.0)
    for span in _of(FaultKind.OUTLIERS, spans):
        hit = (draws.outlier > 1.0 - span.fault.size) & _mask(span, t)
        values += np.where(hit, np.sign(sizes) * FAULT_OUTLIER_SIGMA * sigma, 0.0)
    for span in _of(FaultKind.SCALE, spans):
        values += np.where(_mask(span, t), span.fault.size * true, 0.0)
    for span in _of(FaultKind.BIAS, spans):
        values += np.where(_mask(span, t), span.fault.size, 0.0)
    for i, decimals in enumerate(DECIMALS):
        values[:, i] = np.round(values[:, i], decimals)
    for span in _of(FaultKind.FREEZE, spans):
        rows = np.flatnonzero(_within(span, t))
        if rows.size:
            last_good = values[max(int(rows[0]) - 1, 0)]
            values = np.where(_mask(span, t), last_good, values)
    return values


def _of(kind: FaultKind, spans: tuple[FaultSpan, ...]) -> list[FaultSpan]:
    return [span for span in spans if span.fault.kind is kind]


def _within(span: FaultSpan, t: Array) -> Mask:
    return np.asarray((t >= span.t_start) & (t < span.t_end))


def _mask(span: FaultSpan, t: Array) -> Mask:
    channel = span.fault.channel
    columns = np.array([channel in (None, one) for one in CHANNELS])
    return np.asarray(_within(span, t)[:, None] & columns)


def _standing(kind: FaultKind, t: Array, spans: tuple[FaultSpan, ...]) -> Mask:
    mask = np.zeros(t.shape, dtype=np.bool_)
    for span in _of(kind, spans):
        mask |= _within(span, t)
    return mask


def _dropped(
    sensor: Sensor, t: Array, last_s: float, spans: tuple[FaultSpan, ...], draws: _Draws
) -> Mask:
    mask = _standing(FaultKind.DROPOUT, t, spans)
    rules = sensor.dropouts
    t0 = t[0] - sensor.phase_s if t.size else 0.0
    for when, length in draws.dropouts:
        start = t0 + when * last_s
        mask |= (t >= start) & (
            t < start + rules.shortest_s + length * (rules.longest_s - rules.shortest_s)
        )
    return mask


def _published(sensor: Sensor, t: Array, spans: tuple[FaultSpan, ...], draws: _Draws) -> Array:
    """Give publication times; a source sends in order, but for a fault that makes it late."""
    publish = np.maximum.accumulate(t + sensor.delay_s + sensor.jitter_s * draws.jitter)
    for span in _of(FaultKind.LATE, spans):
        publish = publish + np.where(_within(span, t), span.fault.size, 0.0)
    return np.asarray(publish)


def _samples(sensor: Sensor, t: Array, values: Array, invalid: Mask) -> tuple[RelativeSample, ...]:
    columns: list[list[float] | list[None]] = [values[:, i].tolist() for i in range(12)]
    nothing = [None] * t.size
    if not sensor.sends_lateral_rates:
        columns[4] = columns[5] = nothing
    if not sensor.sends_body_rates:
        columns[9] = columns[10] = columns[11] = nothing
    x, y, z, vx, vy, vz, roll, pitch, yaw, p, q, r = columns
    make, name = RelativeSample, sensor.name
    rows = zip(
        range(t.size), t.tolist(), x, vx, y, z, roll, pitch, yaw, vy, vz, p, q, r,
        (~invalid).tolist(), strict=True,
    )  # fmt: skip
    return tuple(make(name, *row) for row in rows)
