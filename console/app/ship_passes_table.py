"""The table of the shipped passes: what each shows, and what is found in it."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from console.app.score import ScoreOrder, score_one
from console.app.ship_passes_list import Recipe
from console.present import text

NAME = "README.md"
HEAD = ("file", "what it shows", "length", "marks passed, m", "contact", "limits", "data")
NOTHING = "none"

ABOVE = """\
# Passes that travel with it

Invented approaches of the vehicle *Kittiwake* to *port C* of *Farrow Station*, flown by the
simulation from the shipped scenarios and cut to be small. Recordings keep what people did:
answers, steps, calls, acknowledgements, notes. Look at any of them with
`leadmark score replay_data/passes/FILE --report FILE.html`.

`leadmark score` finds what the table says, with the shipped limits: the range marks passed in
order of time, whether contact was within its limits, and every exceedance of a limit (with its
level) and of the data (with its source), in the order they were raised.

"""

BELOW = """
`foreign_columns.csv` is read by `foreign_columns.mapping.toml` beside it. All are made again by
`python -m console.app.ship_passes`; with `--table` that writes this page alone.
"""


def write_table(folder: Path, recipes: Sequence[Recipe]) -> Path:
    """Score the passes of a folder and write the table of them."""
    rows = [HEAD, ("---",) * len(HEAD)]
    for recipe in recipes:
        outcome = score_one(folder / recipe.name, ScoreOrder()).outcome
        rows.append((f"`{recipe.name}`", recipe.shows, *found(outcome)))
    lines = ["| " + " | ".join(row) + " |" for row in rows]
    path = folder / NAME
    path.write_text(ABOVE + "\n".join(lines) + "\n" + BELOW, encoding="utf-8")
    return path


def found(outcome: dict[str, Any]) -> tuple[str, ...]:
    """Say what a score found, column by column."""
    contact = outcome["contact"]
    outside = () if contact is None else contact["outside"]
    verdict = "outside: " + ", ".join(outside) if outside else "within limits"
    return (
        text.duration(outcome["duration_s"]),
        _listed([f"{mark['range_m']:g}" for mark in outcome["marks"]]),
        NOTHING if contact is None else verdict,
        _listed([f"{e['id']} ({e['level']})" for e in outcome["exceedances"]]),
        _listed([f"{e['id']} {e['source']} ({e['level']})" for e in outcome["data_exceedances"]]),
    )


def _listed(words: Sequence[str]) -> str:
    return ", ".join(words) or NOTHING
