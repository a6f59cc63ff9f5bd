"""What a limits file says of motion, held against itself: plan, contact, delays, stopping."""

from __future__ import annotations

import math
from collections.abc import Iterator

from console.envelope.inconsistency import Inconsistency, Kind, mirrored
from console.envelope.limits import (
    Allow,
    ContactLimit,
    Curve,
    GlideSlope,
    Level,
    Limit,
    LimitsFile,
)
from console.envelope.overlap import differences
from console.envelope.quantity import UNIT, Quantity
from console.motion.braking import stopping_distance_m
from console.motion.glide_slope import transfer_s

ROUNDING = 1e-9
"""Room for what decimal figures lose in binary."""


def planned_time_s(slope: GlideSlope, range_m: float) -> float:
    """Give the time from a range to contact along the glide slope, s.

    Notes
    -----
    Segment by segment T = (1/a) ln(v_end/v_start), :func:`console.motion.glide_slope.transfer_s`;
    outside its last point the slope's last rate is held.
    """
    curve = slope.curve
    total, reach = 0.0, min(range_m, curve.ranges_m[-1])
    for piece in curve.pieces():
        outer = min(piece.r1, reach)
        if outer > piece.r0:
            total += transfer_s(outer - piece.r0, -piece.at(outer), -piece.low)
    return total + max(range_m - reach, 0.0) / curve.values[-1]


def glide_slope_findings(limits: LimitsFile) -> Iterator[Inconsistency]:
    """Find where the planned closing rate is outside a closing limit, or never clears it."""
    for limit in limits.limits:
        if limit.quantity is not Quantity.CLOSING_RATE:
            continue
        sign = mirrored(limit.allow)
        room = [(r, sign * gap) for r, gap in differences(limit.curve, limits.glide_slope.curve)]
        range_m, least = min(room, key=lambda pair: pair[1], default=(0.0, math.inf))
        if least >= limit.deadband - ROUNDING:
            continue
        if least < -ROUNDING:
            words = f"the planned rate is {-least:.4g} m/s beyond it at {range_m:g} m"
        else:
            words = (
                f"the planned rate is {max(least, 0.0):.4g} m/s inside it at {range_m:g} m, less "
                f"than its dead band of {limit.deadband:g}: what stands there does not clear"
            )
        mend = "move the curve, or plan another rate in [glide_slope]"
        yield Inconsistency(Kind.GLIDE_SLOPE, Level.CAUTION, limit.id, words, mend)


def contact_findings(limits: LimitsFile) -> Iterator[Inconsistency]:
    """Find contact limits that the warnings at 0 m do not keep, or do not guard at all."""
    if not limits.limits:
        return
    for contact in limits.contact_limits:
        for allow, bound in ((Allow.BELOW, contact.maximum), (Allow.ABOVE, contact.minimum)):
            is_size = contact.quantity is not Quantity.CLOSING_RATE
            if bound is None or (allow is Allow.ABOVE and is_size and bound <= 0.0):
                continue
            yield from _guard_of(limits, contact, allow, bound)


def _guard_of(
    limits: LimitsFile, contact: ContactLimit, allow: Allow, bound: float
) -> Iterator[Inconsistency]:
    name = contact.quantity.value
    side = "max" if allow is Allow.BELOW else "min"
    unit = UNIT[contact.quantity]
    guards: list[tuple[Limit, float]] = []
    for limit in limits.limits:
        at_zero = limit.curve.at(0.0)
        same = (limit.quantity, limit.allow) == (contact.quantity, allow)
        if same and limit.level is Level.WARNING and at_zero is not None:
            guards.append((limit, at_zero))
    if not guards:
        yield Inconsistency(
            Kind.CONTACT,
            Level.ADVISORY,
            f"contact_limit[{name}]",
            f"no warning reaches 0 m to keep its {side} of {bound:g} {unit}",
            f'add a [[limit]] of {name}, allow = "{allow.value}", with a point at range 0',
        )
        return
    sign = mirrored(allow)
    limit, value = min(guards, key=lambda pair: sign * pair[1])
    if sign * (value - bound) > ROUNDING:
        yield Inconsistency(
            Kind.CONTACT,
            Level.CAUTION,
            limit.id,
            f"allows {value:g} {unit} at 0 m, the contact limit is {side} {bound:g}",
            "let the curve end inside the contact limit",
        )


def delay_findings(limits: LimitsFile) -> Iterator[Inconsistency]:
    """Find on-delays that outlast the way from where a limit begins to contact."""
    hands_off = limits.hands_off
    answer_s = hands_off.link_delay_s + hands_off.reaction_s
    for limit in limits.limits:
        outermost = limit.curve.ranges_m[-1]
        time_s = _time_to_contact_s(limits, limit, outermost)
        left_s = time_s - _time_to_contact_s(limits, limit, min(hands_off.range_m, outermost))
        if limit.on_delay_s >= time_s:
            yield Inconsistency(
                Kind.DELAY,
                Level.CAUTION,
                limit.id,
                f"on_delay_s {limit.on_delay_s:g} is not shorter than the {time_s:.3g} s from "
                f"its outermost range, {outermost:g} m, to contact: never raised in time",
                "shorten the delay or begin the curve farther out",
            )
        elif limit.level is Level.WARNING and limit.on_delay_s + answer_s > left_s:
            yield Inconsistency(
                Kind.DELAY,
                Level.ADVISORY,
                limit.id,
                f"on-delay, link and reaction take {limit.on_delay_s + answer_s:.3g} s, but only "
                f"{max(left_s, 0.0):.3g} s pass from its outermost range to the hands-off point",
                "begin the curve farther out if a call shall follow from it",
            )


def _time_to_contact_s(limits: LimitsFile, limit: Limit, range_m: float) -> float:
    """Give the time to contact as planned, for an upper closing limit at the limit's own rate."""
    is_fast = limit.quantity is Quantity.CLOSING_RATE and limit.allow is Allow.BELOW
    if is_fast and limit.curve.ranges_m[0] == 0.0 and min(limit.curve.values) > 0.0:
        return planned_time_s(GlideSlope(limit.curve), range_m)
    return planned_time_s(limits.glide_slope, range_m)


def stopping_findings(limits: LimitsFile) -> Iterator[Inconsistency]:
    """Find ranges from which a stop called in time does not stop the vehicle before contact.

    Along a straight piece of a curve range less stopping distance is concave in range, so its
    least value is at a point; the hands-off point is looked at as well.
    """
    plan = limits.glide_slope.curve
    yield from _unstoppable(limits, plan, "hands_off", "the planned rate")
    for limit in limits.limits:
        is_fast = limit.quantity is Quantity.CLOSING_RATE and limit.allow is Allow.BELOW
        if is_fast and limit.level is Level.WARNING:
            yield from _unstoppable(limits, limit.curve, limit.id, "its limit")


def _unstoppable(
    limits: LimitsFile, curve: Curve, place: str, what: str
) -> Iterator[Inconsistency]:
    hands_off = limits.hands_off
    delay_s = hands_off.link_delay_s + hands_off.reaction_s
    worst: tuple[float, float, float] | None = None
    for range_m in sorted({hands_off.range_m, *curve.ranges_m}):
        rate = curve.at(range_m)
        if rate is None or range_m < hands_off.range_m:
            continue
        way_m = stopping_distance_m(rate, delay_s, hands_off.braking_mps2)
        if way_m > range_m and (worst is None or way_m - range_m > worst[0]):
            worst = (way_m - range_m, range_m, way_m)
    if worst is not None:
        _, range_m, way_m = worst
        yield Inconsistency(
            Kind.STOPPING,
            Level.CAUTION,
            place,
            f"at {what} a stop called at {range_m:g} m takes {way_m:.3g} m, so the port is met "
            f"outside the hands-off range of {hands_off.range_m:g} m",
            "lower the rate there, or move the hands-off point out",
        )
