"""What varies from run to run: draws, their streams, and the file they are read from."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from console.app.input_file import load_limits
from console.archive.shipped import shipped
from console.core.errors import InputError
from console.core.ids import SourceId
from console.simulation.faults import FaultKind
from console.simulation.scenario import Hold, Scenario
from console.simulation.spread import Dispersion, Drawn, Varied, draw_run
from console.simulation.spread_reading import parse_spread
from tests.fakes.changed import replace

BASE = Scenario()
SOURCES = tuple(sensor.name for sensor in BASE.sensors)
HANDS_OFF = load_limits(None).hands_off


def parsed(text: str) -> Dispersion:
    """Read a spread file's text."""
    return parse_spread(f'title = "t"\n{text}'.encode(), "s.toml", SOURCES)


def drawn(dispersion: Dispersion, run: int, seed: int = 1) -> Drawn:
    """Draw a run on the nominal scenario."""
    return draw_run(dispersion, BASE, HANDS_OFF, seed, run)


def test_without_a_spread_every_run_is_the_scenario() -> None:
    """Only the seed differs."""
    one, two = drawn(Dispersion(), 0), drawn(Dispersion(), 1)
    assert replace(one.scenario, title=BASE.title) == BASE
    assert one.stopping == HANDS_OFF
    assert one.seed != two.seed


def test_a_run_can_be_drawn_alone_and_again() -> None:
    """The same seed and number give the same run; another seed gives another."""
    dispersion = parsed("[start]\ny_m = [-1, 1]\n[vehicle]\nmass = [0.9, 1.1]")
    assert drawn(dispersion, 7) == drawn(dispersion, 7)
    assert drawn(dispersion, 7) != drawn(dispersion, 7, seed=2)


def test_a_new_spread_leaves_the_draws_of_the_others() -> None:
    """Each value has a stream of its own."""
    one = drawn(parsed("[start]\ny_m = [-1, 1]"), 3)
    two = drawn(parsed("[start]\ny_m = [-1, 1]\nz_m = [-1, 1]\n[vehicle]\nmass = [0.9, 1.1]"), 3)
    assert one.scenario.start_y_m == two.scenario.start_y_m
    assert one.scenario.start_z_m != two.scenario.start_z_m
    assert one.seed == two.seed


def test_seeds_are_those_numpy_spawns() -> None:
    """Run i has the seed sequence's i-th child: no two streams ever meet."""
    children = np.random.SeedSequence(5).spawn(3)
    expected = [int(child.generate_state(1, np.uint64)[0] >> 1) for child in children]
    assert [drawn(Dispersion(), run, seed=5).seed for run in range(3)] == expected


@pytest.mark.parametrize(
    ("text", "law"),
    [
        ("y_m = [-2, 4]", stats.uniform(-2, 6)),
        ("y_m = { mean = 1.0, sigma = 0.5 }", stats.norm(1.0, 0.5)),
    ],
)
def test_values_follow_the_law_that_is_written(text: str, law) -> None:
    """400 draws pass a Kolmogorov-Smirnov test against it."""
    dispersion = parsed(f"[start]\n{text}")
    values = [drawn(dispersion, run).scenario.start_y_m for run in range(400)]
    assert stats.kstest(values, law.cdf).pvalue > 0.01


def test_a_normal_value_keeps_to_what_is_allowed() -> None:
    """A closing rate is never drawn at or below 0, however wide the spread."""
    dispersion = parsed("[steering]\nfinal_rate_mps = { mean = 0.02, sigma = 0.05 }")
    rates = [drawn(dispersion, run).scenario.steering.final_rate_mps for run in range(200)]
    assert min(rates) > 0.0


def test_holds_and_faults_come_as_often_as_their_odds() -> None:
    """Counts of 600 runs lie within four sigma of the odds; sizes and ranges within their ends."""
    dispersion = parsed(
        "[[hold]]\nrange_m = 20\nfor_s = [30, 60]\nodds = 0.25\n"
        '[[fault]]\nkind = "fast_closing"\nodds = 0.1\nat_range_m = 60\nat_range_to_m = 10\n'
        "size = 1.2\nsize_to = 1.5\n"
    )
    runs = [drawn(dispersion, run).scenario for run in range(600)]
    held = [run.holds[0] for run in runs if run.holds]
    faults = [run.faults[0] for run in runs if run.faults]
    assert abs(len(held) - 150) < 4 * np.sqrt(600 * 0.25 * 0.75)
    assert abs(len(faults) - 60) < 4 * np.sqrt(600 * 0.1 * 0.9)
    assert all(isinstance(hold, Hold) and 30 <= hold.for_s <= 60 for hold in held)
    assert all(fault.kind is FaultKind.FAST_CLOSING for fault in faults)
    assert all(10 <= fault.at_range_m <= 60 and 1.2 <= fault.size <= 1.5 for fault in faults)


def test_mass_and_thrust_act_on_pulses_and_braking() -> None:
    """Twice the mass halves both; the sources' factors act on noise and bias apart."""
    run = drawn(
        parsed(
            "[vehicle]\nmass = 2\n[sensor.optical]\nnoise = 3\nbias = 0\n[stop]\nreaction_s = 9"
        ),
        0,
    )
    assert run.scenario.steering.pulse_mps == BASE.steering.pulse_mps / 2
    assert run.stopping.braking_mps2 == HANDS_OFF.braking_mps2 / 2
    assert run.stopping.reaction_s == 9.0
    optical, plain = run.scenario.sensors[0].noise, BASE.sensors[0].noise
    assert optical.range_m.at_zero == 3 * plain.range_m.at_zero
    assert optical.range_bias_m == 0.0
    assert run.scenario.sensors[1] == BASE.sensors[1]


def test_the_shipped_spread_is_read() -> None:
    """It varies the start, the steering, the vehicle, both sources, the stop and faults."""
    path = shipped("replay_data", "spreads", "port_c_approach.toml")
    dispersion = parse_spread(path.read_bytes(), path.name, SOURCES)
    assert dispersion.start.keys() == {"y_m", "z_m"}
    assert dispersion.mass is not None
    assert dispersion.sensors.keys() == {SourceId("optical"), SourceId("radio")}
    assert sum(fault.odds for fault in dispersion.faults) < 0.1
    assert dispersion.steering["final_rate_mps"] == Varied(
        0.088, 0.006, is_normal=True, bounds=dispersion.steering["final_rate_mps"].bounds
    )


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("[start]\nx_m = 3", "unknown key"),
        ("[start]\ny_m = [2, 1]", "least, then largest"),
        ("[start]\ny_m = [1]", "2 numbers"),
        ("[start]\ny_m = { mean = 1 }", "sigma"),
        ("[vehicle]\nmass = 0", "above 0"),
        ("[sensor.opticl]\nnoise = 1", "no such source"),
        ("[[hold]]\nrange_m = 20", "for_s"),
        ('[[fault]]\nkind = "freeze"', "odds"),
        ('[[fault]]\nkind = "freeze"\nodds = 1.5', "at most 1"),
        ('[[fault]]\nkind = "freeze"\nodds = 0.1\nsize_to = 2', "no size"),
        ('[[fault]]\nkind = "freeze"\nodds = 0.1\nat_range_to_m = 2', "give both"),
    ],
)
def test_what_is_wrong_is_told(text: str, said: str) -> None:
    """A misspelt key never silently means no spread."""
    with pytest.raises(InputError, match=said):
        parsed(text)
