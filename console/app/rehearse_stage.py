"""An exercise made ready: its approach flown or read, faults played in, the truth taken down."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import islice
from pathlib import Path

import numpy as np

from console.app.feed import messages_of
from console.app.input_file import load_scenario, read_bytes, scenario_names
from console.archive.passes import read_pass
from console.archive.recorded_pass import Pass
from console.core.errors import InputError
from console.core.ids import SourceId
from console.core.records import RelativeSample
from console.envelope.limits import LimitsFile
from console.envelope.setup import Setup
from console.rehearsal.exercise import Exercise, Origin
from console.rehearsal.exercise_reading import parse_exercise
from console.rehearsal.faulting import spoil, with_faults
from console.rehearsal.truth import RunTruth, truth_of_flight, truth_of_pass
from console.simulation.simulate import Published, simulate

MESSAGES_MOST = 400_000
"""Longer passes are refused: they are for replay, not for rehearsing."""


@dataclass(frozen=True, slots=True)
class Staged:
    """What is played, in order of delivery, and what really happens in it."""

    exercise: Exercise
    messages: tuple[Published, ...]
    truth: RunTruth


def read_exercise(path: Path) -> Exercise:
    """Read an exercise file; a pass it names may lie beside it.

    Raises
    ------
    InputError
        It cannot be read, or something in it is refused.
    """
    return exercise_of(read_bytes(path), path.name, path.parent)


def exercise_of(data: bytes, name: str, folder: Path) -> Exercise:
    """Read an exercise whose files are looked for in ``folder`` first."""
    return parse_exercise(data, name, lambda origin, what: sources_of(origin, what, folder))


def sources_of(origin: Origin, name: str, folder: Path) -> tuple[SourceId, ...]:
    """Give the sources of a scenario or a recorded pass.

    Raises
    ------
    InputError
        There is no such scenario or pass.
    """
    if origin is Origin.SCENARIO:
        return tuple(sensor.name for sensor in load_scenario(_scenario(name, folder)).sensors)
    records = read_pass(pass_path(name, folder)).records()
    heard = {r.source: None for r in records if isinstance(r, RelativeSample)}
    if not heard:
        raise InputError.of(name, "", "no relative-state sample in it", "choose another pass")
    return tuple(heard)


def pass_path(name: str, folder: Path) -> Path:
    """Give a pass's file: beside the exercise if it is there, else as it stands."""
    beside = folder / name
    if beside.is_file():
        return beside
    try:
        return Path(name).expanduser()
    except RuntimeError:  # nobody of that name has a home here
        return Path(name)


def _scenario(name: str, folder: Path) -> str:
    beside = folder / name
    is_file = name not in scenario_names() and beside.suffix == ".toml" and beside.is_file()
    return str(beside) if is_file else name


def stage(exercise: Exercise, folder: Path, limits: LimitsFile, setup: Setup) -> Staged:
    """Fly or read an exercise's approach and play its faults.

    Raises
    ------
    InputError
        The approach cannot be had.
    """
    if exercise.origin is Origin.SCENARIO:
        scenario = with_faults(load_scenario(_scenario(exercise.name, folder)), exercise.faults)
        flown = simulate(scenario, limits, setup, exercise.seed, exercise.from_range_m)
        truth = truth_of_flight(flown, limits)
        return _cut(exercise, flown.messages, truth)
    untouched = _messages(read_pass(pass_path(exercise.name, folder)))
    rng = np.random.default_rng(exercise.seed)
    played, spans = spoil(untouched, exercise.faults, setup, rng)
    return _cut(exercise, played, truth_of_pass(untouched, spans, limits))


def _cut(exercise: Exercise, messages: Sequence[Published], truth: RunTruth) -> Staged:
    """End an approach some time after the last thing there is to call."""
    last = truth.contact if truth.soft_capture is None else truth.soft_capture
    if last is not None:
        end = last + exercise.after_capture_s
        messages = [message for message in messages if message.t_publish_s <= end]
    if not messages:
        raise InputError.of(exercise.name, "", "nothing of it is left to play", "mend its faults")
    return Staged(exercise, tuple(messages), truth)


def _messages(one: Pass) -> tuple[Published, ...]:
    messages = tuple(islice(messages_of(one), MESSAGES_MOST + 1))
    if len(messages) > MESSAGES_MOST:
        raise InputError.of(
            one.name, "", f"more than {MESSAGES_MOST} messages", "rehearse a shorter pass"
        )
    return messages
