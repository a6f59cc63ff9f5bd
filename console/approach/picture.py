"""Draws the snapshot from the state model; reads everything, changes nothing."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from console.approach.approach_course import FORGOTTEN_S
from console.approach.call import Expected, expected_after_contact, in_order, mark_ahead
from console.approach.event import Phase
from console.approach.shelf import shelved_now
from console.approach.snapshot import (
    CallLine,
    Counts,
    ExceedanceNow,
    Snapshot,
    SourceNow,
)
from console.approach.words import metres
from console.core.units import MICROSECOND_S
from console.judging.exceedance import Exceedance
from console.tracking.finding import FindingId
from console.tracking.outlook import Countdown, Estimate, Motion
from console.tracking.source import Source

if TYPE_CHECKING:
    from console.approach.state import StateModel

MARKS_LISTED = 3
HANDS_OFF, ABORT = Phase.HANDS_OFF, Phase.ABORT
CLEARED_SHOWN = 100
NOWHERE = Countdown()
DISAGREE = FindingId.DISAGREE.value


def draw(model: StateModel) -> Snapshot:
    """Give the whole picture at the model's present time."""
    t = model.now
    current = model.board.current
    age_s = None if current is None else current.age_s(model.engine_s)
    before_contact = model.contact.t is None
    withdrawn = age_s is not None and age_s > model.setup.withdraw_s
    is_known = age_s is not None and age_s <= FORGOTTEN_S
    is_ahead = before_contact and is_known
    countdowns = is_ahead and not withdrawn
    tracker = model.tracker
    estimate = tracker.estimate(t) if is_known else None
    stale = current is not None and model.board.is_stale(current, model.engine_s)
    inside = model.phases.phase is HANDS_OFF
    range_m = _range_m(current, estimate)
    next_mark = _next_mark(model, range_m) if countdowns else None
    sources = tuple([_source(model, source) for source in model.board.sources.values()])
    return Snapshot(
        t=t,
        phase=model.phases.phase,
        phase_since=model.phases.since,
        source=model.board.in_use,
        source_is_forced=model.board.forced is not None,
        measured=None if current is None else current.newest,
        values=model.desk.values(),
        age_s=age_s,
        stale=stale,
        coasted=stale and before_contact,
        withdrawn=withdrawn and before_contact,
        estimate=estimate,
        motion=tracker.motion(t) if is_ahead else Motion.UNKNOWN,
        planned_closing_mps=None
        if estimate is None
        else model.limits.glide_slope.curve.at(estimate.range_m),
        limits=model.desk.limits_now(stale),
        to_contact=tracker.to_contact(t) if countdowns else NOWHERE,
        to_hands_off=tracker.to_range(t, model.limits.hands_off.range_m)
        if countdowns and not inside
        else NOWHERE,
        next_mark_m=next_mark,
        to_next_mark=NOWHERE if next_mark is None else tracker.to_range(t, next_mark),
        at_contact=tracker.at_contact(t) if countdowns else None,
        if_thrust_stops=tracker.if_thrust_stops(t) if countdowns else None,
        stop=tracker.stop(t, age_s or 0.0) if countdowns else None,
        path=tracker.path(t) if countdowns else (),
        authority=model.authority.now,
        calls=_calls(model, range_m, t, countdowns),
        sources=sources,
        sources_disagree=any(DISAGREE in source.flags for source in sources),
        exceedances=tuple(
            [
                exceedance_now(e, is_shelved=model.register.is_shelved(e))
                for e in model.register.listed(CLEARED_SHOWN)
            ]
        ),
        capture=model.capture.picture(
            model.contact, model.phases.phase, model.engine_s, model.limits.data.lost_after_s
        ),
        timeline=tuple(model.timeline),
        link_gaps=model.gaps.told(model.board.current),
        light=() if model.outlook is None else model.outlook.light,
        counts=_counts(model),
        contact_t=model.contact.t,
        hands_off_t=None if model.milestones.hands_off is None else model.milestones.hands_off.t,
        polls=() if model.procedure is None else model.procedure.poll_picture(model.engine_s),
        shelved=shelved_now(model.register, model.engine_s),
        outlook_notes=() if model.outlook is None else model.outlook.notes,
        outlook_facts=() if model.outlook is None else model.outlook.facts,
        planned_gaps=() if model.outlook is None else model.outlook.gaps(t),
    )


def exceedance_now(exceedance: Exceedance, *, is_shelved: bool = False) -> ExceedanceNow:
    """Give an exceedance of the register as the snapshot shows it."""
    return ExceedanceNow(
        key=exceedance.key,
        id=exceedance.id,
        source=exceedance.source,
        level=exceedance.level,
        quantity=exceedance.quantity,
        words=exceedance.words,
        action=exceedance.action,
        onset=exceedance.onset,
        raised=exceedance.raised,
        cleared=exceedance.cleared,
        acknowledged_by=exceedance.acknowledged_by,
        acknowledged_t=exceedance.acknowledged_t,
        value=exceedance.value,
        limit=exceedance.limit,
        peak=exceedance.peak,
        peak_limit=exceedance.peak_limit,
        peak_t=exceedance.peak_t,
        waits=exceedance.waits,
        shelved=is_shelved,
    )


def _counts(model: StateModel) -> Counts:
    total = model.sequence.total()
    return Counts(
        received=total.received,
        rejected=sum(model.rejects.values()),
        rejects_by_reason=tuple(sorted(model.rejects.items())),
        overflowed=model.overflowed,
        repeated=total.duplicates,
        late=sum(model.late.values()),
        restarts=total.restarts,
        leapt=sum(model.leaps.refused.values()),
    )


def _next_mark(model: StateModel, range_m: float | None) -> float | None:
    ahead = [] if range_m is None else model.milestones.marks_ahead(range_m)
    return ahead[0] if ahead else None


def _range_m(current: Source | None, estimate: Estimate | None) -> float | None:
    """Give the estimated range, or the measured one while there is no estimate."""
    if estimate is not None:
        return estimate.range_m
    return None if current is None else current.newest.range_m


def _calls(
    model: StateModel, range_m: float | None, t: float, countdowns: bool
) -> tuple[CallLine, ...]:
    def seconds(to_m: float) -> float | None:
        return model.tracker.seconds_to(t, to_m) if countdowns else None

    expected = _expected(model, range_m, seconds)
    if model.procedure is not None:
        expected += model.procedure.waiting(model.engine_s, seconds)
    return model.calls.lines(t, in_order(expected))


def _expected(
    model: StateModel, range_m: float | None, seconds: Callable[[float], float | None]
) -> list[Expected]:
    if model.phases.is_after_contact:
        return expected_after_contact(model.phases.phase, model.calls.keys)
    if range_m is None or model.phases.phase is ABORT:
        return []
    expected = [
        mark_ahead(m, seconds(m)) for m in model.milestones.marks_ahead(range_m)[:MARKS_LISTED]
    ]
    hands_off_m = model.limits.hands_off.range_m
    if model.phases.phase is not HANDS_OFF and range_m > hands_off_m:
        words = f"Hands-off point, {metres(hands_off_m)}"
        expected.append(Expected("hands_off", words, seconds(hands_off_m), at_m=hands_off_m))
    words = "Contact, confirm soft capture"
    expected.append(Expected("contact", words, seconds(0.0), stage=0, at_m=0.0))
    return expected + expected_after_contact(model.phases.phase, model.calls.keys)[1:]


def _source(model: StateModel, source: Source) -> SourceNow:
    engine_s = model.engine_s
    name = source.id
    counts = model.sequence.counts(name)
    in_use = name == model.board.in_use
    age_s, stale = source.age_s(engine_s), model.board.is_stale(source, engine_s)
    gap_m = None if in_use or stale else _gap_m(model, source)
    flags = model.flags.flags_of(name)
    offset_s = source.clock_offset_s
    return SourceNow(
        source=name,
        in_use=in_use,
        age_s=age_s,
        rate_hz=None if not source.interval_s else 1.0 / source.interval_s,
        received=counts.received,
        lost=counts.lost,
        late=model.late.get(name, 0),
        duplicates=counts.duplicates,
        invalid=model.invalid.get(name, 0),
        stale=stale,
        lost_link=age_s > model.limits.data.lost_after_s + MICROSECOND_S,
        gap_m=gap_m,
        agrees=None if gap_m is None else DISAGREE not in flags,
        flags=flags,
        clock_offset_s=offset_s if offset_s != 0.0 else None,
    )


def _gap_m(model: StateModel, source: Source) -> float | None:
    current = model.board.current
    if current is None or model.board.is_stale(current, model.engine_s):
        return None
    if not current.shares_clock_with(source):
        # at one and the same time of day they speak of different moments
        return None
    t = current.newest.t
    mine_m = model.tracker.source_range_m(source.id, t)
    theirs_m = model.tracker.source_range_m(current.id, t)
    if mine_m is not None and theirs_m is not None:
        return mine_m - theirs_m
    step_s = current.newest.t - source.newest.t
    moved_m = source.newest.range_m + source.newest.range_rate_mps * step_s
    return moved_m - current.newest.range_m
