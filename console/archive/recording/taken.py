"""What a state model took, as a recording keeps it: frames, actions, time marks, in order."""

from __future__ import annotations

import sqlite3
from collections.abc import Generator, Iterable, Iterator
from typing import TypeAlias

import msgspec

from console.approach.action import AnyAction
from console.approach.event import AnyEvent
from console.approach.intake import Intake
from console.archive.recording.rows import exact_bytes
from console.core.records import Frame

NO_FRAME = 2**63 - 1
"""Above every frame's number."""


class FrameTaken(msgspec.Struct, frozen=True, gc=False):
    """Input: a raw message, by its number in the order received."""

    number: int
    frame: Frame


class ActionTaken(msgspec.Struct, frozen=True):
    """Input: what the operator did at engine time ``t``, ``after`` being the last frame fed."""

    after: int
    t: float
    action: AnyAction


class TimeReached(msgspec.Struct, frozen=True, gc=False):
    """Input: engine time reached ``t`` with no frame since ``after``; the last one is the end."""

    after: int
    t: float


Input: TypeAlias = FrameTaken | ActionTaken | TimeReached


def feed_taken(intake: Intake, item: Input) -> list[AnyEvent]:
    """Hand one input in, exactly as it was taken live; give what followed."""
    if isinstance(item, FrameTaken):
        return intake.frame(item.frame)
    if isinstance(item, ActionTaken):
        return intake.action(item.t, item.action)
    return intake.advance(item.t)


def merged(fed: Iterable[FrameTaken], others: list[ActionTaken | TimeReached]) -> Iterator[Input]:
    """Put what was taken between frames behind the frame it followed."""
    place = 0
    for taken in fed:
        while place < len(others) and others[place].after < taken.number:
            yield others[place]
            place += 1
        yield taken
    yield from others[place:]


def frames_from(connection: sqlite3.Connection, from_frame: int) -> Generator[tuple[int, Frame]]:
    """Give the frames from a number on."""
    query = "SELECT id, t_received, topic, payload FROM frames WHERE id >= ? ORDER BY id"
    for number, t_received_s, topic, payload in connection.execute(query, (from_frame,)):
        yield number, Frame(t_received_s, exact_bytes(topic), payload)


def fed_from(connection: sqlite3.Connection, from_frame: int) -> Iterator[FrameTaken]:
    """Give the frames that reached the state model."""
    unfed = {row[0] for row in connection.execute("SELECT frame FROM unfed")}
    for number, frame in frames_from(connection, from_frame):
        if number not in unfed:
            yield FrameTaken(number, frame)


def others_between(
    connection: sqlite3.Connection, from_frame: int, to_frame: int | None = None
) -> list[ActionTaken | TimeReached]:
    """Give actions and time marks in order: by frame, actions before the mark."""
    decoder = msgspec.json.Decoder(AnyAction)
    range_ = (from_frame, NO_FRAME if to_frame is None else to_frame)
    actions = connection.execute(
        "SELECT after, t, body FROM actions WHERE after >= ? AND after < ? ORDER BY after, id",
        range_,
    )
    found: list[ActionTaken | TimeReached] = [
        ActionTaken(after, t, decoder.decode(body)) for after, t, body in actions
    ]
    # After a kill the last mark may be older than an action that was taken after it.
    reached = {one.after: one.t for one in found}
    marks = connection.execute("SELECT after, t FROM ends WHERE after >= ? AND after < ?", range_)
    found += [TimeReached(after, max(t, reached.get(after, t))) for after, t in marks]
    # A stable sort keeps the actions of one frame in their order.
    found.sort(key=lambda item: (item.after, isinstance(item, TimeReached)))
    return found
