"""What the estimator over many passes carries from sample to sample, one lane a pass.

Loaded from estimators that have started; :mod:`console.tracking.lanes` steps it. Nothing is
computed here: what each array means, and by which formula it moves, stands in the class its row
is loaded from.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from console.tracking.axis import Axis
from console.tracking.filter import RelativeFilter
from console.tracking.joint import Joint
from console.tracking.noise import Channel, NoiseModel
from console.tracking.track import SourceTrack

Floats: TypeAlias = NDArray[np.float64]
Flags: TypeAlias = NDArray[np.bool_]
Integers: TypeAlias = NDArray[np.intp]


@dataclass(slots=True)
class LaneState:
    """What is carried from sample to sample; the last axis of every array is the lanes.

    Attributes
    ----------
    p, v, a, b, c : ndarray, shape (6, 3, lanes)
        Of :class:`~console.tracking.axis.Axis`.
    position_rejects, rate_rejects : ndarray of int, shape (6, 3, lanes)
    t, trend : ndarray, shape (3, lanes)
        Time of each filter, and of its range axis the trend.
    manoeuvring, is_told : ndarray of bool, shape (3, lanes)
        Whether a filter shows a manoeuvre, and whether it has been told of one.
    newest : ndarray, shape (2, 12, lanes)
        Each source's newest sample.
    newest_t, interval_s : ndarray, shape (2, lanes)
    factor, square : ndarray, shape (2, 6, lanes)
        Of the noise channels: range, range rate, lateral, lateral rate, angle, angle rate.
    since_best, best : ndarray of int, shape (lanes,)
        Samples since the best source was looked for, and which it is (-1: look now).
    """

    p: Floats
    v: Floats
    a: Floats
    b: Floats
    c: Floats
    position_rejects: Integers
    rate_rejects: Integers
    t: Floats
    trend: Floats
    manoeuvring: Flags
    is_told: Flags
    newest: Floats
    newest_t: Floats
    interval_s: Floats
    factor: Floats
    square: Floats
    since_best: Integers
    best: Integers

    @classmethod
    def loaded(cls, joints: list[Joint]) -> LaneState:
        """Give the state of estimators that have started, one lane each."""
        state = cls.blank(len(joints))
        for lane, joint in enumerate(joints):
            state.load(lane, joint)
        return state

    @classmethod
    def blank(cls, lanes: int) -> LaneState:
        """Give zeros for so many lanes."""
        axes, filters, whole = (6, 3, lanes), (3, lanes), np.intp
        p, v, a, b, c = (np.zeros(axes) for _ in range(5))
        return cls(
            p, v, a, b, c,
            position_rejects=np.zeros(axes, whole),
            rate_rejects=np.zeros(axes, whole),
            t=np.zeros(filters),
            trend=np.zeros(filters),
            manoeuvring=np.zeros(filters, np.bool_),
            is_told=np.zeros(filters, np.bool_),
            newest=np.zeros((2, 12, lanes)),
            newest_t=np.zeros((2, lanes)),
            interval_s=np.zeros((2, lanes)),
            factor=np.zeros((2, 6, lanes)),
            square=np.zeros((2, 6, lanes)),
            since_best=np.zeros(lanes, whole),
            best=np.zeros(lanes, whole),
        )  # fmt: skip

    def load(self, lane: int, joint: Joint) -> None:
        """Take over an estimator whose filters have started."""
        tracks = list(joint.tracks.values())
        combined = joint.filter
        assert combined is not None
        filters = (tracks[0].filter, combined, tracks[1].filter)
        for column, one in enumerate(filters):
            self._load_filter(lane, column, one)
        for number, track in enumerate(tracks):
            self._load_track(lane, number, track)
        self.since_best[lane] = max(joint.since_best, 0)
        self.best[lane] = -1 if joint.since_best < 0 else tracks.index(joint.best)

    def _load_filter(self, lane: int, column: int, one: RelativeFilter) -> None:
        axes: tuple[Axis, ...] = (one.along.axis, one.y, one.z, one.roll, one.pitch, one.yaw)
        for row, axis in enumerate(axes):
            at = (row, column, lane)
            self.p[at], self.v[at] = axis.p, axis.v
            self.a[at], self.b[at], self.c[at] = axis.a, axis.b, axis.c
            self.position_rejects[at] = axis.position_rejects
            self.rate_rejects[at] = axis.rate_rejects
        self.t[column, lane], self.trend[column, lane] = one.t, one.along.trend
        self.manoeuvring[column, lane] = one.along.manoeuvring
        self.is_told[column, lane] = one.along.is_told

    def _load_track(self, lane: int, number: int, track: SourceTrack) -> None:
        newest, noise = track.newest, track.noise
        assert newest is not None
        self.newest[number, :, lane] = [
            newest.range_m, newest.y_m, newest.z_m,
            newest.range_rate_mps, newest.y_rate_mps or 0.0, newest.z_rate_mps or 0.0,
            newest.roll_deg, newest.pitch_deg, newest.yaw_deg,
            newest.roll_rate_dps or 0.0, newest.pitch_rate_dps or 0.0, newest.yaw_rate_dps or 0.0,
        ]  # fmt: skip
        self.newest_t[number, lane] = newest.t
        self.interval_s[number, lane] = noise.interval_s
        for channel, one in enumerate(channels_of(noise)):
            self.factor[number, channel, lane] = one.factor
            self.square[number, channel, lane] = one.square

    def select(self, lanes: Integers) -> LaneState:
        """Give a copy with these lanes alone."""
        return LaneState(*(getattr(self, one.name)[..., lanes] for one in fields(self)))

    def assign(self, lanes: Integers, other: LaneState) -> None:
        """Put lanes back that were selected."""
        for one in fields(self):
            getattr(self, one.name)[..., lanes] = getattr(other, one.name)


def channels_of(noise: NoiseModel) -> tuple[Channel, ...]:
    """Give a noise model's channels in the order of the lanes."""
    return (
        noise.range, noise.range_rate, noise.lateral, noise.lateral_rate, noise.angle,
        noise.angle_rate,
    )  # fmt: skip
