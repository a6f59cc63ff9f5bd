"""What really happened in a rehearsed approach, small enough to be kept in its recording.

From a simulated approach it is the true state itself; from a recorded pass the untouched samples
of its first source, which are the best there is. Marks and the hands-off point are passed by the
same rules as on a watch.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import msgspec
import numpy as np

from console.approach.mark import contact_sample
from console.approach.milestone import MilestoneBook
from console.core.ids import SourceId
from console.core.records import CaptureStatus, RelativeSample
from console.envelope.limits import HandsOff, LimitsFile
from console.judging.columns import PassColumns
from console.judging.reading import Reading, measured_values
from console.judging.whole_pass import PassJudge
from console.motion.braking import latest_call_s
from console.rehearsal.fault_words import fault_words
from console.simulation.faults import FaultSpan
from console.simulation.simulate import Published, SimulatedPass
from console.tracking.source import SourceBoard

PathRow = tuple[float, float, float]
PATH_STEP_S = 1.0
TRUE = SourceId("true")


class FaultStood(msgspec.Struct, frozen=True):
    """A fault in words and the time it stood; ``t_end`` None: to the end."""

    words: str
    t_start: float
    t_end: float | None


class RunTruth(msgspec.Struct, frozen=True):
    """The truth of a run; times are UTC seconds.

    Attributes
    ----------
    t_begin, t_end : float
        First and last moment there is anything of.
    marks : tuple of (float, float)
        Range mark, when it was passed.
    hands_off, contact, soft_capture : float or None
    hold_until : float or None
        The last moment at which a called stop still halted the vehicle outside the hands-off
        range; None where there was none.
    path : tuple of (float, float, float)
        t, range m, closing rate m/s, about one a second.
    violations : tuple of (str, float, float or None), or None
        Limit id, onset and end of each exceedance of the true state; None where the true state is
        not known.
    """

    t_begin: float
    t_end: float
    marks: tuple[tuple[float, float], ...]
    hands_off: float | None
    contact: float | None
    soft_capture: float | None
    hold_until: float | None
    path: tuple[PathRow, ...]
    violations: tuple[tuple[str, float, float | None], ...] | None
    faults: tuple[FaultStood, ...]

    def at(self, t: float) -> tuple[float, float] | None:
        """Give true range, m, and closing rate, m/s, at a time; None outside the path."""
        if not self.path or not self.path[0][0] <= t <= self.path[-1][0]:
            return None
        times, ranges, rates = zip(*self.path, strict=True)
        return float(np.interp(t, times, ranges)), float(np.interp(t, times, rates))


def truth_of_flight(flown: SimulatedPass, limits: LimitsFile) -> RunTruth:
    """Give the truth of a simulated approach."""
    truth = flown.truth
    samples = [
        RelativeSample(TRUE, i, t, x, vx, y, z, roll, pitch, yaw, vy, vz, p, q, r)
        for i, (t, (x, y, z, vx, vy, vz, roll, pitch, yaw, p, q, r)) in enumerate(
            zip(truth.t.tolist(), truth.columns().tolist(), strict=True)
        )
    ]
    before = [s for s in samples if truth.t_contact is None or s.t < truth.t_contact]
    step = max(round(PATH_STEP_S / (samples[1].t - samples[0].t)), 1) if len(samples) > 1 else 1
    rows = before[::step] + before[-1:]
    path = [(s.t, s.range_m, -s.range_rate_mps) for s in rows]
    if truth.contact is not None:
        path.append((truth.contact.t, 0.0, truth.contact.closing_rate_mps))
    return _run_truth(
        flown.messages, samples, truth.t_contact, tuple(path), truth.faults, limits,
        violations=_violations(before, limits),
    )  # fmt: skip


def truth_of_pass(
    messages: Sequence[Published], spans: Sequence[FaultSpan], limits: LimitsFile
) -> RunTruth:
    """Give the truth of a recorded pass: what its untouched samples say."""
    samples = _prime(messages)
    contact = _contact_of(messages, samples, limits)
    before = [s for s in samples if contact is None or s.t < contact]
    return _run_truth(messages, samples, contact, _thinned(before), spans, limits)


def hold_until(path: Iterable[PathRow], hands_off: HandsOff) -> float | None:
    """Give the last moment at which a called stop still helped, None where there was none.

    A vehicle that does not close can be held at any time. Between two rows the time left is
    taken as linear, which it is at constant rate.
    """
    last: float | None = None
    before: tuple[float, float] | None = None
    for t, range_m, closing_mps in path:
        left_s = stop_spare_s(range_m, closing_mps, hands_off)
        if left_s is None:
            before = None
            if range_m > hands_off.range_m:
                last = t
            continue
        if left_s >= 0.0:
            last = t
        elif before is not None and before[1] >= 0.0:
            share = before[1] / (before[1] - left_s)
            last = before[0] + share * (t - before[0])
        before = (t, left_s)
    return last


def stop_spare_s(range_m: float, closing_mps: float, hands_off: HandsOff) -> float | None:
    """Give how long from a true state a stop call still helps, s; None where it does not close.

    Notes
    -----
    The console's own formula (``motion.braking.latest_call_s``) with nothing for the data's age.
    """
    return latest_call_s(
        range_m,
        closing_mps,
        hands_off.range_m,
        hands_off.link_delay_s + hands_off.reaction_s,
        hands_off.braking_mps2,
    )


def _run_truth(
    messages: Sequence[Published],
    samples: Sequence[RelativeSample],
    contact: float | None,
    path: tuple[PathRow, ...],
    spans: Sequence[FaultSpan],
    limits: LimitsFile,
    violations: tuple[tuple[str, float, float | None], ...] | None = None,
) -> RunTruth:
    marks, hands_off = _passed(samples, contact, limits)
    end = messages[-1].t_publish_s if messages else 0.0
    return RunTruth(
        t_begin=messages[0].t_publish_s if messages else 0.0,
        t_end=end,
        marks=marks,
        hands_off=hands_off,
        contact=contact,
        soft_capture=_soft_capture(messages),
        hold_until=hold_until(path, limits.hands_off),
        path=path,
        violations=violations,
        faults=tuple(
            FaultStood(fault_words(s.fault), s.t_start, s.t_end if s.t_end < end else None)
            for s in spans
        ),
    )


def _passed(
    samples: Sequence[RelativeSample], contact: float | None, limits: LimitsFile
) -> tuple[tuple[tuple[float, float], ...], float | None]:
    """Give the marks passed and when, and the hands-off point's last passing before contact."""
    board, book = SourceBoard(limits.data.stale_after_s), MilestoneBook(limits)
    for sample in samples:
        if board.take(sample, sample.t):
            book.take(board.sources[sample.source], contact)
    if contact is not None:
        book.settle(contact)
    marks = tuple((passing.range_m, passing.t) for passing in book.passed)
    return marks, None if book.hands_off is None else book.hands_off.t


def _violations(
    samples: Sequence[RelativeSample], limits: LimitsFile
) -> tuple[tuple[str, float, float | None], ...]:
    """Judge the true state as if it were both measured and estimated."""
    readings = []
    for sample in samples:
        values = measured_values(sample)
        readings.append(Reading(sample.t, sample.range_m, sample.range_m, values, values))
    found = PassJudge(limits).judge(PassColumns.of(readings))
    return tuple((one.id, one.onset, one.cleared) for one in found)


def _prime(messages: Sequence[Published]) -> list[RelativeSample]:
    """Give the valid samples of the source heard first, in order of their time."""
    samples = [m.record for m in messages if isinstance(m.record, RelativeSample)]
    valid = [sample for sample in samples if sample.valid]
    return sorted((s for s in valid if s.source == valid[0].source), key=lambda s: s.t)


def _contact_of(
    messages: Sequence[Published], samples: Sequence[RelativeSample], limits: LimitsFile
) -> float | None:
    """Give contact by the rule: two samples at or behind it, or a status, the earlier of both."""
    told = [
        m.record.t
        for m in messages
        if isinstance(m.record, CaptureStatus) and (m.record.contact or m.record.soft_capture)
    ]
    board = SourceBoard(limits.data.stale_after_s)
    for sample in samples:
        board.take(sample, sample.t)
        touch = contact_sample(board.sources[sample.source])
        if touch is not None:
            told.append(touch.t)
            break
    return min(told, default=None)


def _soft_capture(messages: Sequence[Published]) -> float | None:
    told = (
        m.record.t
        for m in messages
        if isinstance(m.record, CaptureStatus) and m.record.soft_capture
    )
    return min(told, default=None)


def _thinned(samples: Sequence[RelativeSample]) -> tuple[PathRow, ...]:
    """Give the medians of each second's samples: a single outlier moves none."""
    rows: list[PathRow] = []
    bucket: list[RelativeSample] = []
    for sample in samples:
        if bucket and sample.t - bucket[0].t >= PATH_STEP_S:
            rows.append(_median(bucket))
            bucket = []
        bucket.append(sample)
    if bucket:
        rows.append(_median(bucket))
    return tuple(rows)


def _median(samples: Sequence[RelativeSample]) -> PathRow:
    t, range_m, rate = np.median([(s.t, s.range_m, s.range_rate_mps) for s in samples], axis=0)
    return float(t), float(range_m), -float(rate)
