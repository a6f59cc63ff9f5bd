"""What the trainer has typed: an exercise in the making, as texts, and how it becomes a file.

There is one reader of exercises, the strict one of the file: a draft is written as a file and
read, so the page and a text editor are told the same faults.
"""

from __future__ import annotations

import json
import math
from collections.abc import Iterable
from dataclasses import dataclass, field

from console.rehearsal.exercise import Exercise, Hidden, Origin
from console.rehearsal.exercise_reading import FORMAT
from console.rehearsal.fault_words import KIND_WORDS, size_unit
from console.simulation.fault_reading import RULES
from console.simulation.faults import Channel, Fault, FaultKind

FAULT_COLUMNS = (
    "kind", "at_range_m", "at_s", "for_s", "until_range_m", "size", "source", "channel",
)  # fmt: skip
FAULT_HEADS = (
    "fault", "at range, m", "at time, s", "for, s", "until range, m", "size", "source", "value",
)  # fmt: skip
_WORDS = frozenset({"kind", "source", "channel"})


@dataclass(frozen=True, slots=True)
class Draft:
    """Texts of the trainer's page; ``faults`` are rows in the order of ``FAULT_COLUMNS``."""

    title: str = ""
    origin: Origin = Origin.SCENARIO
    name: str = ""
    from_range_m: str = ""
    seed: str = "1"
    speed: str = "1"
    early_s: str = "3"
    response_s: str = "15"
    after_capture_s: str = "20"
    hidden: frozenset[Hidden] = frozenset()
    faults: tuple[tuple[str, ...], ...] = ()


@dataclass(frozen=True, slots=True)
class Choices:
    """What there is to choose from on the page.

    Attributes
    ----------
    exercises, scenarios, passes : tuple of str
        Names; a pass's and an exercise's is its file's path.
    kinds, channels, sources : tuple of str
        For the table of faults.
    """

    exercises: tuple[str, ...] = ()
    scenarios: tuple[str, ...] = ()
    passes: tuple[str, ...] = ()
    kinds: tuple[str, ...] = field(default_factory=lambda: tuple(k.value for k in FaultKind))
    channels: tuple[str, ...] = field(default_factory=lambda: tuple(c.value for c in Channel))
    sources: tuple[str, ...] = ("optical", "radio")


def draft_of(exercise: Exercise) -> Draft:
    """Give an exercise as the page shows it."""
    return Draft(
        title=exercise.title,
        origin=exercise.origin,
        name=exercise.name,
        from_range_m=_plain(exercise.from_range_m),
        seed=str(exercise.seed),
        speed=_plain(exercise.speed),
        early_s=_plain(exercise.rules.early_s),
        response_s=_plain(exercise.rules.response_s),
        after_capture_s=_plain(exercise.after_capture_s),
        hidden=exercise.hidden,
        faults=tuple(_row(fault) for fault in exercise.faults),
    )


def draft_text(draft: Draft) -> str:
    """Write a draft as an exercise file; what is no number is left for the reader to refuse."""
    hidden = ", ".join(json.dumps(part.value) for part in Hidden if part in draft.hidden)
    lines = [
        f"format = {FORMAT}",
        f"title = {_quoted(draft.title)}",
        f"{draft.origin.value} = {_quoted(draft.name)}",
        *_numbers((("from_range_m", draft.from_range_m),)),
        *_numbers((("seed", draft.seed), ("speed", draft.speed))),
        f"hide = [{hidden}]",
        *_numbers((("after_capture_s", draft.after_capture_s),)),
        "",
        "[scoring]",
        *_numbers((("early_s", draft.early_s), ("response_s", draft.response_s))),
    ]
    for row in draft.faults:
        if any(cell.strip() for cell in row):
            lines += ["", "[[fault]]", *_fault_lines(row)]
    return "\n".join(lines) + "\n"


def _fault_lines(row: Iterable[str]) -> list[str]:
    lines = []
    for key, cell in zip(FAULT_COLUMNS, row, strict=True):
        if cell.strip():
            value = _quoted(cell.strip()) if key in _WORDS else _number(cell)
            lines.append(f"{key} = {value}")
    return lines


def _numbers(pairs: Iterable[tuple[str, str]]) -> list[str]:
    return [f"{key} = {_number(text)}" for key, text in pairs if text.strip()]


def _number(text: str) -> str:
    """Write a number as TOML does; anything else as a text, which the reader refuses by key."""
    typed = text.strip().replace("−", "-").replace(",", ".")
    try:
        value = float(typed)
    except ValueError:
        return _quoted(text.strip())
    if not math.isfinite(value):
        return _quoted(text.strip())
    return repr(int(value)) if value.is_integer() and "." not in typed else repr(value)


def _quoted(text: str) -> str:
    return json.dumps(text, ensure_ascii=False)


def _row(fault: Fault) -> tuple[str, ...]:
    has_size = RULES[fault.kind].size is not None
    return (
        fault.kind.value,
        _plain(fault.at_range_m),
        _plain(fault.at_s),
        _plain(fault.for_s) if math.isfinite(fault.for_s) else "",
        _plain(fault.until_range_m),
        _plain(fault.size) if has_size else "",
        fault.source or "",
        "" if fault.channel is None else fault.channel.value,
    )


def _plain(value: float | None) -> str:
    return "" if value is None else f"{value:g}"


def size_words(kind: str, channel: str) -> str:
    """Say what the size of a kind of fault is, and which values it takes."""
    if kind not in set(FaultKind):
        return ""
    fault = FaultKind(kind)
    rule = RULES[fault]
    unit = size_unit(fault, Channel(channel) if channel in set(Channel) else None)
    size = "no size" if rule.size is None else f"size in {unit}" if unit else "size: a share"
    allowed = ", ".join(one.value for one in rule.channels)
    needed = " (needed)" if rule.needs_channel else ""
    values = f"; value{needed}: {allowed}" if allowed else "; no value"
    return f"{KIND_WORDS[fault]}: {size}{values}"
