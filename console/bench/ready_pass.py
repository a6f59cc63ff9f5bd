"""One pass made ready for judging against any limits: a single run of the engine, then arrays.

Which samples are judged, what was measured and what was estimated follows from the pass, the
setup and the rules of a limits file that are not ``[[limit]]`` entries. So the engine runs once,
without any limit; what it would have handed to the judge is kept, and every limit set with the
same rules can be judged over it.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from console.approach.contact import MeasuredSample
from console.approach.event import AnyEvent
from console.approach.state import StateModel
from console.approach.verdict import JudgingDesk
from console.archive.mapping import mapping_beside
from console.archive.passes import read_pass
from console.archive.places import COMPANIONS
from console.archive.ready_columns import Table, keep_ready, read_ready
from console.archive.recorded_pass import Pass
from console.bench.program_hash import program_hash
from console.bench.scoring import score_pass
from console.core.errors import InputError
from console.core.ids import SourceId
from console.envelope.limits import Basis, LimitsFile
from console.envelope.quantity import MEASURED_ONLY, Quantity
from console.envelope.setup import Setup
from console.envelope.setup_reading import parse_setup
from console.judging.columns import PassColumns
from console.judging.reading import Reading
from console.tracking.outlook import Estimate

ENGINE_ROOMS = (
    "core", "wire", "motion", "envelope", "tracking", "judging", "approach", "archive", "bench",
)  # fmt: skip
MEASURED = tuple(Quantity)
ESTIMATED = tuple(quantity for quantity in Quantity if quantity not in MEASURED_ONLY)
PLAIN_COLUMNS = 4
"""Time, range, estimated range, restarts: they stand before the quantities."""


@dataclass(frozen=True, slots=True)
class DataAlarm:
    """A data exceedance of a pass: no ``[[limit]]`` changes it."""

    id: str
    level: str
    raised: float


@dataclass(frozen=True, slots=True)
class ReadyPass:
    """A pass ready to be judged.

    Attributes
    ----------
    path : Path
    name : str
        The file's name.
    columns : PassColumns
        What the judge would have been fed.
    source : str or None
        In use at the end.
    contact_t : float or None
        UTC s.
    data_alarms : tuple of DataAlarm
        In order of time.
    """

    path: Path
    name: str
    columns: PassColumns
    source: str | None = None
    contact_t: float | None = None
    data_alarms: tuple[DataAlarm, ...] = ()


@dataclass(frozen=True, slots=True)
class ReadyOrder:
    """Under which rules passes are made ready.

    Attributes
    ----------
    limits : LimitsFile
        Its ``[[limit]]`` entries do not matter.
    setup : Setup or None
        None: a recording's own, or the defaults.
    source : str or None
        Judge this source alone.
    """

    limits: LimitsFile
    setup: Setup | None = None
    source: str | None = None


def rules_of(limits: LimitsFile) -> str:
    """Give a fingerprint of all that a limits file says beside its ``[[limit]]`` entries."""
    rules = (
        limits.data, limits.glide_slope, limits.hands_off, limits.marks_m, limits.contact_limits
    )  # fmt: skip
    return hashlib.sha256(repr(rules).encode()).hexdigest()


def make_ready(path: Path, order: ReadyOrder, *, cached: bool = True) -> ReadyPass:
    """Read a pass and run the engine over it, or take what an earlier run kept.

    Raises
    ------
    InputError
        The pass cannot be read, or holds no sample of the source asked for.
    """
    key = key_of(path, order) if cached else ""
    kept = read_ready(key) if key else None
    if kept is not None:
        return _restored(path, *kept)
    ready, table = _run(read_pass(path), order)
    if key and keep_ready(key, _facts(ready), table):
        kept = read_ready(key)
    return ready if kept is None else _restored(path, *kept)


def key_of(path: Path, order: ReadyOrder) -> str:
    """Name everything a ready pass follows from: the file, the rules, and the program itself.

    Raises
    ------
    InputError
        The file cannot be read.
    """
    digest = hashlib.sha256()
    beside = mapping_beside(path)
    parts = [path, *(path.with_name(path.name + tail) for tail in COMPANIONS)]
    for part in parts if beside is None else [*parts, beside]:
        digest.update(_hash_of(part, must_be=part is path))
    setup = "own" if order.setup is None else order.setup.sha256 + repr(order.setup)
    words = (rules_of(order.limits), setup, order.source or "", engine_hash())
    digest.update("\n".join(words).encode())
    return digest.hexdigest()


def engine_hash() -> str:
    """Give a fingerprint of the program text that ready passes follow from."""
    return program_hash(*(f"{room}/**/*.py" for room in ENGINE_ROOMS))


class Tap(JudgingDesk):
    """A judging desk that writes down what is judged."""

    def __init__(self, state: StateModel) -> None:
        super().__init__(state.limits, state.register)
        self.readings: list[Reading] = []
        self.restarts: list[int] = []

    def judge(self, measured: MeasuredSample, estimate: Estimate | None) -> list[AnyEvent]:
        """Judge a sample and keep its reading."""
        events = super().judge(measured, estimate)
        if self._reading is not None:
            self.readings.append(self._reading)
        return events

    def change_source(self) -> None:
        """Note that timers restart at the next sample."""
        super().change_source()
        self.restarts.append(len(self.readings))


def _run(one: Pass, order: ReadyOrder) -> tuple[ReadyPass, Table]:
    taps: list[Tap] = []

    def prepare(state: StateModel) -> None:
        state.desk = Tap(state)
        taps.append(state.desk)

    source = None if order.source is None else SourceId(order.source)
    scored = score_pass(
        one, replace(order.limits, limits=()), _setup_for(one, order.setup), source=source,
        prepare=prepare,
    )  # fmt: skip
    (tap,) = taps
    restarts = [number for number in tap.restarts if number < len(tap.readings)]
    table = _table_of(PassColumns.of(tap.readings, restarts))
    outcome = scored.outcome
    alarms = tuple(
        DataAlarm(e["id"], e["level"], e["raised"]) for e in outcome["data_exceedances"]
    )
    contact_t = None if outcome["contact"] is None else outcome["contact"]["t"]
    columns = _columns_of(table)
    ready = ReadyPass(one.path, one.name, columns, outcome["source"], contact_t, alarms)
    return ready, table


def _setup_for(one: Pass, given: Setup | None) -> Setup:
    if given is not None:
        return given
    text = "" if one.recording is None else one.recording.meta.setup_text
    return parse_setup(text.encode(), f"{one.name} (its own setup)") if text else Setup()


def _table_of(columns: PassColumns) -> Table:
    unknown = np.full(len(columns.t), np.nan)

    def of(basis: Basis, quantity: Quantity) -> Table:
        values = columns.values(basis, quantity)
        return unknown if values is None else values

    return np.array(
        [
            columns.t,
            columns.range_m,
            columns.range_est_m,
            columns.restarts.astype(np.float64),
            *(of(Basis.MEASURED, quantity) for quantity in MEASURED),
            *(of(Basis.ESTIMATED, quantity) for quantity in ESTIMATED),
        ]
    )


def _columns_of(table: Table) -> PassColumns:
    t, range_m, range_est_m, restarts = table[:PLAIN_COLUMNS]
    values = table[PLAIN_COLUMNS:]
    return PassColumns(
        t,
        range_m,
        range_est_m,
        dict(zip(MEASURED, values, strict=False)),
        dict(zip(ESTIMATED, values[len(MEASURED) :], strict=True)),
        restarts != 0.0,
    )


def _facts(ready: ReadyPass) -> dict[str, Any]:
    alarms = [[alarm.id, alarm.level, alarm.raised] for alarm in ready.data_alarms]
    return {"source": ready.source, "contact_t": ready.contact_t, "data_alarms": alarms}


def _restored(path: Path, facts: dict[str, Any], table: Table) -> ReadyPass:
    alarms = tuple(DataAlarm(*alarm) for alarm in facts["data_alarms"])
    return ReadyPass(
        path, path.name, _columns_of(table), facts["source"], facts["contact_t"], alarms
    )


def _hash_of(path: Path, *, must_be: bool) -> bytes:
    try:
        with path.open("rb") as file:
            return hashlib.file_digest(file, "sha256").digest()
    except OSError as error:
        if not must_be:
            return b""
        reason = error.strerror or str(error)
        raise InputError.of(str(path), "", reason, "give a file that can be read") from None


Progress = Callable[[int, int, str], None]
"""Told how many passes are done, of how many, and the name of the newest."""
