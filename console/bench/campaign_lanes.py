"""Many runs of a campaign side by side: the same rows as run by run, at a tenth of the cost.

Nearly all time of a run goes into the estimator. So runs whose data gives no cause for doubt are
stepped through it in lanes (:mod:`console.tracking.lanes`) and judged as whole passes; a run with
invalid samples, a source that falls silent or a check that might speak is watched by the engine
itself, sample by sample. Both ways give the same row; a test holds them equal.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final, TypeAlias

import numpy as np
from numpy.typing import NDArray

from console.bench.campaign_columns import Samples, columns_of_lane, contact_row
from console.bench.campaign_order import Prepared
from console.bench.campaign_run import Row, drawn_of, fly_run, judged_row, true_row
from console.core.ids import SourceId
from console.core.records import RelativeSample
from console.judging.columns import PassColumns
from console.judging.whole_pass import PassJudge
from console.simulation.scenario import Sensor
from console.simulation.sensor import MeasuredColumns
from console.simulation.simulate import observe
from console.tracking.filter import RelativeFilter
from console.tracking.joint import Joint
from console.tracking.lane_state import LaneState
from console.tracking.lanes import LaneFilter
from console.tracking.plain import SourceHistory, may_warn
from console.tracking.plan import ClosingPlan
from console.tracking.track import SourceTrack

Floats: TypeAlias = NDArray[np.float64]
Flags: TypeAlias = NDArray[np.bool_]

START_S: Final = 3.0
"""So long each run is watched by the estimator itself, until all its filters have started."""
QUIET_S: Final = 5.0
"""The second source may be silent so long: longer silences are left to the engine."""
LEARNED: Final = (0, 1, 2, 3)
"""Noise channels the checks look at."""
MARGIN_S: Final = 1e-3
LANES: Final = 100
"""Lanes that fly together: more cost less each, and take more memory."""


@dataclass(frozen=True, slots=True)
class Lane:
    """One run on its way.

    Attributes
    ----------
    row : dict
        What was true of it.
    sources : tuple of MeasuredColumns, length 2
        The first heard first; no more than is judged.
    """

    run: int
    row: Row
    t_contact: float | None
    sources: tuple[MeasuredColumns, MeasuredColumns]

    @property
    def end_t(self) -> float:
        """Time of the last sample that is judged."""
        return float(self.sources[0].t[-1])


class _Course:
    """Lanes that fly together: samples on the common grid, and what is noted of each."""

    def __init__(self, lanes: Sequence[Lane]) -> None:
        count = len(lanes)
        self.sizes = [max(int(lane.sources[i].number[-1]) + 1 for lane in lanes) for i in (0, 1)]
        self.t = [np.full(size, np.nan) for size in self.sizes]
        self.values = [np.zeros((size, 12, count)) for size in self.sizes]
        self.present: list[Flags] = [
            np.zeros((size, count), dtype=np.bool_) for size in self.sizes
        ]
        self.estimates = np.full((self.sizes[0], 12, count), np.nan)
        """Positions, then rates, of the combined filter after each sample of the first source."""
        self.learned = [np.full((size, 5, count), np.nan) for size in self.sizes]
        """Interval and four noise factors of each source after each of its samples."""
        for number, lane in enumerate(lanes):
            for i, source in enumerate(lane.sources):
                self.t[i][source.number] = source.t
                self.values[i][source.number, :, number] = source.values
                self.present[i][source.number, number] = True


class LaneFlight:
    """Fly units of work in lanes.

    Parameters
    ----------
    prepared : Prepared
        The order, read.
    """

    def __init__(self, prepared: Prepared) -> None:
        self._prepared = prepared
        self._sensors = prepared.scenario.sensors
        limits, setup = prepared.limits, prepared.setup
        self._plan = ClosingPlan.of(limits.glide_slope)
        self._judge = PassJudge(limits)
        if len(self._sensors) == 2:
            order = sorted((0, 1), key=lambda i: (self._sensors[i].phase_s, self._sensors[i].name))
            self._order = (order[0], order[1])
            first, second = (self._sensors[i] for i in order)
            self._filter = LaneFilter(
                self._plan,
                (setup.noise(first.name), setup.noise(second.name)),
                (_sent(first), _sent(second)),
                limits.data.stale_after_s,
            )

    def fly(self, runs: Sequence[int]) -> list[Row]:
        """Fly runs; give their rows in order."""
        rows: dict[int, Row] = {}
        for begin in range(0, len(runs), LANES):
            some = (self._lane(run) for run in runs[begin : begin + LANES])
            lanes = [lane for lane in some if lane is not None]
            lanes.sort(key=lambda lane: (-lane.end_t, lane.run))
            for lane, columns in self._through(lanes):
                judged = judged_row(
                    self._prepared.limits, lane.t_contact, self._judge.judge(columns), columns
                )
                rows[lane.run] = lane.row | judged
        for run in runs:
            if run not in rows:
                rows[run] = fly_run(self._prepared, run)
        return [rows[run] for run in runs]

    def _lane(self, run: int) -> Lane | None:
        """Simulate a run; None where its data asks for the engine itself."""
        if len(self._sensors) != 2:
            return None
        prepared = self._prepared
        drawn = drawn_of(prepared, run)
        observed = observe(drawn.scenario, prepared.limits, prepared.setup, drawn.seed)
        first, second = (observed.measured[i] for i in self._order)
        rows = contact_row(first.values[:, 0])
        if rows < 2:
            return None
        first = _cut(first, rows)
        second = _cut(second, int(np.searchsorted(second.t, first.t[-1], side="right")))
        if not self._is_steady(first, second):
            return None
        row = true_row(prepared.limits, run, drawn, observed.truth)
        return Lane(run, row, observed.truth.t_contact, (first, second))

    def _is_steady(self, first: MeasuredColumns, second: MeasuredColumns) -> bool:
        """Tell whether both sources are valid and heard throughout, the first one foremost."""
        lead = self._sensors[self._order[0]]
        if not (lead.sends_lateral_rates and lead.sends_body_rates) or len(second.t) < 2:
            return False
        begun, end_t = first.t[0], first.t[-1]
        is_valid = not (first.invalid.any() or second.invalid.any())
        is_first = first.number[0] == 0 and begun < second.t[0] and end_t - begun > START_S
        stale_s = self._prepared.limits.data.stale_after_s - MARGIN_S
        quiet_s = np.diff(np.concatenate(([begun], second.t, [end_t])))
        is_heard = np.diff(first.t).max() <= stale_s and quiet_s.max() <= QUIET_S
        return bool(is_valid and is_first and is_heard)

    # ------------------------------------------------------------------ through the estimator

    def _through(self, lanes: Sequence[Lane]) -> Iterator[tuple[Lane, PassColumns]]:
        """Step lanes from start to end; give those that raise no doubt with what is judged."""
        if not lanes:
            return iter(())
        course = _Course(lanes)
        joints = [self._begun(lane, number, course) for number, lane in enumerate(lanes)]
        started = [number for number, joint in enumerate(joints) if joint is not None]
        if len(started) < len(lanes):
            return self._through([lanes[number] for number in started])
        state = LaneState.loaded([joint for joint in joints if joint is not None])
        self._step(course, state, np.array([lane.end_t for lane in lanes]))
        return self._told(lanes, course)

    def _told(self, lanes: Sequence[Lane], course: _Course) -> Iterator[tuple[Lane, PassColumns]]:
        names = self._names()
        for number, lane in enumerate(lanes):
            if self._is_doubtful(lane, number, course):
                continue
            first, second = (Samples(source.t, source.values) for source in lane.sources)
            estimates = course.estimates[lane.sources[0].number, :, number]
            columns = columns_of_lane(self._prepared.limits, names, (first, second), estimates)
            yield lane, columns

    def _names(self) -> tuple[SourceId, SourceId]:
        first, second = (self._sensors[i].name for i in self._order)
        return first, second

    def _step(self, course: _Course, state: LaneState, end_t: Floats) -> None:
        """Take every sample after the start, in order of time, then of the source's name."""
        names = self._names()
        begin = course.t[0][0] + START_S
        events = sorted(
            (t, names[i], i, k)
            for i in (0, 1)
            for k, t in enumerate(course.t[i].tolist())
            if t >= begin
        )
        count = len(end_t)
        for t, _, i, k in events:
            # lanes stand in order of their ends, the longest first
            while count and end_t[count - 1] < t:
                count -= 1
                if count:
                    state = state.select(np.arange(count))
            if not count:
                return
            here = course.present[i][k, :count]
            values = course.values[i][k, :, :count]
            if here.all():
                self._filter.take(state, i, t, values)
            else:
                rows = np.flatnonzero(here)
                if rows.size:
                    some = state.select(rows)
                    self._filter.take(some, i, t, values[:, rows])
                    state.assign(rows, some)
            self._note(course, state, i, k, count)

    def _note(self, course: _Course, state: LaneState, i: int, k: int, count: int) -> None:
        if i == 0:
            course.estimates[k, :6, :count] = state.p[:, 1]
            course.estimates[k, 6:, :count] = state.v[:, 1]
        course.learned[i][k, 0, :count] = state.interval_s[i]
        course.learned[i][k, 1:, :count] = state.factor[i, LEARNED, :]

    def _begun(self, lane: Lane, number: int, course: _Course) -> Joint | None:
        """Watch the first seconds with the estimator itself; None where it has not started."""
        prepared, names = self._prepared, self._names()
        joint = Joint(prepared.limits.data.stale_after_s)
        for sample, i, k in self._first_samples(lane):
            track = joint.tracks.get(sample.source)
            if track is None:
                noise = prepared.setup.noise(sample.source)
                track = SourceTrack(sample.source, noise, self._plan)
                joint.add(track)
            track.take(sample)
            joint.take(track, sample)
            if i == 0 and joint.filter is not None:
                course.estimates[k, :, number] = _state_of(joint.filter)
        is_whole = [name in joint.tracks and joint.tracks[name].filter.started for name in names]
        return joint if all(is_whole) and joint.is_started else None

    def _first_samples(self, lane: Lane) -> list[tuple[RelativeSample, int, int]]:
        """Give the samples of the first seconds with source and place, in order."""
        begin = float(lane.sources[0].t[0]) + START_S
        found = []
        for i, source in enumerate(lane.sources):
            sensor = self._sensors[self._order[i]]
            count = int(np.searchsorted(source.t, begin))
            for place in range(count):
                v = source.values[place].tolist()
                lateral = v[4:6] if sensor.sends_lateral_rates else [None, None]
                body = v[9:] if sensor.sends_body_rates else [None, None, None]
                sample = RelativeSample(
                    sensor.name, place, float(source.t[place]), v[0], v[3], v[1], v[2],
                    *v[6:9], *lateral, *body,
                )  # fmt: skip
                found.append((sample, i, int(source.number[place])))
        found.sort(key=lambda item: (item[0].t, item[0].source))
        return found

    def _is_doubtful(self, lane: Lane, number: int, course: _Course) -> bool:
        """Tell whether a check might have warned of a source of this lane."""
        for i, source in enumerate(lane.sources):
            sensor = self._sensors[self._order[i]]
            learned = course.learned[i][source.number, :, number]
            history = SourceHistory(
                source.t,
                source.values,
                learned[:, 0],
                learned[:, 1:],
                self._prepared.setup.noise(sensor.name),
                sensor.sends_lateral_rates,
            )
            if may_warn(history):
                return True
        return False


def _cut(measured: MeasuredColumns, rows: int) -> MeasuredColumns:
    """Keep so many samples."""
    return MeasuredColumns(
        measured.number[:rows],
        measured.t[:rows],
        measured.values[:rows],
        measured.invalid[:rows],
        measured.t_publish[:rows],
    )


def _sent(sensor: Sensor) -> tuple[bool, bool]:
    return sensor.sends_lateral_rates, sensor.sends_body_rates


def _state_of(one: RelativeFilter) -> list[float]:
    axes = (one.along.axis, one.y, one.z, one.roll, one.pitch, one.yaw)
    return [axis.p for axis in axes] + [axis.v for axis in axes]
