"""Light and link of a watch put together: cached by the minute, shared, honest when unknown."""

from __future__ import annotations

import copy
import subprocess
import sys

import pytest
from surroundings_tools import EPOCH_S, orbit, satellite, tle_text

from console.envelope.setup import Camera, Orbit, Port, PortAxis, Setup
from console.surroundings.advisory import Happening, Predicted
from console.surroundings.coverage import Coverage, Window, WindowKind
from console.surroundings.element_set import read_orbit
from console.surroundings.interval import Interval
from console.surroundings.surroundings import Surroundings, surroundings_of

ORIENTED = Orbit(420.0, None, 51.6, 0.0, 0.0, EPOCH_S)
PLAN = Coverage(
    (
        Window(Interval(EPOCH_S, EPOCH_S + 600.0), "A", WindowKind.COVERAGE),
        Window(Interval(EPOCH_S + 620.0, EPOCH_S + 9000.0), "B", WindowKind.COVERAGE),
    )
)


def at(after_s: float) -> Predicted:
    """Predict contact so long after the epoch."""
    return Predicted(Happening.CONTACT, EPOCH_S + after_s, EPOCH_S + after_s, None)


def test_nothing_known_is_none() -> None:
    """A plain altitude and no plan: there is nothing to ask."""
    assert surroundings_of(Setup()) is None
    assert surroundings_of(Setup(), coverage=PLAN) is not None


def test_port_and_camera_come_from_the_setup() -> None:
    """And an orbit message stands for the circular one."""
    setup = Setup(orbit=ORIENTED, port=Port(PortAxis.R_PLUS), camera=Camera(5.0, 1.0))
    made = surroundings_of(setup)
    assert made == Surroundings(orbit(), None, PortAxis.R_PLUS, Camera(5.0, 1.0))
    message = read_orbit(tle_text(satellite(EPOCH_S, 420.0, 51.6, 0.0)).encode(), "x")
    other = surroundings_of(setup, message)
    assert other is not None
    assert other.orbit is message


def test_one_outlook_serves_its_minute() -> None:
    """It depends on the minute alone and covers past and future of the strip."""
    made = Surroundings(orbit())
    one = made.outlook(EPOCH_S + 61.0)
    assert one == made.outlook(EPOCH_S + 119.9)
    assert one.serves(EPOCH_S + 60.0)
    assert not one.serves(EPOCH_S + 120.0)
    assert not one.serves(EPOCH_S + 59.9)
    assert one.spans[0].t_start == EPOCH_S + 60.0 - 2400.0
    assert one.spans[-1].t_end == EPOCH_S + 60.0 + 7200.0


def test_an_orbit_too_old_is_said_to_be() -> None:
    """Light is unknown with the reason, whether or not contact is predicted."""
    made = Surroundings(orbit())
    t = EPOCH_S + 20.0 * 86400.0
    outlook = made.outlook(t)
    assert (outlook.spans, outlook.glares) == ((), ())
    (one,) = made.ahead(outlook, t, None, None).advisories
    assert one.words == (
        "Light is unknown: the circular orbit is 20.0 days from its epoch, "
        "past the 3 that are believed"
    )


@pytest.mark.parametrize("is_message", [False, True])
def test_light_is_told_as_long_as_its_orbit_is_believed(is_message: bool) -> None:
    """To the last second of its days, both ways; the outlook ends there, and so does all light."""
    message = read_orbit(tle_text(satellite(EPOCH_S, 420.0, 51.6, 0.0)).encode(), "the message")
    known = message if is_message else orbit()
    made = Surroundings(known)
    first_s, last_s = (known.epoch_s + sign * known.max_age_days * 86400.0 for sign in (-1.0, 1.0))
    for now_s in (first_s + 1.0, last_s - 6000.0, last_s - 1.0):
        outlook = made.outlook(now_s)
        assert outlook.spans[0].t_start >= first_s
        assert outlook.spans[0].t_start <= now_s < outlook.spans[-1].t_end <= last_s
        assert made.ahead(outlook, now_s, None, None).advisories == ()
    for now_s in (first_s - 1.0, last_s + 1.0):
        soon = Predicted(Happening.CONTACT, now_s + 60.0, now_s + 50.0, None)
        (told,) = made.ahead(made.outlook(now_s), now_s, soon, None).advisories
        assert told.words.startswith("Light is unknown: ")
        assert told.words.endswith(
            f"is {known.max_age_days:.1f} days from its epoch, "
            f"past the {known.max_age_days:.0f} that are believed"
        )


def test_a_plan_alone_says_nothing_of_light() -> None:
    """Neither day nor an advisory."""
    made = Surroundings(coverage=PLAN)
    outlook = made.outlook(EPOCH_S)
    found = made.ahead(outlook, EPOCH_S, at(300.0), None)
    assert outlook.spans == ()
    assert found.advisories == ()
    assert found.facts == ("Contact under link coverage (A)",)


def test_planned_gaps_near_now() -> None:
    """Those the strip can show, none of tomorrow's."""
    made = Surroundings(coverage=PLAN)
    assert made.gaps(EPOCH_S) == (Interval(EPOCH_S + 600.0, EPOCH_S + 620.0),)
    assert made.gaps(EPOCH_S + 86_400.0) == ()
    assert Surroundings(orbit()).gaps(EPOCH_S) == ()


def test_copies_share_it() -> None:
    """A checkpoint costs nothing."""
    made = Surroundings(orbit(), PLAN)
    assert copy.deepcopy(made) is made


@pytest.mark.parametrize("library", ["sgp4", "numpy"])
def test_libraries_wait_until_they_are_needed(library: str) -> None:
    """Light of a circular orbit needs none of them, once the rooms below are there."""
    code = (
        "import sys; import console.envelope.setup; before = set(sys.modules);"
        "import console.surroundings.surroundings, console.surroundings.element_set;"
        f"sys.exit('{library}' in set(sys.modules) - before)"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
