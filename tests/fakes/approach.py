"""The parts of a believable snapshot before contact, each from the range alone."""

from __future__ import annotations

import math

from console.approach.snapshot import LimitNow, SourceNow, Verdict
from console.core.ids import SourceId
from console.core.records import RelativeSample
from console.envelope.limits import Allow, Curve, Level, LimitsFile
from console.envelope.quantity import Quantity
from console.tracking.outlook import (
    ContactPrediction,
    ContactQuantity,
    Countdown,
    Estimate,
    PathPoint,
    Spread,
    StopFigures,
)

Q = Quantity
LATERAL_Y = Curve((0.0, 5.0, 20.0, 200.0), (0.025, 0.024, -0.10, 1.1))
LATERAL_Z = Curve((0.0, 5.0, 20.0, 200.0), (-0.030, -0.018, 0.12, -0.9))
CLOSING = Curve((0.0, 2.0, 5.1, 20.0, 200.0), (0.071, 0.077, 0.083, 0.093, 0.51))


def closing_at(range_m: float) -> float:
    """Give a closing rate that fits the range."""
    return CLOSING.at(min(max(range_m, 0.0), 200.0)) or 0.0


def seconds_between(from_m: float, to_m: float) -> float:
    """Give the time the vehicle takes from one range to a nearer one."""
    steps = 200
    width = (from_m - to_m) / steps
    return sum(width / closing_at(from_m - (i + 0.5) * width) for i in range(steps))


def sample_at(t: float, range_m: float, closing: float) -> RelativeSample:
    """Give the measured sample at a range."""
    return RelativeSample(
        SourceId("optical"), 3120, t, range_m, -closing,
        LATERAL_Y.at(range_m) or 0.0, LATERAL_Z.at(range_m) or 0.0,
        0.29, -0.35, -0.38, 0.003, -0.0026, 0.03, 0.12, -0.12,
    )  # fmt: skip


def values_of(s: RelativeSample) -> dict[Quantity, float | None]:
    """Give the judged quantities of a sample that carries every rate."""
    lateral = math.hypot(s.y_m, s.z_m)
    return {
        Q.CLOSING_RATE: -s.range_rate_mps,
        Q.LATERAL_OFFSET: lateral,
        Q.LATERAL_RATE: math.hypot(s.y_rate_mps or 0.0, s.z_rate_mps or 0.0),
        Q.PITCH_YAW: math.hypot(s.pitch_deg, s.yaw_deg),
        Q.ROLL: abs(s.roll_deg),
        Q.PITCH_YAW_RATE: math.hypot(s.pitch_rate_dps or 0.0, s.yaw_rate_dps or 0.0),
        Q.ROLL_RATE: abs(s.roll_rate_dps or 0.0),
        Q.CORRIDOR_ANGLE: math.degrees(math.atan2(lateral, s.range_m)),
        Q.SOURCE_GAP: 0.03,
        Q.RANGE_RATE_GAP: 0.002,
    }


def estimate_of(s: RelativeSample, coasted_s: float = 0.0) -> Estimate:
    """Give an estimate near a sample, its sigmas grown by a coast."""
    grow = 1.0 + coasted_s
    return Estimate(
        s.range_m, 0.012 * grow, -s.range_rate_mps, 0.0018 * grow, s.y_m, s.z_m, 0.006 * grow,
        s.y_rate_mps or 0.0, s.z_rate_mps or 0.0, 0.001 * grow, s.roll_deg, s.pitch_deg,
        s.yaw_deg, 0.08 * grow, s.roll_rate_dps or 0.0, s.pitch_rate_dps or 0.0,
        s.yaw_rate_dps or 0.0, 0.01 * grow,
    )  # fmt: skip


def limits_now(
    file: LimitsFile, range_m: float, values: dict[Quantity, float | None]
) -> tuple[LimitNow, ...]:
    """Judge values against a file at a range, without any life over time."""
    made = []
    for limit in file.limits:
        value, bound = values.get(limit.quantity), limit.curve.at(range_m)
        margin = None
        if value is not None and bound is not None:
            margin = bound - value if limit.allow is Allow.BELOW else value - bound
        verdict = Verdict.UNKNOWN
        if margin is not None and margin >= 0.0:
            verdict = Verdict.INSIDE
        elif margin is not None:
            verdict = Verdict.OUTSIDE if limit.level is Level.WARNING else Verdict.CAUTION
        standing = verdict in (Verdict.OUTSIDE, Verdict.CAUTION)
        made.append(
            LimitNow(
                limit.id, limit.quantity, limit.basis, limit.level, limit.allow, value, bound,
                margin, verdict, standing, None, limit.action,
            )
        )  # fmt: skip
    return tuple(made)


def countdown(best_s: float, share: float = 0.05, present: float | None = None) -> Countdown:
    """Give a countdown with bounds a share of itself away."""
    return Countdown(best_s, best_s * (1 - share), best_s * (1 + share), present)


def prediction(file: LimitsFile, assumption: str = "control continues") -> ContactPrediction:
    """Give contact as it would be, with chances."""
    means = {
        Q.CLOSING_RATE: (0.071, 0.004, 0.9931),
        Q.LATERAL_OFFSET: (0.034, 0.02, 0.971),
        Q.LATERAL_RATE: (0.006, 0.003, 0.9991),
        Q.PITCH_YAW: (0.6, 0.4, 0.9999),
        Q.ROLL: (0.3, 0.2, 0.9999),
        Q.PITCH_YAW_RATE: (0.15, 0.04, 0.88),
        Q.ROLL_RATE: (0.04, 0.02, 0.9995),
    }
    quantities = tuple(
        ContactQuantity(
            limit.quantity, Spread(*means[limit.quantity][:2]), limit.minimum, limit.maximum,
            means[limit.quantity][2],
        )
        for limit in file.contact_limits
    )  # fmt: skip
    return ContactPrediction(assumption, quantities, 0.015, -0.030, 2e-4, 2e-5, 1.1e-4, 0.86, True)


def path_from(range_m: float) -> tuple[PathPoint, ...]:
    """Give the predicted path to contact, its fan widening on the way."""
    points = []
    for i in range(41):
        share = i / 40
        r = range_m * (1 - share)
        points.append(
            PathPoint(
                r, closing_at(r), 0.0018 + 0.004 * share, LATERAL_Y.at(r) or 0.0,
                LATERAL_Z.at(r) or 0.0, 0.006 + 0.012 * share,
                seconds_between(range_m, r) if share else 0.0,
            )
        )  # fmt: skip
    return tuple(points)


def stop_from(range_m: float, closing: float, hands_off_m: float = 1.8) -> StopFigures:
    """Give the way to halt, with 5.6 s of delay and 0.01 m/s² of braking."""
    way = closing * 5.6 + closing * closing / 0.02
    call = (range_m - hands_off_m - way) / closing
    return StopFigures(
        way, 5.6 + closing / 0.01, range_m - way, call, call - 1.1, (range_m - way) / closing,
        40.0, 1.2, 340.0, True, False,
    )  # fmt: skip


def source_now(source: str, in_use: bool, age_s: float | None, **changes: object) -> SourceNow:
    """Give a healthy source, then change what is named."""
    fields: dict[str, object] = {
        "source": source, "in_use": in_use, "age_s": age_s, "rate_hz": 10.0, "received": 3120,
        "lost": 0, "late": 0, "duplicates": 0, "invalid": 0, "stale": False,
        "lost_link": False, "gap_m": None if in_use else 0.03,
        "agrees": None if in_use else True, "flags": (), "clock_offset_s": 0.004,
    }  # fmt: skip
    fields.update(changes)
    return SourceNow(**fields)  # type: ignore[arg-type]
