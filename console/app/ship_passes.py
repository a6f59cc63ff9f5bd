"""The shipped passes, made again: ``python -m console.app.ship_passes``.

Every pass is flown by the simulation from a shipped scenario with a fixed seed, cut to be small,
and written in the form its name says. Recordings are fed through the real intake, with people who
answer, call and acknowledge, just as a live watch records them.
"""

from __future__ import annotations

import argparse
import math
import sqlite3
from collections.abc import Iterable, Sequence
from contextlib import closing, suppress
from pathlib import Path

import msgspec
import numpy as np

from console.app.around import around_of, demo_coverage
from console.app.demo import PORT, VEHICLE
from console.app.demo_crew import demo_crew
from console.app.input_file import (
    demo_setup,
    load_limits,
    load_procedure,
    load_scenario,
    load_setup,
)
from console.app.live import ActingCrew
from console.app.rehearse_stage import exercise_of, stage
from console.app.ship_passes_list import SHIPPED, Recipe
from console.app.ship_passes_people import Watcher
from console.app.ship_passes_table import write_table
from console.approach.action import AnyAction
from console.approach.engine_time import EngineTime
from console.approach.event import AnyEvent
from console.approach.intake import Intake
from console.approach.procedure import Procedure
from console.approach.state import StateModel
from console.archive.csv_write import write_csv_pass
from console.archive.parquet_pass import write_parquet_pass
from console.archive.pass_notes import add_note
from console.archive.places import COMPANIONS, SUFFIX
from console.archive.recording import Recorder, RecordingMeta
from console.archive.shipped import shipped
from console.core.errors import WireError
from console.core.records import CaptureStatus, Frame, Heartbeat, Record, RelativeSample
from console.envelope.limits import LimitsFile
from console.envelope.quantity import Quantity
from console.rehearsal.review import kept
from console.simulation.simulate import Published, SimulatedPass, simulate
from console.wire.encode import encode

HEARTBEAT_EVERY_S = 10
PAGE_BYTES = 1024

_encode_event = msgspec.json.Encoder(order="deterministic").encode


def make(folder: Path, recipes: Sequence[Recipe] = SHIPPED) -> list[Path]:
    """Make passes into a folder; what stood there under their names is replaced."""
    folder.mkdir(parents=True, exist_ok=True)
    return [_make_one(folder / recipe.name, recipe) for recipe in recipes]


def _make_one(path: Path, recipe: Recipe) -> Path:
    messages, facts = _flown(recipe) if not recipe.exercise else _rehearsed(recipe)
    if path.suffix == SUFFIX:
        _record(path, recipe, messages, facts)
        for after_s, initials, words in recipe.notes:
            add_note(path, messages[0].t_publish_s + after_s, initials, words)
        return path
    records = [m.record for m in messages if isinstance(m.record, RelativeSample | CaptureStatus)]
    header = {"title": recipe.title, "vehicle": VEHICLE, "port": PORT}
    if recipe.foreign is not None:
        recipe.foreign(path, records)
    elif path.suffix == ".parquet":
        write_parquet_pass(path, records, header)
    else:
        has_capture = any(isinstance(record, CaptureStatus) for record in records)
        write_csv_pass(path, records, header, with_capture=has_capture)
    return path


def _flown(recipe: Recipe) -> tuple[list[Published], dict[str, str]]:
    """Fly a scenario; a watch's recording keeps nothing more of it."""
    scenario = recipe.change(load_scenario(recipe.scenario))
    limits, setup = load_limits(None), load_setup(demo_setup())
    return _cut(simulate(scenario, limits, setup, recipe.seed, recipe.start_m), recipe), {}


def _rehearsed(recipe: Recipe) -> tuple[list[Published], dict[str, str]]:
    """Play an exercise; its recording keeps exercise and truth."""
    exercise = exercise_of(recipe.exercise.encode(), recipe.name, Path())
    staged = stage(exercise, Path(), load_limits(None), load_setup(demo_setup()))
    messages = [message for message in staged.messages if _is_kept(message.record)]
    begun_s = messages[0].t_publish_s
    return messages, kept(exercise, recipe.habit.initials, staged.truth, begun_s)


def _cut(flown: SimulatedPass, recipe: Recipe) -> list[Published]:
    """Leave away what comes later than so long after contact, and most heartbeats."""
    contact, end = flown.truth.contact, math.inf
    if contact is not None and recipe.after_contact_s is not None:
        end = contact.t + recipe.after_contact_s
    data = [m.t_publish_s for m in flown.messages if not isinstance(m.record, Heartbeat)]
    end = min(end, max(data))
    return [m for m in flown.messages if m.t_publish_s <= end and _is_kept(m.record)]


def _is_kept(record: Record) -> bool:
    """Keep every tenth heartbeat: they take more room than they tell."""
    return not isinstance(record, Heartbeat) or int(record.t) % HEARTBEAT_EVERY_S == 0


class _Bench:
    """A watch fed by hand, in one thread: the intake, its recorder, and those who act."""

    def __init__(self, intake: Intake, recorder: Recorder, people: Iterable[ActingCrew]) -> None:
        self.intake = intake
        self._recorder = recorder
        self._people = tuple(people)

    def take(self, frame: Frame) -> None:
        """Feed a frame, then what people do by then."""
        number = self._recorder.frame(frame)
        events = self.intake.frame(frame)
        newest = self.intake.newest
        if newest is not None and not isinstance(newest, WireError):
            self._recorder.sample(newest, number)
        self._tell(events)
        for person in self._people:
            for action in person.due(self.intake.now):
                self._act(action)

    def end(self) -> None:
        """Keep the engine time reached."""
        self._recorder.tick_end(self.intake.now)

    def _act(self, action: AnyAction) -> None:
        self._recorder.action(self.intake.now, action)
        self._tell(self.intake.action(self.intake.now, action))

    def _tell(self, events: list[AnyEvent]) -> None:
        for event in events:
            self._recorder.event(_encode_event(event))
            for person in self._people:
                person.note(event, self.intake.now)


def _record(
    path: Path, recipe: Recipe, messages: Sequence[Published], facts: dict[str, str]
) -> None:
    limits, setup = load_limits(None), load_setup(demo_setup())
    around = around_of(setup, demo_setup(), demo_coverage())
    procedure = None if recipe.exercise else load_procedure(None)
    setup, surroundings = around.built(setup)
    state = StateModel(limits, setup, procedure=procedure, surroundings=surroundings)
    people = _people(recipe, limits, procedure)
    for tail in ("", *COMPANIONS):
        with suppress(FileNotFoundError):
            Path(f"{path}{tail}").unlink()
    more = {**around.kept(), **facts}
    meta = _meta(recipe, state, procedure, more, messages[0].t_publish_s)
    with Recorder(path, meta) as recorder:
        bench = _Bench(Intake(state, EngineTime.RECEIVE), recorder, people)
        for message in messages:
            topic, payload = encode(message.record)
            bench.take(Frame(message.t_publish_s, topic, payload))
        bench.end()
    _settle(path)


def _people(
    recipe: Recipe, limits: LimitsFile, procedure: Procedure | None
) -> tuple[ActingCrew, ...]:
    quantities: dict[str, Quantity] = {limit.id: limit.quantity for limit in limits.limits}
    watcher = Watcher(recipe.habit, np.random.default_rng(recipe.seed), quantities)
    crew = None if procedure is None else demo_crew(procedure, recipe.crew)
    return (watcher,) if crew is None else (watcher, crew)


def _meta(
    recipe: Recipe,
    state: StateModel,
    procedure: Procedure | None,
    more: dict[str, str],
    started_s: float,
) -> RecordingMeta:
    limits, setup = state.limits, state.setup
    return RecordingMeta(
        started_s=started_s,
        engine_time=EngineTime.RECEIVE,
        title=recipe.title,
        vehicle=VEHICLE,
        port=PORT,
        limits_text=limits.text,
        limits_sha256=limits.sha256,
        limits_name=limits.title,
        setup_text=setup.text,
        setup_sha256=setup.sha256,
        procedure_text=procedure.text if procedure else "",
        procedure_sha256=procedure.sha256 if procedure else "",
        procedure_name=procedure.title if procedure else "",
        endpoints=("tcp://127.0.0.1:5556",),
        more=more,
    )


def _settle(path: Path) -> None:
    """Leave write-ahead mode, so that it is one file even in a folder nobody may write to."""
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("PRAGMA journal_mode=DELETE")
        connection.execute("DELETE FROM blocks")  # the samples again, for bulk reading of hours
        connection.commit()
        connection.execute(f"PRAGMA page_size={PAGE_BYTES}")
        connection.execute("VACUUM")


def main() -> None:
    """Read the command line and make."""
    parser = argparse.ArgumentParser(prog="python -m console.app.ship_passes")
    parser.add_argument("folder", type=Path, nargs="?", default=shipped("replay_data", "passes"))
    parser.add_argument("--table", action="store_true", help="write the table alone")
    options = parser.parse_args()
    if not options.table:
        make(options.folder)
    write_table(options.folder, SHIPPED)


if __name__ == "__main__":
    main()
