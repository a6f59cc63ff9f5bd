"""Whether a limits file, read without fault, also hangs together.

What is found here is no reason to refuse a file: an engineer may mean it. Each finding says what
contradicts what, where, and how to mend it. The rules on curves, dead bands and gaps stand here,
those that need motion in :mod:`console.envelope.consistency_motion`.
"""

from __future__ import annotations

from collections.abc import Iterator

from console.envelope.consistency_motion import (
    contact_findings,
    delay_findings,
    glide_slope_findings,
    stopping_findings,
)
from console.envelope.inconsistency import Inconsistency, Kind, mirrored
from console.envelope.limits import Allow, Level, Limit, LimitsFile
from console.envelope.overlap import differences, shared_span_m
from console.envelope.quantity import UNIT, Quantity


def inconsistencies(limits: LimitsFile) -> tuple[Inconsistency, ...]:
    """Give all that does not hang together, the contradictions first.

    Parameters
    ----------
    limits : LimitsFile
        Read without fault.

    Returns
    -------
    tuple of Inconsistency
        Level caution: the file contradicts itself. Level advisory: something is left open that
        is usually closed.
    """
    found = [
        *_order_findings(limits),
        *glide_slope_findings(limits),
        *contact_findings(limits),
        *_gap_findings(limits),
        *_deadband_findings(limits),
        *delay_findings(limits),
        *stopping_findings(limits),
    ]
    return tuple(sorted(found, key=lambda one: -one.level))


# ------------------------------------------------------------------ caution before warning


def _order_findings(limits: LimitsFile) -> Iterator[Inconsistency]:
    """Find warnings that can come before their caution; of several cautions the best counts."""
    for warning in limits.limits:
        if warning.level is not Level.WARNING:
            continue
        against = [
            list(_order_of(caution, warning))
            for caution in limits.limits
            if caution.level is Level.CAUTION
            and (caution.quantity, caution.allow) == (warning.quantity, warning.allow)
        ]
        if against:
            yield from min(against, key=lambda found: (_worst(found), len(found)))


def _worst(found: list[Inconsistency]) -> int:
    return max((one.level for one in found), default=Level.ADVISORY)


def _order_of(caution: Limit, warning: Limit) -> Iterator[Inconsistency]:
    unit = UNIT[warning.quantity]
    sign = mirrored(warning.allow)
    apart = [(r, sign * gap) for r, gap in differences(warning.curve, caution.curve)]
    range_m, least = min(apart, key=lambda pair: pair[1], default=(0.0, 0.0))
    if least < 0.0:
        yield Inconsistency(
            Kind.ORDER,
            Level.CAUTION,
            warning.id,
            f"at {range_m:g} m it is {-least:.4g} {unit} tighter than its caution {caution.id}",
            "let the caution's curve be the tighter one at every range",
        )
    if caution.on_delay_s > warning.on_delay_s:
        yield Inconsistency(
            Kind.ORDER,
            Level.CAUTION,
            warning.id,
            f"on_delay_s {warning.on_delay_s:g} is shorter than the {caution.on_delay_s:g} of its "
            f"caution {caution.id}",
            "give the caution the same on-delay or a shorter one",
        )
    if caution.basis is not warning.basis:
        yield Inconsistency(
            Kind.ORDER,
            Level.ADVISORY,
            warning.id,
            f"judges {warning.basis.value} values, its caution {caution.id} "
            f"{caution.basis.value} ones",
            "judge both by the same basis, or either may come first",
        )
    yield from _uncovered(caution, warning)


def _uncovered(caution: Limit, warning: Limit) -> Iterator[Inconsistency]:
    first, last = warning.curve.ranges_m[0], warning.curve.ranges_m[-1]
    span = shared_span_m(caution.curve, warning.curve)
    if span != (first, last):
        low, high = caution.curve.ranges_m[0], caution.curve.ranges_m[-1]
        yield Inconsistency(
            Kind.ORDER,
            Level.CAUTION,
            warning.id,
            f"is applied from {first:g} to {last:g} m, its caution {caution.id} only from "
            f"{low:g} to {high:g} m",
            "let the caution's curve reach as far at both ends",
        )


# ------------------------------------------------------------------ gaps and dead bands


def _gap_findings(limits: LimitsFile) -> Iterator[Inconsistency]:
    """Find ranges between two curves of the same kind at which neither is applied."""
    kinds: dict[tuple[Quantity, Allow, Level], list[Limit]] = {}
    for limit in limits.limits:
        kinds.setdefault((limit.quantity, limit.allow, limit.level), []).append(limit)
    for (quantity, _, level), same in kinds.items():
        same.sort(key=lambda limit: limit.curve.ranges_m[0])
        reached = same[0]
        for limit in same[1:]:
            inner, outer = reached.curve.ranges_m[-1], limit.curve.ranges_m[0]
            if outer > inner:
                yield Inconsistency(
                    Kind.GAP,
                    Level.CAUTION,
                    limit.id,
                    f"no {level.word} of {quantity.value} is applied from {inner:g} to "
                    f"{outer:g} m, between {reached.id} and {limit.id}",
                    "let the two curves meet",
                )
            if limit.curve.ranges_m[-1] > inner:
                reached = limit


def _deadband_findings(limits: LimitsFile) -> Iterator[Inconsistency]:
    """Find dead bands so wide that what stands can never clear."""
    for limit in limits.limits:
        mend = f"choose a dead band below the region's width (found {limit.deadband:g})"
        least, range_m = min(
            zip(limit.curve.values, limit.curve.ranges_m, strict=True), key=lambda p: p[0]
        )
        is_size = limit.quantity is not Quantity.CLOSING_RATE
        if limit.allow is Allow.BELOW and is_size and limit.deadband > least:
            unit = UNIT[limit.quantity]
            words = f"region is {least:g} {unit} wide at {range_m:g} m: it never clears there"
            yield Inconsistency(Kind.DEADBAND, Level.CAUTION, limit.id, words, mend)
        if limit.allow is Allow.BELOW:
            yield from _deadbands_between(limit, limits)


def _deadbands_between(upper: Limit, limits: LimitsFile) -> Iterator[Inconsistency]:
    for lower in limits.limits:
        if lower.quantity is not upper.quantity or lower.allow is not Allow.ABOVE:
            continue
        widths = differences(upper.curve, lower.curve)
        range_m, width = min(widths, key=lambda pair: pair[1], default=(0.0, float("inf")))
        bands = max(upper.deadband, lower.deadband)
        if width < bands:
            yield Inconsistency(
                Kind.DEADBAND,
                Level.CAUTION,
                upper.id,
                f"region between it and {lower.id} is {width:.4g} {UNIT[upper.quantity]} wide at "
                f"{range_m:g} m, less than a dead band of {bands:g}",
                "move the curves apart or make the dead band smaller",
            )
