"""Which passes are shipped, and how each is made from a shipped scenario."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from console.app.demo_crew import Crew
from console.app.ship_passes_foreign import write_foreign
from console.app.ship_passes_people import Habit
from console.core.ids import SourceId
from console.core.records import CaptureStatus, RelativeSample
from console.simulation.faults import Channel, Fault, FaultKind
from console.simulation.scenario import OPTICAL, RADIO, Hold, Order, OrderKind, Scenario

Records = Sequence[RelativeSample | CaptureStatus]

SOURCES = (replace(OPTICAL, rate_hz=5.0), RADIO)
"""Half the usual rate of the optical source keeps a pass small."""


USUAL = Habit()
SLOW_SOURCES = (replace(OPTICAL, rate_hz=2.0), RADIO)


def smaller(scenario: Scenario) -> Scenario:
    """Let the optical source send half as often, and begin near the axis."""
    return replace(scenario, sensors=SOURCES, start_y_m=0.06, start_z_m=-0.04)


def quicker_capture(scenario: Scenario) -> Scenario:
    """Shorten the hold and the mechanism's steps, so that a pass to docked stays small."""
    capture = replace(
        scenario.capture, damping_s=25.0, decay_s=6.0, alignment_s=8.0, retraction_s=30.0,
        gang_s=18.0, samples_s=5.0, vestibule_s=530.0, pressurise_after_s=5.0, pressurise_s=40.0,
        leak_pa_per_h=0.5,
    )  # fmt: skip
    small = smaller(scenario)
    return replace(small, sensors=SLOW_SOURCES, capture=capture, holds=(Hold(20.0, 46.0),))


def stopped(scenario: Scenario) -> Scenario:
    """Stop the vehicle at 8.5 m, as whoever watches asks for, and keep it there."""
    order = Order(OrderKind.HOLD, at_range_m=8.5)
    return replace(smaller(scenario), orders=(order,), stay_s=40.0)


def biased_backup(scenario: Scenario) -> Scenario:
    """Let the radio, which is not in use, read 0.6 m too far from 10 m inward."""
    fault = Fault(
        FaultKind.BIAS, at_range_m=10.0, size=0.6, source=SourceId("radio"), channel=Channel.RANGE
    )
    return replace(smaller(scenario), faults=(fault,))


def drifting(scenario: Scenario) -> Scenario:
    """Let the vehicle drift off at 14 m for 40 s instead of at 60 m."""
    fault = Fault(
        FaultKind.LATERAL_DRIFT, at_range_m=16.0, for_s=45.0, size=0.05, channel=Channel.Y
    )
    return replace(smaller(scenario), faults=(fault,), holds=())


def retreating(scenario: Scenario) -> Scenario:
    """Order the retreat at 7 m, to 12 m."""
    order = Order(OrderKind.RETREAT, at_range_m=7.0, to_m=12.0, rate_mps=0.2)
    return replace(smaller(scenario), orders=(order,), stay_s=30.0)


@dataclass(frozen=True, slots=True)
class Recipe:
    """One shipped pass.

    Attributes
    ----------
    name : str
        Of its file; the ending says in which form it is written.
    scenario : str
        The shipped scenario it begins from; ``change`` makes it small, or different.
    start_m : float
        True range at the begin.
    shows : str
        What it is good for, as the table says it.
    after_contact_s : float or None
        It ends so long after contact; None: with the scenario.
    habit, crew : Habit, Crew
        Who acts; recordings alone keep it.
    notes : tuple of (float, str, str)
        The trainer's notes afterwards: seconds from the begin, initials, words.
    foreign : callable or None
        Writes it in somebody else's columns.
    exercise : str
        Text of the exercise, for a rehearsal's recording: it says then what is flown.
    """

    name: str
    title: str
    scenario: str
    seed: int
    start_m: float
    shows: str
    after_contact_s: float | None = 12.0
    change: Callable[[Scenario], Scenario] = smaller
    habit: Habit = USUAL
    crew: Crew = Crew.ALL
    notes: tuple[tuple[float, str, str], ...] = ()
    foreign: Callable[[Path, Records], None] | None = None
    exercise: str = ""


EXERCISE = """\
format = 1
title = "Attitude builds up behind a frozen source"
scenario = "nominal"
from_range_m = 10
seed = 22
hide = ["exceedances", "margins", "calls"]
after_capture_s = 8

[scoring]
early_s = 3
response_s = 12

[[fault]]
kind = "freeze"
at_range_m = 9
for_s = 6
source = "optical"

[[fault]]
kind = "attitude_runaway"
at_range_m = 7
for_s = 28
size = 0.008               # deg/s²
channel = "pitch_deg"
"""

SHIPPED: tuple[Recipe, ...] = (
    Recipe(
        "nominal_to_docked.leadmark", "Nominal, 20 m hold to docked", "nominal", 5, 20.0,
        "everything inside the envelope; polls and steps of the procedure, calls at every mark, "
        "capture, damping, hooks and a leak check that passes",
        after_contact_s=None, change=quicker_capture,
        habit=Habit(notes=(("HandsOffPassed", "picture steady, corridor clear"),)),
    ),
    Recipe(
        "fast_hold_called.leadmark", "Fast closing, hold called", "fast_closing", 12, 14.5,
        "caution and warning on closing rate, both acknowledged; hold called in time, and the "
        "vehicle stands",
        change=stopped, habit=Habit(stop="hold", stop_s=2.5, acknowledge_s=3.0),
    ),
    Recipe(
        "late_braking.leadmark", "Late braking, contact too fast", "late_braking", 13, 14.0,
        "a warning nobody acknowledges, calls late or missing, contact outside its limits; with "
        "a trainer's notes",
        habit=Habit(acknowledge_s=None, misses=(10.0, 3.0), call_s=(1.0, 4.0)),
        notes=(
            (30.0, "JF", "the caution stood for long before anyone spoke"),
            (62.0, "JF", "a hold called here would still have helped"),
        ),
    ),
    Recipe(
        "link_gap.leadmark", "Link lost for 8 s at 12 m", "link_loss", 3, 14.0,
        "nothing at all for 8 s: stale, then lost, the samples counted, recovery by itself",
        habit=Habit(notes=(("ContactMade", "contact confirmed on the loop"),)),
    ),
    Recipe(
        "retreat.leadmark", "Retreat from 7 m", "retreat", 15, 13.0,
        "a retreat at 7 m, range opens to 12 m; no contact", change=retreating,
        habit=Habit(call_s=(0.2, 0.9)),
    ),
    Recipe(
        "rehearsal.leadmark", "Rehearsal of TS: attitude builds up behind a frozen source",
        "nominal", 22, 10.0,
        "a trainee's run with its truth: one call forgotten, the exceedances seen, a hold called; "
        "with a trainer's notes",
        habit=Habit(
            initials="TS", call_s=(0.5, 2.5), acknowledge_s=None, misses=(4.0,), stop="hold",
            stop_s=4.0, sees_s=3.5,
        ),
        crew=Crew.NONE,
        notes=(
            (18.0, "JF", "frozen source: look at the counter and the values, not at the age"),
            (47.0, "JF", "hold called with time to spare"),
        ),
        exercise=EXERCISE,
    ),
    Recipe(
        "lateral_drift.parquet", "Lateral drift out of the corridor", "lateral_drift", 2, 17.0,
        "the vehicle drifts sideways out of the corridor and comes back before contact",
        change=drifting,
    ),
    Recipe(
        "biased_backup.csv", "Backup source biased from 10 m inward", "nominal", 17, 12.0,
        "the radio, which is not in use, jumps and stays 0.6 m off; the sources disagree",
        change=biased_backup,
    ),
    Recipe(
        "frozen_optical.csv", "Optical source frozen at 8 m", "frozen", 18, 10.0,
        "the optical source repeats one value for 15 s; the radio comes into use",
    ),
    Recipe(
        "attitude_buildup.parquet", "Attitude builds up", "attitude_buildup", 1, 12.0,
        "pitch turns up: the rate's limits first, then the angle's, and back before contact",
    ),
    Recipe(
        "foreign_columns.csv", "Nominal, in somebody else's columns", "nominal", 20, 9.0,
        "a table with its own names, units and signs, read by the mapping beside it; it ends "
        "before contact, because a slant range knows no far side",
        foreign=write_foreign,
    ),
    Recipe(
        "nominal_short.csv", "Nominal from 8 m", "nominal", 21, 8.0,
        "a plain table with nothing wrong in it",
    ),
)  # fmt: skip
"""In the order of the table in ``replay_data/passes/README.md``."""
