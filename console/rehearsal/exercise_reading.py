"""An exercise as a TOML file: read strictly, with every fault told at once, and written again.

A file holds ``format``, ``title``, either ``scenario`` (with ``from_range_m``) or ``pass``, and
whatever differs from the defaults; faults are written as in a scenario file.
"""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from dataclasses import replace

from console.core.errors import InputError
from console.core.ids import SourceId
from console.envelope.strict import Reader
from console.envelope.strict_table import Table, words_of
from console.envelope.strict_value import Bounds
from console.rehearsal.exercise import Exercise, Hidden, Origin, Rules
from console.rehearsal.faulting import refusal_for_pass
from console.simulation.fault_reading import RULES, read_fault
from console.simulation.faults import Fault
from console.simulation.scenario import LONGEST_RANGE_M

FORMAT = 1
RANGE = Bounds(above=0.0, most=LONGEST_RANGE_M)
SPEED = Bounds(least=0.1, most=60.0)
RESPONSE = Bounds(above=0.0, most=600.0)
EARLY = Bounds(least=0.0, most=60.0)
AFTER = Bounds(least=0.0, most=7200.0)

SourcesOf = Callable[[Origin, str], tuple[SourceId, ...]]
"""Gives the sources of a scenario or pass; raises InputError where there is no such thing."""


def parse_exercise(data: bytes, name: str, sources_of: SourcesOf | None = None) -> Exercise:
    """Read and check an exercise file.

    Parameters
    ----------
    data : bytes
        The file.
    name : str
        What errors call it.
    sources_of : callable, optional
        For checking the faults' sources; without it any name goes, as for a text that was checked
        when its rehearsal began.

    Raises
    ------
    InputError
        With every fault found, each with its line where known.
    """
    reader = Reader(data, name)
    root = reader.root
    if root.integer("format") != FORMAT and not root.was_refused("format"):
        root.refuse("format", "another format", f"this version reads format {FORMAT}")
    origin, what = _origin(root)
    sources = _sources(root, origin, what, sources_of)
    rules = root.table("scoring", required=False)
    default = Exercise("", origin, what)
    exercise = Exercise(
        title=root.text("title", may_be_empty=False),
        origin=origin,
        name=what,
        from_range_m=_from_range_m(root, origin),
        seed=root.integer("seed", default.seed, least=0),
        speed=root.number("speed", default.speed, SPEED),
        hidden=_hidden(root),
        faults=tuple(_fault(table, origin, sources) for table in root.tables("fault", "kind")),
        after_capture_s=root.number("after_capture_s", default.after_capture_s, AFTER),
        rules=Rules(
            rules.number("early_s", default.rules.early_s, EARLY),
            rules.number("response_s", default.rules.response_s, RESPONSE),
        ),
    )
    reader.finish()
    return replace(exercise, text=reader.text, sha256=reader.sha256)


def _origin(root: Table) -> tuple[Origin, str]:
    """Read which approach it is: exactly one of the two keys."""
    has_pass, has_scenario = root.has("pass"), root.has("scenario")
    if has_pass and has_scenario:
        root.refuse("pass", "stands beside scenario", "give one of the two")
    origin = Origin.PASS if has_pass and not has_scenario else Origin.SCENARIO
    return origin, root.text(origin.value, may_be_empty=False)


def _sources(
    root: Table, origin: Origin, name: str, sources_of: SourcesOf | None
) -> tuple[SourceId, ...] | None:
    if sources_of is None or root.was_refused(origin.value):
        return None
    try:
        return sources_of(origin, name)
    except InputError as error:
        fault = error.faults[0]
        root.refuse(origin.value, f'"{name}": {fault.found}', fault.mend)
        return None


def _from_range_m(root: Table, origin: Origin) -> float | None:
    if origin is Origin.PASS and root.has("from_range_m"):
        root.refuse("from_range_m", "a recorded pass starts where it was recorded", "leave it out")
        return None
    return root.number_or_none("from_range_m", RANGE)


def _hidden(root: Table) -> frozenset[Hidden]:
    allowed = words_of(Hidden)
    words = root.texts("hide", ())
    for number, word in enumerate(words):
        if word not in allowed:
            root.refuse("hide", f'found "{word}"', "allowed: " + ", ".join(allowed), number)
    return frozenset(allowed[word] for word in words if word in allowed)


def _fault(table: Table, origin: Origin, sources: tuple[SourceId, ...] | None) -> Fault:
    if sources is None:
        word = table.text("source", "")
        sources = (SourceId(word),) if word else ()
    fault = read_fault(table, sources)
    refusal = refusal_for_pass(fault) if origin is Origin.PASS else ""
    if refusal and not table.was_refused("kind"):
        table.refuse("kind", refusal, "choose a scenario, or leave the fault out")
    return fault


# ---------------------------------------------------------------------- writing


def exercise_text(exercise: Exercise) -> str:
    """Write an exercise as its file; reading it again gives the same exercise."""
    default = Exercise("", exercise.origin, "")
    lines = [
        f"format = {FORMAT}",
        f"title = {_text(exercise.title)}",
        f"{exercise.origin.value} = {_text(exercise.name)}",
    ]
    if exercise.from_range_m is not None:
        lines.append(f"from_range_m = {_number(exercise.from_range_m)}")
    lines += [f"seed = {exercise.seed}", f"speed = {_number(exercise.speed)}"]
    hidden = ", ".join(_text(part.value) for part in Hidden if part in exercise.hidden)
    lines.append(f"hide = [{hidden}]")
    if exercise.after_capture_s != default.after_capture_s:
        lines.append(f"after_capture_s = {_number(exercise.after_capture_s)}")
    lines += [
        "",
        "[scoring]",
        f"early_s = {_number(exercise.rules.early_s)}",
        f"response_s = {_number(exercise.rules.response_s)}",
    ]
    for fault in exercise.faults:
        lines += ["", "[[fault]]", *_fault_lines(fault)]
    return "\n".join(lines) + "\n"


def _fault_lines(fault: Fault) -> list[str]:
    rule = RULES[fault.kind]
    lines = [f"kind = {_text(fault.kind.value)}"]
    numbers: list[tuple[str, float | None]] = [
        ("at_range_m", fault.at_range_m),
        ("at_s", fault.at_s),
        ("for_s", fault.for_s if math.isfinite(fault.for_s) else None),
        ("until_range_m", fault.until_range_m),
        ("size", fault.size if rule.size is not None else None),
    ]
    lines += [f"{key} = {_number(value)}" for key, value in numbers if value is not None]
    if fault.source is not None:
        lines.append(f"source = {_text(fault.source)}")
    if fault.channel is not None:
        lines.append(f"channel = {_text(fault.channel.value)}")
    return lines


def _text(words: str) -> str:
    return json.dumps(words, ensure_ascii=False)


def _number(value: float) -> str:
    return repr(int(value)) if float(value).is_integer() else repr(float(value))
