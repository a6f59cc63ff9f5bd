"""Kept states of an intake, so that a replay can go on from near any place of a pass.

A checkpoint is the whole intake with its state model as bytes. Two things stand outside it: what
no input changes (limits, setup, procedure, tables made from them) is shared by all, and the long
memory of past moments stands once in a log, of which a checkpoint keeps from where to where. So a
checkpoint is a few tens of kilobytes however long the pass, and giving it back costs as much as
it holds, not as much as has happened.

The bytes are this process's own and are never written anywhere.
"""

from __future__ import annotations

import io
import pickle
import zlib
from bisect import bisect_right
from dataclasses import dataclass
from typing import Any, TypeAlias, cast

import numpy as np

from console.approach.intake import Intake
from console.judging.gap import Moment, Moments

Key: TypeAlias = tuple[object, ...]

BUDGET_BYTES = 96 << 20
"""Most memory for all checkpoints; beyond it every second one is given up."""
COMPRESSION = 1
MOMENT_FLOATS = 3
_SHARED, _MOMENTS = "shared", "moments"


@dataclass(frozen=True, slots=True)
class Checkpoint:
    """A state and where it stands.

    Attributes
    ----------
    count : int
        Inputs fed before it.
    place : tuple of int
        From where the inputs go on, in the words of who gives them.
    engine_s : float
        Engine time of the newest input, UTC seconds.
    captures : int
        Capture statuses among the inputs.
    hooks : tuple of float or None
        As last told.
    """

    count: int
    place: tuple[int, int]
    engine_s: float
    captures: int
    hooks: tuple[float, ...] | None
    packed: bytes


class _Log:
    """The moments of one source in the order taken, each three floats; rows only come to it."""

    def __init__(self) -> None:
        self._rows = bytearray()
        self._reordered = 0
        self._base = 0
        self._known = 0

    @property
    def size(self) -> int:
        return len(self._rows)

    def keep(self, moments: Moments) -> tuple[int, int]:
        """Add what is new; give from which row of the log to which these moments stand."""
        first = moments.dropped
        if moments.reordered != self._reordered or first > self._known:
            # the order of what is there has changed: it begins anew behind the old
            self._base, self._reordered = self._length() - first, moments.reordered
            self._known = first
        fresh = moments[self._known - first :]
        if fresh:
            self._rows += np.asarray(fresh, dtype=np.float64).tobytes()
            self._known += len(fresh)
        return self._base + first, self._base + first + len(moments)

    def given(self, start: int, end: int) -> list[Moment]:
        """Give rows of the log."""
        wide = MOMENT_FLOATS * 8
        rows = np.frombuffer(
            bytes(memoryview(self._rows)[start * wide : end * wide]), dtype=np.float64
        )
        return [
            (t, range_m, rate) for t, range_m, rate in rows.reshape(-1, MOMENT_FLOATS).tolist()
        ]

    def _length(self) -> int:
        return len(self._rows) // (MOMENT_FLOATS * 8)


class CheckpointBook:
    """Checkpoints of one run through a pass, made in its order and given back in any.

    Parameters
    ----------
    intake : Intake
        The one whose states are kept: fed from begin to end and never given back to.
    budget : int
        Most bytes for all of them.
    """

    def __init__(self, intake: Intake, budget: int = BUDGET_BYTES) -> None:
        self._intake = intake
        self._budget = budget
        self._shared = tuple(one for one in intake.state.unchanging if one is not None)
        self._numbers = {id(one): i for i, one in enumerate(self._shared)}
        self._logs: list[_Log] = []
        self._log_of: dict[int, int] = {}
        self._kept: list[Checkpoint] = []
        self._counts: list[int] = []
        self._bytes = 0
        self.spacing = 1
        """Of so many that were made one is kept."""
        self._made = 0

    def __len__(self) -> int:
        """Give the number kept."""
        return len(self._kept)

    @property
    def size(self) -> int:
        """Bytes of all of them and of the log."""
        return self._bytes + sum(log.size for log in self._logs)

    def keep(
        self,
        count: int,
        place: tuple[int, int],
        captures: int,
        hooks: tuple[float, ...] | None,
    ) -> None:
        """Keep the state as it is now, or not, where memory is short."""
        self._made += 1
        if (self._made - 1) % self.spacing:
            return
        stream = io.BytesIO()
        _Pickler(stream, self).dump(self._intake)
        packed = zlib.compress(stream.getbuffer(), COMPRESSION)
        self._kept.append(Checkpoint(count, place, self._intake.now, captures, hooks, packed))
        self._counts.append(count)
        self._bytes += len(packed)
        if self._bytes > self._budget and len(self._kept) > 2:
            self._thin()

    def before(self, count: int) -> Checkpoint:
        """Give the last checkpoint with at most so many inputs fed."""
        return self._kept[max(bisect_right(self._counts, count) - 1, 0)]

    def restored(self, checkpoint: Checkpoint) -> Intake:
        """Give an intake of its own in the state that was kept."""
        stream = io.BytesIO(zlib.decompress(checkpoint.packed))
        return cast("Intake", _Unpickler(stream, self).load())

    def _thin(self) -> None:
        self.spacing *= 2
        self._kept = self._kept[::2]
        self._counts = self._counts[::2]
        self._bytes = sum(len(one.packed) for one in self._kept)

    # -- what stands outside ---------------------------------------------------------------

    def key_of(self, one: object) -> Key | None:
        """Give the key of what stands outside a checkpoint, None for what belongs into it."""
        number = self._numbers.get(id(one))
        if number is not None:
            return _SHARED, number
        if type(one) is Moments:
            log = self._log_of.get(id(one))
            if log is None:
                log = self._log_of[id(one)] = len(self._logs)
                self._logs.append(_Log())
            rows = self._logs[log].keep(one)
            return _MOMENTS, log, *rows, one.dropped, one.reordered
        return None

    def outside(self, key: Key) -> object:
        """Give what a key stands for."""
        if key[0] == _SHARED:
            return self._shared[cast("int", key[1])]
        _, log, start, end, dropped, reordered = cast("tuple[str, int, int, int, int, int]", key)
        moments = Moments(self._logs[log].given(start, end))
        moments.dropped, moments.reordered = dropped, reordered
        return moments


class _Pickler(pickle.Pickler):
    def __init__(self, stream: io.BytesIO, book: CheckpointBook) -> None:
        super().__init__(stream, protocol=pickle.HIGHEST_PROTOCOL)
        self._key_of = book.key_of

    def persistent_id(self, obj: Any) -> Any:
        return self._key_of(obj)


class _Unpickler(pickle.Unpickler):
    def __init__(self, stream: io.BytesIO, book: CheckpointBook) -> None:
        super().__init__(stream)
        self._outside = book.outside

    def persistent_load(self, pid: Any) -> Any:
        return self._outside(pid)
