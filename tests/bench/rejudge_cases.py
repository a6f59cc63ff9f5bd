"""Random passes judged twice: sample by sample through the whole engine, and as arrays."""

from __future__ import annotations

import random
import re
from dataclasses import fields
from pathlib import Path

from random_passes import make_case, make_live_case
from test_bench_naive import recorded, write_rows

from console.archive.passes import read_pass
from console.bench.pass_set import PassSet
from console.bench.ready_pass import ReadyOrder, make_ready
from console.bench.rejudge import Judged, Rejudge
from console.bench.scoring import score_pass
from console.core.errors import InputError
from console.core.ids import SourceId
from console.envelope.limits import LimitsFile
from console.envelope.reading import parse_limits
from console.envelope.setup import Setup
from console.judging.exceedance import Exceedance
from console.judging.register import Register

LIVE_ONLY = ("words", "waits", "acknowledged_by", "acknowledged_t")
"""What the register adds for an operator; a judge over arrays has none."""
JUDGED = tuple(f.name for f in fields(Exceedance) if f.name not in LIVE_ONLY)


def any_basis(text: str, seed: int) -> str:
    """Let half of the limits judge what was estimated, where the quantity has that form."""
    rng = random.Random(seed)
    parts = text.split("[[limit]]")
    for number, part in enumerate(parts):
        if number and not re.search('quantity = "(source|range_rate)_gap"', part):
            basis = rng.choice(["measured", "estimated"])
            parts[number] = part.replace('basis = "measured"', f'basis = "{basis}"')
    return "[[limit]]".join(parts)


def streamed(path: Path, limits: LimitsFile, source: str | None) -> list[Exceedance]:
    """Give the limits' records of the engine that runs live."""
    name = None if source is None else SourceId(source)
    register: Register = score_pass(read_pass(path), limits, Setup(), source=name).state.register
    mine = [e for e in register if ":" not in e.id]
    return sorted(mine, key=lambda e: (e.onset, e.id))


def as_tuples(records: list[Exceedance]) -> list[tuple]:
    """Give every field a judge fills, for comparison to the last bit."""
    return [tuple(getattr(record, name) for name in JUDGED) for record in records]


def random_file(seed: int, folder: Path) -> tuple[Path, LimitsFile, str | None]:
    """Draw a pass, as a table or as a recording, and limits of either basis."""
    if seed % 3:
        case = make_case(seed)
        path = write_rows(case.rows, folder / f"pass-{seed}.csv")
    else:
        case, end_at = make_live_case(seed)
        path = recorded(case, end_at, folder)
    text = any_basis(case.limits_text, seed)
    return path, parse_limits(text.encode(), "random.toml"), case.only


def judged_as_arrays(path: Path, limits: LimitsFile, source: str | None) -> Judged:
    """Make one pass ready and judge it."""
    ready = make_ready(path, ReadyOrder(limits, Setup(), source), cached=False)
    return Rejudge(PassSet.of([ready], limits)).judge(limits)


def compared(seed: int, folder: Path) -> int:
    """Judge a random pass both ways; give how many records were compared.

    Raises
    ------
    AssertionError
        They differ in any bit.
    """
    path, limits, source = random_file(seed, folder)
    try:
        expected = as_tuples(streamed(path, limits, source))
    except InputError:
        return 0  # the source asked for was never heard
    found = as_tuples(judged_as_arrays(path, limits, source).of(0))
    path.unlink()
    assert expected == found, f"seed {seed}"
    return len(expected)
