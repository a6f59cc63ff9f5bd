"""``leadmark replay --headless``: the lines of a live watch in text, from a recorded pass."""

from __future__ import annotations

import math
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from console.app.headless import printer, summary
from console.app.input_file import load_residuals
from console.app.pass_rules import PassRules, rules_of, watching_model
from console.app.printing import Printing
from console.app.replay_inputs import PassInputs, inputs_of
from console.app.replay_run import Run
from console.approach.event import AnyEvent
from console.approach.intake import Intake
from console.approach.state import StateModel
from console.archive.mapping import Mapping
from console.archive.passes import read_pass
from console.archive.recorded_pass import Pass
from console.archive.replay_clock import ReplayClock
from console.core.errors import InputError
from console.present.replay_place import ALLOWED, RangePlace, TimePlace, place_of
from console.present.text import short_hash

WAIT_MOST_S = 0.05


@dataclass(frozen=True, slots=True)
class ReplayOrder:
    """What is to be replayed, and how.

    Attributes
    ----------
    limits, setup : Path or None
        None: the pass's own, or the shipped limits and the defaults.
    mapping : Mapping or None
        For a table with its own columns.
    at : str
        Where to begin, as typed; empty for the begin of the pass.
    speed : float
        Pass seconds a second, infinite for as fast as it goes.
    overlay : Path or None
        A second pass laid over the lanes.
    """

    path: Path
    limits: Path | None = None
    setup: Path | None = None
    mapping: Mapping | None = None
    at: str = ""
    speed: float = 1.0
    overlay: Path | None = None


def place_in(order: ReplayOrder, t_first: float) -> TimePlace | RangePlace | None:
    """Read where to begin; None where nothing was said.

    Raises
    ------
    InputError
        It is no place.
    """
    if not order.at:
        return None
    place = place_of(order.at, t_first)
    if place is None:
        raise InputError.of("--at", "", order.at, ALLOWED)
    return place


def rules_words(rules: PassRules) -> str:
    """Name the limits in force, and say so plainly where they are not those of the watch."""
    limits = rules.limits
    words = f"limits {limits.title} r{limits.revision} {short_hash(limits.sha256)}"
    own = rules.watched
    if own is None:
        return words
    watched = f"{own.title} r{own.revision} {short_hash(own.sha256)}"
    return f"OTHER LIMITS than the pass was watched under: {words}, watched under {watched}"


def replay_headless(
    order: ReplayOrder,
    write: Callable[[str], None],
    *,
    clock: Callable[[], float] = time.monotonic,
    wait: Callable[[float], object] = time.sleep,
) -> StateModel:
    """Replay in text to the end of the pass; give the state model there.

    Parameters
    ----------
    clock, wait : callable
        Seconds that only go forward, and how to let some pass.

    Raises
    ------
    InputError
        The pass, or a file named with it, cannot be read, or holds nothing.
    """
    one = read_pass(order.path, order.mapping)
    try:
        rules = rules_of(one, order.limits, order.setup)
        inputs = inputs_of(one)
        if inputs.t_first is None:
            raise InputError.of(one.name, "", "no sample and no message in it", "give another")
        place = place_in(order, inputs.t_first)
        speed = "as fast as it goes" if math.isinf(order.speed) else f"at {order.speed:g}×"
        with Printing(write, waits=True) as printing:
            printing.say(f"Replaying {one.name} {speed}, {rules_words(rules)}")
            tell = printer(printing.say)
            state = _play(one, rules, inputs, place, order.speed, tell, clock, wait)
            printing.close(*summary(state))
    finally:
        if one.recording is not None:
            one.recording.close()
    return state


def _play(
    one: Pass,
    rules: PassRules,
    inputs: PassInputs,
    place: TimePlace | RangePlace | None,
    speed: float,
    tell: Callable[[AnyEvent], None],
    clock: Callable[[], float],
    wait: Callable[[float], object],
) -> StateModel:
    state = watching_model(one, rules, load_residuals())
    run = Run(Intake(state, inputs.mode), inputs)
    if place is not None:
        _go_to(run, place)
    begin = run.intake.now if run.count else run.coming_t
    pace = ReplayClock(begin, speed)
    pace.play(clock())
    try:
        while run.coming is not None:
            while (delay_s := pace.delay_s(run.coming_t, clock())) is not None and delay_s > 0.0:
                _tell_all(run.pass_time(pace.now(clock())), tell)
                wait(min(delay_s, WAIT_MOST_S))
            _tell_all(run.feed(), tell)
    except KeyboardInterrupt:
        pass  # what was told so far is summed up, as in a live watch
    finally:
        run.close()
    return state


def _go_to(run: Run, place: TimePlace | RangePlace) -> None:
    """Feed silently up to where the replay is to begin."""
    while run.coming is not None:
        if isinstance(place, RangePlace):
            state = run.intake.state
            here = state.tracker.estimate(state.now)
            if here is not None and here.range_m <= place.range_m:
                return
        elif run.coming_t > place.t:
            run.pass_time(place.t)
            return
        run.feed()


def _tell_all(events: list[AnyEvent], tell: Callable[[AnyEvent], None]) -> None:
    for event in events:
        tell(event)
