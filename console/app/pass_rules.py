"""By which rules a pass is judged: its own, as it was watched, or others that were asked for."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

from console.app.around import around_in, around_of
from console.app.input_file import load_limits, load_setup
from console.approach.procedure import Procedure
from console.approach.procedure_reading import parse_procedure
from console.approach.state import StateModel
from console.archive.recorded_pass import Pass
from console.envelope.limits import LimitsFile
from console.envelope.reading import parse_limits
from console.envelope.setup import Setup
from console.envelope.setup_reading import parse_setup
from console.surroundings.surroundings import Surroundings
from console.tracking.residuals import ResidualArchive


@dataclass(frozen=True, slots=True)
class PassRules:
    """Limits, setup, procedure and surroundings for one pass.

    Attributes
    ----------
    watched : LimitsFile or None
        The limits the pass was watched under, where those here are others; None where they are
        the same, or nothing is known of it.
    """

    limits: LimitsFile
    setup: Setup
    procedure: Procedure | None
    surroundings: Surroundings | None
    watched: LimitsFile | None = None


def rules_of(one: Pass, limits: Path | None, setup: Path | None) -> PassRules:
    """Read a pass's rules: its own where it has them, unless files are named.

    Raises
    ------
    InputError
        A file, or a text in the recording, cannot be read.
    """
    own = _own_limits(one)
    chosen = own if own is not None and limits is None else load_limits(limits)
    built, surroundings = _setup_for(one, setup)
    watched = own if own is not None and own.sha256 != chosen.sha256 else None
    return PassRules(chosen, built, _procedure_of(one), surroundings, watched)


def watching_model(one: Pass, rules: PassRules, archive: ResidualArchive) -> StateModel:
    """Give a fresh state model, built as a live watch builds its own.

    Rows of a table that did not validate are counted at once: they have no place in its order.
    """
    state = StateModel(
        rules.limits,
        rules.setup,
        ordered=one.recording is None,
        archive=archive,
        procedure=rules.procedure,
        surroundings=rules.surroundings,
    )
    if one.recording is None:
        state.rejects.update(one.rejected)
    return state


def _own_limits(one: Pass) -> LimitsFile | None:
    if one.recording is None or not one.recording.meta.limits_text:
        return None
    return parse_limits(one.recording.meta.limits_text.encode(), f"{one.name} (its own limits)")


def _setup_for(one: Pass, given: Path | None) -> tuple[Setup, Surroundings | None]:
    """Give setup and surroundings; light and link are among a recording's events only."""
    if one.recording is None:
        return load_setup(given), None
    kept = around_in(one.recording.meta)
    text = one.recording.meta.setup_text
    if given is None:
        setup = parse_setup(text.encode(), f"{one.name} (its own setup)") if text else Setup()
        return kept.built(setup)
    setup = load_setup(given)
    return replace(around_of(setup, given, None), **kept.coverage).built(setup)


def _procedure_of(one: Pass) -> Procedure | None:
    """Read the procedure a recording was watched by: its steps are among its events."""
    if one.recording is None or not one.recording.meta.procedure_text:
        return None
    text = one.recording.meta.procedure_text
    return parse_procedure(text.encode(), f"{one.name} (its own procedure)")
