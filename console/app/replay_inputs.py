"""What a pass hands to the intake, in order, from its begin or from a place in it."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Protocol, TypeAlias

from console.approach.engine_time import EngineTime
from console.approach.event import AnyEvent
from console.approach.intake import Intake
from console.archive.recorded_pass import Pass
from console.archive.recording import Recording
from console.archive.recording.taken import ActionTaken, FrameTaken, Input, TimeReached, feed_taken
from console.archive.table_build import OrderedTable
from console.core.errors import WireError
from console.core.records import CaptureStatus, Record
from console.wire.decode import decode

Place: TypeAlias = tuple[int, int]
"""Of a recording the number of a frame; of a table samples and statuses given before."""
BEGIN: Place = (0, 0)
PAGE_FRAMES = 200
"""A little more than between two checkpoints: most seeks read one page."""


@dataclass(frozen=True, slots=True)
class Given:
    """One input.

    Attributes
    ----------
    place : tuple of int or None
        Where to go on so that this one comes next; None where nothing can begin.
    t : float
        Engine time it carries the intake to, or less where that stands later already, UTC seconds.
    item : Input or Record
    """

    place: Place | None
    t: float
    item: Input | Record


class PassInputs(Protocol):
    """The inputs of a pass."""

    mode: EngineTime
    t_first: float | None
    """Engine time of the first, None where there is none."""
    t_last: float | None
    most: int
    """About how many there are."""

    def given(self, place: Place = BEGIN) -> Iterator[Given]:
        """Give the inputs from a place on."""
        ...


class RecordedInputs:
    """A recording's inputs, in the order the intake took them."""

    def __init__(self, recording: Recording) -> None:
        self._recording = recording
        self.mode = recording.meta.engine_time
        extent = recording.extent
        self.most = extent.frames
        self.t_first = next((one.t for one in self.given() if math.isfinite(one.t)), None)
        times = [t for t in (self.t_first, extent.end_t) if t is not None]
        if self.mode is EngineTime.RECEIVE and extent.t_last is not None:
            times.append(extent.t_last)
        self.t_last = max(times, default=None)

    def given(self, place: Place = BEGIN) -> Iterator[Given]:
        """Give the inputs from a frame's number on."""
        by_receipt = self.mode is EngineTime.RECEIVE
        begin: int | None = place[0]
        while begin is not None:
            items, begin = self._recording.page(begin, PAGE_FRAMES)
            for item in items:
                if not isinstance(item, FrameTaken):
                    yield Given(None, item.t, item)
                elif by_receipt:
                    yield Given((item.number, 0), item.frame.t_received_s, item)
                else:
                    yield Given((item.number, 0), _own_time(item), item)


def _own_time(taken: FrameTaken) -> float:
    """Give the time a message carries; one that does not validate carries none."""
    try:
        return decode(taken.frame.topic, taken.frame.payload).t
    except WireError:
        return -math.inf


class TableInputs:
    """A table's records in order of time."""

    mode = EngineTime.NEWEST

    def __init__(self, table: OrderedTable) -> None:
        self._table = table
        self.most = len(table.relative) + len(table.captures)
        times = [float(t) for t in table.relative.t[[0, -1]]] if len(table.relative) else []
        times += [status.t for _, status in table.captures]
        self.t_first = min(times, default=None)
        self.t_last = max(times, default=None)

    def given(self, place: Place = BEGIN) -> Iterator[Given]:
        """Give the records after so many samples and statuses."""
        samples, captures = place
        for record in self._table.records(samples, captures):
            yield Given((samples, captures), record.t, record)
            if isinstance(record, CaptureStatus):
                captures += 1
            else:
                samples += 1


def inputs_of(one: Pass) -> PassInputs:
    """Give the inputs of a pass of either kind."""
    if one.recording is not None:
        return RecordedInputs(one.recording)
    assert one.table is not None
    return TableInputs(one.table)


def feed(intake: Intake, item: Input | Record) -> list[AnyEvent]:
    """Hand one input in, exactly as it was taken live."""
    if isinstance(item, FrameTaken | ActionTaken | TimeReached):
        return feed_taken(intake, item)
    return intake.record(item)
