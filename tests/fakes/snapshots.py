"""Rich, believable snapshots of many situations, for tests and pictures of the views.

Nothing here is judged or estimated: the figures fit each other well enough to be looked at.
``SITUATIONS`` names every one, in the order of an approach.
"""

from __future__ import annotations

from collections.abc import Callable

from fakes.approach import (
    closing_at,
    countdown,
    estimate_of,
    limits_now,
    path_from,
    prediction,
    sample_at,
    seconds_between,
    source_now,
    stop_from,
    values_of,
)
from fakes.limits import fake_limits

from console.approach.event import Phase
from console.approach.snapshot import (
    Authority,
    CallLine,
    Counts,
    ExceedanceNow,
    LightSpan,
    LinkGap,
    Snapshot,
    Timed,
    Verdict,
)
from console.core.utc import parse_utc
from console.envelope.limits import Level
from console.envelope.quantity import Quantity
from console.tracking.outlook import Countdown, Motion
from tests.fakes.changed import replace

T_CONTACT = parse_utc("2031-04-11T09:42:22Z")
HANDS_OFF_M = 1.8
LIMITS = fake_limits()
NOWHERE = Countdown()
CREW_FIRST = Authority(("crew", "ground"), "vehicle", HANDS_OFF_M)


def exceedance(
    key: str, level: Level, raised: float, words: str, *, cleared: float | None = None,
    by: str | None = None, quantity: Quantity | None = None, action: str = "",
    source: str | None = None, value: float | None = None, limit: float | None = None,
) -> ExceedanceNow:  # fmt: skip
    """Give one exceedance, standing unless ``cleared`` is given."""
    return ExceedanceNow(
        key, key.split("#")[0], source, level, quantity, words, action, raised - 0.5, raised,
        cleared, by, None if by is None else raised + 4.0, value, limit, value, limit,
        None if value is None else raised + 1.0,
    )  # fmt: skip


def calls_at(t: float, range_m: float) -> tuple[CallLine, ...]:
    """Give the calls of an approach from 20 m, done, now and to come at a range."""
    plan = (
        ("release:20", "Hold at 20 m released", 20.0),
        ("step:12", "Step 12  cabin ready, confirmed", 12.5),
        ("mark:10", "10 metres, closing 9 centimetres a second, contact in 120 seconds", 10.0),
        ("mark:5", "5 metres, closing 8 centimetres a second, contact in 64 seconds", 5.1),
        ("mark:4", "4 metres", 4.0),
        ("step:14", "Step 14  hands-off point", HANDS_OFF_M),
        ("contact", "Contact, confirm soft capture", 0.0),
    )
    lines = []
    for key, words, at_m in plan:
        if at_m > range_m:
            state, done, ahead = "done", t - seconds_between(at_m, range_m), None
        elif range_m - at_m < 0.02:
            state, done, ahead = "now", t, None
        else:
            state, done, ahead = "next", None, seconds_between(range_m, at_m)
        lines.append(CallLine(key, words, state, done, ahead))
    later = ("Motion damped, retract ring", "Hooks closed 12 of 12", "Leak check, docked")
    lines += [CallLine(f"later:{i}", w, "later", None, None) for i, w in enumerate(later)]
    return tuple(lines)


def timeline_at(t: float) -> tuple[Timed, ...]:
    """Give what lay behind ``t`` on the way in, spaced as in the nominal pass."""
    plan = (
        (-161.0, "mark", "20 m"), (-130.0, "light", "sunrise"), (-60.0, "mark", "10 m"),
        (-40.0, "call", "10 m called"), (-12.0, "note", "picture steady"),
    )  # fmt: skip
    return tuple(Timed(t + dt, kind, label) for dt, kind, label in plan)


def light_at(t: float) -> tuple[LightSpan, ...]:
    """Give night, sunrise and a long day about ``t``."""
    return (
        LightSpan(t - 2100.0, t - 130.0, "night"),
        LightSpan(t - 130.0, t - 118.0, "twilight"),
        LightSpan(t - 118.0, t + 3200.0, "day"),
    )


def approach_at(range_m: float, phase: Phase = Phase.APPROACH) -> Snapshot:
    """Give a quiet snapshot at a range on the way in, everything known and inside."""
    to_contact_s = seconds_between(range_m, 0.0)
    t = T_CONTACT - to_contact_s
    closing = closing_at(range_m)
    sample = sample_at(t - 0.1, range_m, closing)
    values = values_of(sample)
    outside = range_m > HANDS_OFF_M
    mark = next((m for m in sorted(LIMITS.marks_m, reverse=True) if m < range_m - 0.02), None)
    present = range_m / closing if range_m > LIMITS.glide_slope.knee_m else None
    return Snapshot(
        t=t, phase=phase, phase_since=t - 240.0, source="optical", source_is_forced=False,
        measured=sample, values=values, age_s=0.1, stale=False, coasted=False, withdrawn=False,
        estimate=estimate_of(sample), motion=Motion.CLOSING,
        planned_closing_mps=LIMITS.glide_slope.curve.at(range_m),
        limits=limits_now(LIMITS, range_m, values),
        to_contact=countdown(to_contact_s, present=present),
        to_hands_off=(
            countdown(seconds_between(range_m, HANDS_OFF_M)) if outside else NOWHERE
        ),
        next_mark_m=mark,
        to_next_mark=NOWHERE if mark is None else countdown(seconds_between(range_m, mark)),
        at_contact=prediction(LIMITS),
        if_thrust_stops=prediction(LIMITS, "thrust stops now"),
        stop=stop_from(range_m, closing), path=path_from(range_m),
        authority=CREW_FIRST if outside else Authority(("vehicle",), None, None),
        calls=calls_at(t, range_m),
        sources=(source_now("optical", True, 0.1), source_now("radio", False, 0.2)),
        sources_disagree=False, exceedances=(), capture=None, timeline=timeline_at(t),
        link_gaps=(LinkGap(t - 97.0, t - 93.0),), light=light_at(t),
        counts=Counts(6240, 0, (), 0), contact_t=None,
        hands_off_t=None if outside else t - seconds_between(HANDS_OFF_M, range_m),
        outlook_facts=(
            "Contact in daylight, 2 min 10 s after sunrise, 43 min before sunset",
            "Contact under link coverage (relay east)",
        ),
    )  # fmt: skip


def nominal() -> Snapshot:
    """Give 5.1 m out with one acknowledged caution standing and two cleared: the drawing."""
    s = approach_at(5.1)
    caution = exceedance(
        "pitch-yaw-rate-caution#1", Level.CAUTION, s.t - 8.0,
        "Pitch / yaw rate 0.17 against 0.20 deg/s", by="KM", quantity=Quantity.PITCH_YAW_RATE,
        action="watch; hold if above limit for 3 s", value=0.17, limit=0.16,
    )  # fmt: skip
    radio = exceedance(
        "data:disagree#1", Level.CAUTION, s.t - 98.0, "Source radio range disagreed by 0.41 m",
        cleared=s.t - 95.9, by="KM", source="radio",
    )  # fmt: skip
    link = exceedance(
        "data:link#1", Level.WARNING, s.t - 196.0, "Link silent 4.2 s, state coasted",
        cleared=s.t - 191.8, by="KM", source="optical",
    )  # fmt: skip
    return replace(s, exceedances=(caution, radio, link))


def hold_20m() -> Snapshot:
    """Give the hold at 20 m: not closing, no countdown, rates about zero."""
    s = approach_at(20.0, Phase.HOLD)
    sample = sample_at(s.t - 0.1, 20.0, 0.002)
    values = values_of(sample)
    calls = (
        CallLine("mark:30", "30 metres", "done", s.t - 310.0, None),
        CallLine("hold:20", "Holding at 20 metres", "now", s.t - 200.0, None),
        CallLine("release:20", "Hold at 20 m, wait for release", "next", None, None),
        *(replace(c, state="later", in_s=None) for c in s.calls[2:]),
    )
    return replace(
        s, measured=sample, values=values, estimate=estimate_of(sample),
        motion=Motion.NOT_CLOSING, planned_closing_mps=0.0,
        limits=tuple(
            replace(n, limit=None, margin=None, verdict=Verdict.UNKNOWN, standing=False)
            if n.id == "closing-slow" else n for n in limits_now(LIMITS, 20.0, values)
        ),
        to_contact=NOWHERE, to_hands_off=NOWHERE, to_next_mark=NOWHERE, next_mark_m=10.0,
        at_contact=None, stop=None, path=(), calls=calls,
    )  # fmt: skip


def far_150m() -> Snapshot:
    """Give 150 m out, where the constant-rate figure differs from the planned law's."""
    return approach_at(150.0)


def retreating() -> Snapshot:
    """Give an ordered retreat at 9 m: opening."""
    s = approach_at(9.0, Phase.RETREAT)
    sample = sample_at(s.t - 0.1, 9.0, -0.19)
    values = values_of(sample)
    return replace(
        s, measured=sample, values=values, estimate=estimate_of(sample), motion=Motion.OPENING,
        limits=limits_now(LIMITS, 9.0, values), to_contact=NOWHERE, to_hands_off=NOWHERE,
        to_next_mark=NOWHERE, next_mark_m=None, at_contact=None, stop=None, path=(),
    )  # fmt: skip


def _silent(age_s: float, level: Level) -> Snapshot:
    s = approach_at(8.0)
    link = exceedance(
        "data:link#2", level, s.t - age_s + 1.0, f"Link silent {age_s:.1f} s, state coasted",
        source="optical",
    )  # fmt: skip
    assert s.measured is not None
    lost = age_s >= 5.0
    return replace(
        s, age_s=age_s, stale=True, exceedances=(link,),
        phase=Phase.DATA_LOST if lost else s.phase,
        phase_since=s.t - (age_s - 5.0 if lost else 240.0),
        estimate=estimate_of(s.measured, age_s), coasted=True,
        to_contact=countdown(96.0, 0.05 * (1 + age_s)),
        to_hands_off=countdown(74.0, 0.05 * (1 + age_s)),
        sources=(
            source_now("optical", True, age_s, stale=True, lost_link=lost, lost=int(age_s * 10)),
            source_now("radio", False, age_s + 0.1, stale=True, lost_link=lost, agrees=None,
                       gap_m=None),
        ),
        link_gaps=(*s.link_gaps, LinkGap(s.t - age_s, None)),
    )  # fmt: skip


def stale() -> Snapshot:
    """Give 1.6 s of silence: stale, a caution."""
    return _silent(1.6, Level.CAUTION)


def coasted() -> Snapshot:
    """Give 7.8 s of silence: data lost, a warning, bounds grown."""
    return _silent(7.8, Level.WARNING)


def withdrawn() -> Snapshot:
    """Give 24 s of silence: countdowns are no longer given."""
    return replace(
        _silent(24.0, Level.WARNING), withdrawn=True, to_contact=NOWHERE, to_hands_off=NOWHERE,
        to_next_mark=NOWHERE, at_contact=None, stop=None, path=(),
    )  # fmt: skip


def disagreeing() -> Snapshot:
    """Give two sources half a metre apart, one of them flagged."""
    s = approach_at(12.0)
    words = "Source radio range disagrees by 0.52 m, 6.1 sigma"
    return replace(
        s, sources_disagree=True,
        sources=(
            s.sources[0],
            replace(s.sources[1], gap_m=-0.52, agrees=False, flags=("data:disagree",), lost=12),
        ),
        exceedances=(
            exceedance("data:disagree#4", Level.CAUTION, s.t - 3.0, words, source="radio"),
        ),
    )  # fmt: skip


def warning_and_cautions() -> Snapshot:
    """Give an unacknowledged warning and two unacknowledged cautions, late in the approach."""
    s = approach_at(4.4)
    assert s.measured is not None
    sample = sample_at(s.t - 0.1, 4.4, 0.127)
    values = values_of(sample)
    values[Quantity.PITCH_YAW_RATE] = 0.18
    values[Quantity.LATERAL_OFFSET] = 0.173
    rows = (
        exceedance("closing-fast#2", Level.WARNING, s.t - 2.2,
                   "Closing rate 0.127 against 0.108 m/s", action="call hold", value=0.127,
                   quantity=Quantity.CLOSING_RATE, limit=0.108),
        exceedance("lateral-caution#1", Level.CAUTION, s.t - 11.0,
                   "Lateral offset 0.173 against 0.168 m", quantity=Quantity.LATERAL_OFFSET,
                   action="watch", value=0.173, limit=0.168),
        exceedance("pitch-yaw-rate-caution#3", Level.CAUTION, s.t - 4.0,
                   "Pitch / yaw rate 0.18 against 0.16 deg/s", quantity=Quantity.PITCH_YAW_RATE,
                   action="watch; hold if above limit for 3 s", value=0.18, limit=0.16),
        exceedance("roll#1", Level.WARNING, s.t - 140.0, "Roll 4.6 against 4.3 deg",
                   cleared=s.t - 131.0, quantity=Quantity.ROLL, action="call hold", value=4.6,
                   limit=4.3),
    )  # fmt: skip
    return replace(
        s, measured=sample, values=values, estimate=estimate_of(sample),
        limits=limits_now(LIMITS, 4.4, values), exceedances=rows, stop=stop_from(4.4, 0.127),
        to_contact=countdown(39.0), to_hands_off=countdown(21.0),
    )  # fmt: skip


def thirty_exceedances() -> Snapshot:
    """Give thirty exceedances, eighteen of them standing, nine warnings among these."""
    s = warning_and_cautions()
    standing = [
        exceedance(f"limit-{i:02d}#1", Level.WARNING if i < 9 else Level.CAUTION,
                   s.t - 90.0 + 4 * i, f"Closing rate 0.1{i:02d} against 0.108 m/s",
                   quantity=Quantity.CLOSING_RATE, action="watch; hold if above limit for 3 s",
                   value=0.12, limit=0.108, by="KM" if i % 3 == 0 else None)
        for i in range(18)
    ]  # fmt: skip
    cleared = [
        exceedance(f"old-{i:02d}#1", Level.CAUTION, s.t - 300.0 - 9 * i,
                   f"Source radio range disagreed by 0.{40 + i} m",
                   cleared=s.t - 296.0 - 9 * i, by="KM", source="radio")
        for i in range(12)
    ]  # fmt: skip
    return replace(s, exceedances=(*standing, *cleared))


def inside_hands_off() -> Snapshot:
    """Give 1.2 m out: the vehicle alone may abort."""
    s = approach_at(1.2, Phase.HANDS_OFF)
    assert s.stop is not None
    return replace(s, stop=replace(s.stop, hold_call_s=None, hold_call_safe_s=None))


def no_data() -> Snapshot:
    """Give a watch that has heard nothing yet."""
    s = approach_at(20.0, Phase.WAITING)
    return replace(
        s, source=None, measured=None, values={}, age_s=None, estimate=None,
        motion=Motion.UNKNOWN, planned_closing_mps=None,
        limits=tuple(
            replace(n, value=None, limit=None, margin=None, verdict=Verdict.UNKNOWN,
                    standing=False)
            for n in s.limits
        ),
        to_contact=NOWHERE, to_hands_off=NOWHERE, to_next_mark=NOWHERE, next_mark_m=None,
        at_contact=None, if_thrust_stops=None, stop=None, path=(), calls=(), sources=(),
        timeline=(), link_gaps=(), light=(), counts=Counts(0, 0, (), 0),
    )  # fmt: skip


SITUATIONS: dict[str, Callable[[], Snapshot]] = {
    "no data": no_data,
    "far": far_150m,
    "hold": hold_20m,
    "disagreeing": disagreeing,
    "retreating": retreating,
    "stale": stale,
    "coasted": coasted,
    "withdrawn": withdrawn,
    "nominal": nominal,
    "warning": warning_and_cautions,
    "thirty": thirty_exceedances,
    "hands-off": inside_hands_off,
}
