"""The room's front: takes every sample, answers what is known now and what is to come.

Answers never change the state: asking or not asking makes no difference to what is found later.
What several answers share is worked out once for a time and kept until the next sample.
"""

from __future__ import annotations

import copy
from typing import Final

from console.core.ids import SourceId
from console.core.records import RelativeSample
from console.envelope.limits import LimitsFile
from console.envelope.quantity import Quantity
from console.envelope.setup import Setup
from console.motion.drift import DriftOutcome, FreeDrift
from console.motion.orbit import mean_motion_of_altitude
from console.tracking.agreement import Agreement
from console.tracking.archived import ASSUMPTION, ArchivedChances
from console.tracking.ballistic import Ballistic, covariance_of
from console.tracking.contact_time import (
    CLOSING,
    NOWHERE,
    OPENING,
    AlongNow,
    are_apart,
    best_time_s,
    countdown,
    courses_of,
    is_outside,
    motion_of,
    settled,
    union,
)
from console.tracking.control import controlled_state, features_of
from console.tracking.filter import RelativeFilter
from console.tracking.final_rate import FinalRate
from console.tracking.finding import Finding
from console.tracking.forecast import predict
from console.tracking.habit import Habit
from console.tracking.joint import Joint
from console.tracking.outlook import (
    ContactPrediction,
    Countdown,
    Estimate,
    Motion,
    PathPoint,
    StopFigures,
)
from console.tracking.path import path_to_contact
from console.tracking.plan import ClosingPlan, Course
from console.tracking.plausible import tamed
from console.tracking.readout import Cache, along_at, carried, estimate_of, start_of
from console.tracking.residuals import Features, ResidualArchive
from console.tracking.stopping import stop_figures
from console.tracking.track import SourceTrack, along_now

CORRIDOR_DEG: Final = 10.0


class Tracker:
    """Estimates, countdowns, predictions and data findings of one watch.

    Parameters
    ----------
    limits : LimitsFile
        Its glide slope, hands-off rule and contact limits are used.
    setup : Setup
        Source noise, orbit, port, keep-out and retreat.
    archive : ResidualArchive or None
        Leftovers of past passes for calibrated chances; None, or too few: closed forms.

    Notes
    -----
    All times are on the clock of the lead source: the first heard, or the preferred one.
    """

    def __init__(
        self, limits: LimitsFile, setup: Setup, archive: ResidualArchive | None = None
    ) -> None:
        self._archived: ArchivedChances | None = None
        if archive is not None and archive.is_enough:
            self._archived = ArchivedChances(archive, limits.contact_limits)
        self._limits = limits
        self._setup = setup
        self._plan = ClosingPlan.of(limits.glide_slope)
        self._joint = Joint(limits.data.stale_after_s)
        self._pairs: dict[SourceId, list[Agreement]] = {}
        self._habit = Habit()
        self._final = FinalRate(self._plan)
        mean_motion = mean_motion_of_altitude(setup.orbit.altitude_km)
        along_v, along_r = setup.port.offset_m
        self._drift = FreeDrift(
            setup.port.axis,
            mean_motion,
            (along_v, 0.0, along_r),
            setup.keep_out_radius_m,
            corridor_deg(limits),
        )
        self._ballistic = Ballistic(setup.port, mean_motion, limits.contact_limits)
        self._cache = Cache()
        self._findings: tuple[Finding, ...] | None = None
        """What stands, until the next sample."""

    @property
    def unchanging(self) -> tuple[object, ...]:
        """The parts that no sample changes: copies of a tracker share them."""
        return (
            self._limits,
            self._setup,
            self._plan,
            self._drift,
            self._ballistic,
            self._archived,
        )

    def __deepcopy__(self, memo: dict[int, object]) -> Tracker:
        """Give an independent tracker of the same state; what never changes is shared."""
        for shared in self.unchanging:
            memo[id(shared)] = shared
        twin = Tracker.__new__(Tracker)
        memo[id(self)] = twin
        for name, value in vars(self).items():
            setattr(twin, name, copy.deepcopy(value, memo))
        return twin

    def update(self, sample: RelativeSample) -> None:
        """Take one accepted sample of any source, in the order taken, valid or not.

        An invalid one, and one not newer than the newest of its source, change nothing.
        """
        if not sample.valid:
            return
        sample = tamed(sample)
        track = self._joint.tracks.get(sample.source)
        if track is None:
            track = self._add(sample.source)
        if track.newest is not None and sample.t <= track.newest.t:
            return
        self._findings = None
        track.take(sample)
        self._joint.take(track, sample)
        for pair in self._pairs[sample.source]:
            pair.take(track, sample.t)
        combined = self._joint.filter
        if combined is not None:
            self._habit.take(combined)
            if track is self._joint.best and not track.is_faulty:
                self._learn(track, sample, combined)
        self._cache.clear()

    def _learn(self, track: SourceTrack, sample: RelativeSample, state: RelativeFilter) -> None:
        """Learn the final rate from a believed range rate outside a manoeuvre."""
        along, noise = state.along, track.noise
        if along.axis.rate_rejects == 0 and not along.manoeuvring:
            range_m = along.axis.p
            self._final.take(
                range_m,
                -sample.range_rate_mps,
                noise.range_rate.variance(range_m),
                noise.gain_factor,
                noise.interval_s,
            )

    def prefer(self, source: SourceId) -> None:
        """Keep the combined state on this source's clock (call it when the one in use changes)."""
        self._joint.prefer(source)
        self._cache.clear()

    def _add(self, source: SourceId) -> SourceTrack:
        track = SourceTrack(source, self._setup.noise(source), self._plan)
        mine = self._pairs[source] = []
        for other in self._joint.tracks.values():
            pair = Agreement(other, track)
            mine.append(pair)
            self._pairs[other.source].append(pair)
        self._joint.add(track)
        return track

    def _state(self, t: float) -> RelativeFilter | None:
        """Give the combined filter carried to a time."""
        cache = self._cache
        if cache.t != t:
            cache.clear()
            cache.t = t
            combined = self._joint.filter
            cache.state = None if combined is None else carried(combined, t)
            if cache.state is not None:
                cache.now = along_now(cache.state.along, self._joint.best.noise, self._final)
        return cache.state

    def _now(self, t: float) -> AlongNow | None:
        cache = self._cache
        if cache.t != t:
            self._state(t)
        return cache.now

    def estimate(self, t: float) -> Estimate | None:
        """Give the combined estimate at a time, coasted where no sample is as new."""
        state, cache = self._state(t), self._cache
        if state is None:
            return None
        if cache.estimate is None:
            cache.estimate = estimate_of(state, self._joint.best.noise)
        return cache.estimate

    def range_m(self, t: float) -> float | None:
        """Give the estimated range alone: the cheap part of :meth:`estimate`."""
        if self._cache.t == t:
            return None if self._cache.state is None else self._cache.state.along.axis.p
        combined = self._joint.filter
        return None if combined is None else along_at(combined.along, combined.t, t).axis.p

    def source_estimate(self, source: SourceId, t: float) -> Estimate | None:
        """Give one source's own estimate at a time on its own clock."""
        track = self._joint.tracks.get(source)
        if track is None or not track.filter.started:
            return None
        known = self._cache.sources.get(source)
        if known is None or known[0] != t:
            known = t, estimate_of(carried(track.filter, t), track.noise)
            self._cache.sources[source] = known
        return known[1]

    def source_range_m(self, source: SourceId, t: float) -> float | None:
        """Give one source's own range alone: the cheap part of :meth:`source_estimate`."""
        track = self._joint.tracks.get(source)
        if track is None or not track.filter.started:
            return None
        return along_at(track.filter.along, track.filter.t, t).axis.p

    def motion(self, t: float) -> Motion:
        """Tell whether the vehicle closes, opens, or neither."""
        now = self._now(t)
        if now is None:
            return Motion.UNKNOWN
        cache = self._cache
        if cache.motion is None:
            cache.motion = motion_of(now)
        return cache.motion

    def to_contact(self, t: float) -> Countdown:
        """Give the time until range is zero."""
        return self.to_range(t, 0.0)

    def to_range(self, t: float, range_m: float) -> Countdown:
        """Give the time until a range is reached.

        Where sources disagree about the time to contact by more than 2.5 of their joint sigmas,
        or a lone source's rate with its own range, the bounds are the union of theirs and the
        best value the earliest.
        """
        now = self._now(t)
        if now is None:
            return NOWHERE
        cache = self._cache
        known = cache.countdowns.get(range_m)
        if known is None:
            known = countdown(now, self._plan, range_m, self._settled(now), self._courses(now))
            voices = self._voices(t)
            if voices:
                every = [countdown(one, self._plan, range_m) for one in voices]
                known = union([known, *every])
            cache.countdowns[range_m] = known
        return known

    def seconds_to(self, t: float, range_m: float) -> float | None:
        """Give the best value of :meth:`to_range` alone, without its bounds."""
        now = self._now(t)
        if now is None:
            return None
        known = self._cache.countdowns.get(range_m)
        if known is not None or self._voices(t):
            return self.to_range(t, range_m).best_s
        if now.p <= range_m or self.motion(t) is not CLOSING:
            return None
        courses = self._courses(now)
        if courses:
            return courses[0].time_s(range_m)
        return best_time_s(now, self._plan, range_m, self._settled(now))

    def _courses(self, now: AlongNow) -> tuple[Course, ...]:
        cache = self._cache
        if cache.courses is None:
            outside = -now.v > 0.0 and is_outside(now, self._plan)
            cache.courses = courses_of(now, self._plan) if outside else ()
        return cache.courses

    def _settled(self, now: AlongNow) -> AlongNow:
        cache = self._cache
        if cache.settled is None:
            cache.settled = settled(now, self._plan)
        return cache.settled

    def _voices(self, t: float) -> list[AlongNow]:
        """Give the separate states where they disagree about time to contact, else none."""
        cache = self._cache
        if cache.voices is None:
            states = [
                along_now(along_at(one.filter.along, one.filter.t, t), one.noise, self._final)
                for one in self._joint.believable(t)
            ]
            best = self._joint.best
            witness = best.witness
            if witness.along is not None and best.is_trusted:
                alone = along_at(witness.along, witness.t, t)
                states.append(along_now(alone, best.noise, self._final))
            cache.voices = states if are_apart(states) else []
        return cache.voices

    def features(self, t: float) -> Features | None:
        """Give what a forecast of contact is made from; None without an estimate."""
        state, now = self._state(t), self._now(t)
        if state is None or now is None:
            return None
        return features_of(now, state, self._habit, self._plan)

    def at_contact(self, t: float) -> ContactPrediction | None:
        """Give the prediction at contact if control continues; None while opening or behind 0.

        By archived residuals where there are enough, else in closed form, then uncalibrated.
        """
        state, now = self._state(t), self._now(t)
        if state is None or now is None or now.p <= 0.0 or self.motion(t) is OPENING:
            return None
        if self._archived is not None:
            return self._archived.predict(features_of(now, state, self._habit, self._plan))
        best = self.to_contact(t).best_s
        noise = self._joint.best.noise
        forecast = controlled_state(now, state, self._habit, noise, self._plan, best)
        return predict(ASSUMPTION, forecast, self._limits.contact_limits)

    def if_thrust_stops(self, t: float) -> ContactPrediction | None:
        """Give the prediction at contact if all thrust stops now; None where none is made."""
        state, now = self._state(t), self._now(t)
        if state is None or now is None or now.p <= 0.0:
            return None
        contact_s = self._drifts(state, now).passes_port_in_s
        if contact_s is None:
            return None
        covariance = covariance_of(now, state, self._joint.best.noise)
        start = start_of(now, state)
        return self._ballistic.predict(start, covariance, state, contact_s)

    def stop(self, t: float, age_s: float) -> StopFigures | None:
        """Give the figures of halting, backing out and drifting, the data's age charged."""
        state, now = self._state(t), self._now(t)
        if state is None or now is None:
            return None
        drift = self._drifts(state, now) if now.p > 0.0 else None
        return stop_figures(now, age_s, self._limits.hands_off, self._setup.retreat, drift)

    def _drifts(self, state: RelativeFilter, now: AlongNow) -> DriftOutcome:
        cache = self._cache
        if cache.drift is None:
            cache.drift = self._drift.ahead(start_of(now, state))
        return cache.drift

    def path(self, t: float) -> tuple[PathPoint, ...]:
        """Give the predicted path to contact; empty where the vehicle does not close."""
        state, now = self._state(t), self._now(t)
        if state is None or now is None:
            return ()
        bias = self._joint.best.noise.lateral_bias_m
        return path_to_contact(now, state, self._habit, bias, self._plan)

    def findings(self, t: float) -> tuple[Finding, ...]:
        """Give the findings that stand, those of each source together, in order heard."""
        if self._findings is not None:
            return self._findings
        out: list[Finding] = []
        for track in self._joint.tracks.values():
            out += track.checks.findings()
            for pair in self._pairs[track.source]:
                if pair.finding is not None and pair.finding.source == track.source:
                    out.append(pair.finding)
        self._findings = tuple(out)
        return self._findings


def corridor_deg(limits: LimitsFile) -> float:
    """Give the corridor's half-angle: the widest value of its limits, or 10 deg without one."""
    values = [
        value
        for limit in limits.limits
        if limit.quantity is Quantity.CORRIDOR_ANGLE
        for value in limit.curve.values
    ]
    widest = max(values, default=CORRIDOR_DEG)
    return widest if 0.0 < widest < 90.0 else CORRIDOR_DEG
