"""The judged quantities of a sample and of an estimate, computed alike for every judge.

Lengths are sqrt(a*a + b*b) and angles ``math.atan2`` (``motion.contact``), so that every judge
agrees to the last bit.
A value that is not known is None, never NaN.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import TypeAlias

import msgspec

from console.core.records import RelativeSample
from console.envelope.quantity import Quantity
from console.judging.gap import Gaps
from console.judging.state import RateSource, StateSource
from console.motion.contact import corridor_angle_deg, vector_sum

Values: TypeAlias = dict[Quantity, float | None]

# Measured and estimated at every sample: a member costs more on its class than under a name.
_CLOSING_RATE, _LATERAL_OFFSET = Quantity.CLOSING_RATE, Quantity.LATERAL_OFFSET
_LATERAL_RATE, _CORRIDOR_ANGLE = Quantity.LATERAL_RATE, Quantity.CORRIDOR_ANGLE
_PITCH_YAW, _PITCH_YAW_RATE = Quantity.PITCH_YAW, Quantity.PITCH_YAW_RATE
_ROLL, _ROLL_RATE = Quantity.ROLL, Quantity.ROLL_RATE
_SOURCE_GAP, _RANGE_RATE_GAP = Quantity.SOURCE_GAP, Quantity.RANGE_RATE_GAP


class Reading(msgspec.Struct, frozen=True):
    """What the judge is fed: a valid sample of the source in use, before contact.

    Attributes
    ----------
    t : float
        Time of measurement, UTC s.
    range_m : float
        As measured.
    range_est_m : float or None
        As estimated at ``t``; None while there is no estimate.
    measured, estimated : mapping
        Each quantity's value, None where unknown.
    """

    t: float
    range_m: float
    range_est_m: float | None
    measured: Mapping[Quantity, float | None]
    estimated: Mapping[Quantity, float | None]


class Rates(msgspec.Struct, frozen=True):
    """Lateral and attitude rates by themselves; an estimate will do as well."""

    y_rate_mps: float | None = None
    z_rate_mps: float | None = None
    roll_rate_dps: float | None = None
    pitch_rate_dps: float | None = None
    yaw_rate_dps: float | None = None


NO_RATES = Rates()


def measured_values(
    sample: RelativeSample, fallback: RateSource | None = None, gaps: Gaps | None = None
) -> Values:
    """Give every judged quantity as measured.

    Parameters
    ----------
    sample : RelativeSample
        A valid sample.
    fallback : RateSource, optional
        Gives the rates the sample lacks: the estimator's state at the sample's time.
    gaps : Gaps, optional
        Has taken this sample already; without it the two gap quantities are unknown.

    Returns
    -------
    dict
        All quantities; None where unknown.
    """
    rates = fallback or NO_RATES
    y_rate, z_rate = sample.y_rate_mps, sample.z_rate_mps
    roll_rate, pitch_rate = sample.roll_rate_dps, sample.pitch_rate_dps
    yaw_rate = sample.yaw_rate_dps
    return {
        _CLOSING_RATE: -sample.range_rate_mps,
        _LATERAL_OFFSET: vector_sum(sample.y_m, sample.z_m),
        _LATERAL_RATE: _length_if_known(
            rates.y_rate_mps if y_rate is None else y_rate,
            rates.z_rate_mps if z_rate is None else z_rate,
        ),
        _PITCH_YAW: vector_sum(sample.pitch_deg, sample.yaw_deg),
        _ROLL: abs(sample.roll_deg),
        _PITCH_YAW_RATE: _length_if_known(
            rates.pitch_rate_dps if pitch_rate is None else pitch_rate,
            rates.yaw_rate_dps if yaw_rate is None else yaw_rate,
        ),
        _ROLL_RATE: _size_if_known(rates.roll_rate_dps if roll_rate is None else roll_rate),
        _CORRIDOR_ANGLE: corridor_angle_deg(sample.range_m, sample.y_m, sample.z_m),
        _SOURCE_GAP: gaps.source_gap_m(sample) if gaps else None,
        _RANGE_RATE_GAP: gaps.range_rate_gap_mps(sample) if gaps else None,
    }


def estimated_values(state: StateSource | None) -> Values:
    """Give every judged quantity as estimated; the two gaps have no estimated form."""
    if state is None:
        return {}
    return {
        _CLOSING_RATE: state.closing_rate_mps,
        _LATERAL_OFFSET: vector_sum(state.y_m, state.z_m),
        _LATERAL_RATE: vector_sum(state.y_rate_mps, state.z_rate_mps),
        _PITCH_YAW: vector_sum(state.pitch_deg, state.yaw_deg),
        _ROLL: abs(state.roll_deg),
        _PITCH_YAW_RATE: vector_sum(state.pitch_rate_dps, state.yaw_rate_dps),
        _ROLL_RATE: abs(state.roll_rate_dps),
        _CORRIDOR_ANGLE: corridor_angle_deg(state.range_m, state.y_m, state.z_m),
    }


def _length_if_known(a: float | None, b: float | None) -> float | None:
    return None if a is None or b is None else vector_sum(a, b)


def _size_if_known(a: float | None) -> float | None:
    return None if a is None else abs(a)
