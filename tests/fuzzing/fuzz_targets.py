"""What is fuzzed, and what must hold whatever bytes come in.

A target takes bytes and hands them to one of the program's readers. The outcome is a value or the
program's own refusal. A refusal must be one clear line (:func:`check_refusal`), a value must come
back the same where the program can write it, and neither may take a second of the processor or
much memory (:mod:`guard`). Anything else is an error that reaches whoever runs the target.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace

import msgspec
from fuzz_holds import check_refusal, folder, require
from fuzz_passes import (
    csv_seeds,
    parquet_seeds,
    recording_seeds,
    run_csv,
    run_mapping,
    run_parquet,
    run_recording,
)

from console.app.input_file import load_setup
from console.app.rehearse_stage import exercise_of
from console.approach.procedure_reading import parse_procedure
from console.archive.shipped import shipped
from console.core.errors import InputError, WireError
from console.envelope.editing import edited
from console.envelope.reading import parse_limits
from console.rehearsal.exercise_reading import exercise_text, parse_exercise
from console.simulation.reading import parse_scenario
from console.surroundings.coverage_reading import parse_coverage
from console.surroundings.element_set import read_orbit
from console.wire.decode import decode
from console.wire.encode import Form, encode
from console.wire.reason import Reason

LONGEST_DETAIL = 120
TOPICS = (b"rel/optical", b"cap/mechanism", b"hb/optical")


def run_wire(data: bytes) -> str:
    """Decode; the first byte chooses the topic, or that the topic is everything to a line end."""
    which, payload = data[:1], data[1:]
    if which in b"012" and which:
        topic = TOPICS[int(which)]
    else:
        topic, _, payload = payload.partition(b"\n")
    try:
        record = decode(topic, payload)
    except WireError as error:
        require(error.reason in set(Reason), f"counted under {error.reason!r}")
        require(len(error.detail) <= LONGEST_DETAIL, f"{len(error.detail)} characters of detail")
        require(error.detail.isprintable(), f"not printable: {error.detail!r}")
        return f"refused: {error.reason}"
    for form in Form:
        again = decode(*encode(record, form))
        require(again == record, f"{record} came back as {again}")
    return "taken"


def wire_seeds() -> list[bytes]:
    """Give good messages of each kind in both forms, and topics."""
    angles = {"roll_deg": 0.3, "pitch_deg": -0.4, "yaw_deg": 0.5}
    sample = {"seq": 7, "t": 1932100000.25, "range_m": 20.5, "range_rate_mps": -0.09,
              "y_m": 0.1, "z_m": -0.2}  # fmt: skip
    rates = {"y_rate_mps": 0.001, "z_rate_mps": -0.002, "roll_rate_dps": 0.01,
             "pitch_rate_dps": 0.02, "yaw_rate_dps": -0.03, "valid": True}  # fmt: skip
    capture = {"seq": 3, "t": 1932100000, "contact": True, "soft_capture": False,
               "ring_extension": 1.0, "ready_to_hook": [True, False], "hooks": [0.0, 0.5, 1],
               "hard_capture": False, "vestibule_kpa": 101.3, "vestibule_degc": 21.0,
               "rel_rate_mps": 0.002, "rel_rate_dps": 0.01}  # fmt: skip
    messages: list[tuple[bytes, dict[str, object]]] = [
        (b"0", sample | angles),
        (b"0", sample | angles | rates),
        (b"0", sample | {"q": [0.6, 0.0, 0.8, 0.0]}),
        (b"1", capture),
        (b"2", {"t": 1932100000.5, "last_seq": 41}),
        (b"trel/radio\n", sample | angles),
    ]
    encoders = (msgspec.json.encode, msgspec.msgpack.encode)
    return [head + pack(fields) for pack in encoders for head, fields in messages]


# ------------------------------------------------------------------------------------ files


def run_limits(data: bytes) -> str:
    """Read limits; save them with another reason and a limit changed, and read that."""
    name = "limits.toml"
    try:
        opened = parse_limits(data, name)
    except InputError as error:
        check_refusal(error, name)
        return "refused"
    changed = list(opened.limits)
    if changed:
        changed[-1] = replace(changed[-1], deadband=0.0625, action="Call hold")
    draft = replace(
        opened, revision=opened.revision + 1, reason='a "reason" \\ here', limits=tuple(changed)
    )
    try:
        text = edited(opened, draft, name)
    except InputError as error:
        check_refusal(error, name)
        return "taken, not to be edited"
    again = parse_limits(text.encode(), name)
    same = replace(again, text=draft.text, sha256=draft.sha256)
    require(same == draft, f"{draft} came back as {again}")
    return "taken"


def run_procedure(data: bytes) -> str:
    """Read a procedure."""
    return _read(lambda: parse_procedure(data, "procedure.toml"), "procedure.toml")


def run_scenario(data: bytes) -> str:
    """Read a scenario."""
    return _read(lambda: parse_scenario(data, "scenario.toml"), "scenario.toml")


def run_exercise(data: bytes) -> str:
    """Read an exercise with the files it names; write it and read that."""
    name = "exercise.toml"
    # Names that lead to files of this machine are left out: their outcome is none of the text's.
    if any(word in data for word in (b"/", b"\\u", b"\\U", b"\\x", b"..", b"~")):
        return _read(lambda: _written(parse_exercise(data, name)), name)
    return _read(lambda: _written(exercise_of(data, name, folder())), name)


def _written(exercise: object) -> None:
    text = exercise_text(exercise)  # type: ignore[arg-type]
    again = parse_exercise(text.encode(), "again.toml")
    same = replace(again, text=exercise.text, sha256=exercise.sha256)  # type: ignore[attr-defined]
    require(same == exercise, f"{exercise} came back as {again}")


def run_setup(data: bytes) -> str:
    """Read a setup file with the orbit message it may name."""
    path = folder() / "setup.toml"
    path.write_bytes(data)
    for message in shipped("replay_data", "setups").glob("*.txt"):
        if not (beside := folder() / message.name).exists():
            beside.write_bytes(message.read_bytes())
    return _read(lambda: load_setup(path), None)


def run_coverage(data: bytes) -> str:
    """Read a coverage plan."""
    return _read(lambda: parse_coverage(data, "coverage.csv"), "coverage.csv")


def run_orbit(data: bytes) -> str:
    """Read an orbit message."""
    return _read(lambda: read_orbit(data, "orbit.txt"), "orbit.txt")


def _read(reading: Callable[[], object], name: str | None) -> str:
    try:
        reading()
    except InputError as error:
        check_refusal(error, error.source if name is None else name)
        return "refused"
    return "taken"


# -------------------------------------------------------------------------------------- seeds


def _files(part: str, pattern: str, most: int = 1500) -> list[bytes]:
    """Give shipped files without their comments, and their first bytes."""
    found = []
    for path in sorted(shipped("replay_data", part).glob(pattern)):
        lines = path.read_bytes().splitlines(keepends=True)
        if path.suffix == ".toml":
            lines = [line for line in lines if line.strip() and not line.startswith(b"#")]
        whole = b"".join(lines)
        found += [whole, b"".join(lines[: len(lines) // 2])]
        found += [b"".join(lines[:12])] if len(whole) > most else []
    return [text for text in found if len(text) <= 8000]


@dataclass(frozen=True, slots=True)
class Target:
    """One reader under test.

    Attributes
    ----------
    run : callable
        Takes bytes, gives the kind of outcome, raises where a property does not hold.
    seeds : callable
        Gives inputs to begin with.
    longest : int
        Bytes of an input.
    """

    run: Callable[[bytes], str]
    seeds: Callable[[], Iterable[bytes]]
    longest: int = 4096


TARGETS: dict[str, Target] = {
    "wire": Target(run_wire, wire_seeds, 1024),
    "csv": Target(run_csv, csv_seeds),
    "parquet": Target(run_parquet, parquet_seeds, 16384),
    "recording": Target(run_recording, recording_seeds, 131072),
    "limits": Target(run_limits, lambda: _files("limits", "*.toml")),
    "procedure": Target(run_procedure, lambda: _files("procedures", "*arrival.toml"), 8192),
    "scenario": Target(run_scenario, lambda: _files("scenarios", "*.toml")),
    "mapping": Target(run_mapping, lambda: _files("passes", "*.mapping.toml")),
    "exercise": Target(run_exercise, lambda: _files("exercises", "*.toml")),
    "setup": Target(run_setup, lambda: _files("setups", "*.toml")),
    "coverage": Target(run_coverage, lambda: _files("coverage", "*.csv")),
    "orbit": Target(run_orbit, lambda: _files("setups", "*.txt")),
}


def name_of(data: bytes) -> str:
    """Give the name an input is kept under."""
    return hashlib.sha256(data).hexdigest()[:12]
