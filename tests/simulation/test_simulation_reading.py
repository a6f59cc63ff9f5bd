"""Scenario files: what is read, what is refused and how it is told."""

import dataclasses
import math
import re
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from simulation_cases import flown

from console.core.errors import InputError
from console.core.utc import parse_utc
from console.simulation.fault_reading import RULES
from console.simulation.faults import VEHICLE_KINDS, Channel, Fault, FaultKind
from console.simulation.reading import parse_scenario
from console.simulation.scenario import (
    RADIO,
    SENSOR_B,
    Capture,
    Hold,
    Order,
    OrderKind,
    RandomDropouts,
    Scenario,
)

SHIPPED = Path(__file__).parents[2] / "replay_data" / "scenarios"
HEAD = 'title = "T"\nwatch_for = "W"\n'


def read(text: str) -> Scenario:
    """Read a scenario from text."""
    return parse_scenario((HEAD + text).encode(), "s.toml")


def faults_of(text: str) -> list[str]:
    """Give the faults told of a text."""
    with pytest.raises(InputError) as caught:
        read(text)
    return [str(fault) for fault in caught.value.faults]


@pytest.mark.parametrize(
    "text",
    [
        *(f"[capture]\n{field.name} = {value}"
          for field in dataclasses.fields(Capture) for value in ("1e9", "-1e308")),
        *(f"[capture]\n{key} = 1e-300" for key in ("decay_s", "period_s", "gang_s", "seal_s")),
        *(f"[steering]\n{key} = 1e9"
          for key in ("final_rate_mps", "knee_m", "slope_per_s", "braking_mps2", "pulse_limit_mps",
                      "pulse_mps", "rate_deadband_mps", "lateral_deadband_mps", "nav_offset_m",
                      "nav_rate_offset_mps")),
        "[steering]\npulse_mps = 1e-320",
        *(f'[[source]]\nname = "a"\n{key} = 1e9'
          for key in ("rate_hz", "phase_s", "delay_s", "jitter_s", "coloured_share", "coloured_s",
                      "scale")),
        '[[source]]\nname = "a"\nrate_hz = 1e-320',
        '[[source]]\nname = "a"\n[source.dropouts]\ncount = 1_000_000_000',
        '[[source]]\nname = "a"\n[source.dropouts]\nlongest_s = 1e9',
        '[[source]]\nname = "a"\n[source.dropouts]\nshortest_s = 8\nlongest_s = 1',
        "[start]\ny_m = 1e308", "[start]\nz_m = -1e9",
        "[[hold]]\nrange_m = 20\nfor_s = 1e308",
        *(f'[[fault]]\nkind = "dropout"\n{key} = 1e308'
          for key in ("at_s", "at_range_m", "for_s", "until_range_m")),
    ],
)  # fmt: skip
def test_a_number_beyond_all_reason_is_refused_where_it_stands(text):
    """In one line with what is allowed: the arithmetic behind it would overflow or never end."""
    (told,) = faults_of(text)
    assert re.match(r"line \d+, ", told)
    assert ("must be" in told) or ("must not be" in told)


@pytest.mark.parametrize("kind", [kind for kind in FaultKind if RULES[kind].size is not None])
def test_a_fault_has_a_size_within_reason(kind):
    """Whatever the kind: 1e9 is none, and the largest allowed can be flown and measured."""
    rule = RULES[kind]
    channel = f'\nchannel = "{rule.channels[0].value}"' if rule.needs_channel else ""
    head = f'[[fault]]\nkind = "{kind.value}"{channel}\n'
    (told,) = faults_of(f"{head}size = 1e9")
    assert "size: found 1000000000.0: must be a number" in told
    most = read(f"longest_s = 120\n[start]\nrange_m = 5\n{head}size = {rule.size.most}")
    run = flown(most)
    assert run.messages
    assert np.isfinite(run.truth.columns()).all()


@pytest.mark.parametrize("written", ["a\\nb", "  ", "x" * 129, "a\\u202eb", "mechanism"])
def test_a_source_has_a_name_that_the_wire_takes_and_that_is_its_own(written):
    """Or nothing it sends could be received, or be told from the capture mechanism's."""
    two = f'[[source]]\nname = "{written}"\n' * 2
    told = faults_of(two)
    assert len(told) == 2
    for one in told:
        assert re.match(r"line \d+, source\[.*\]\.name: ", one)
        assert one.isprintable()


def test_the_least_file_is_the_nominal_approach():
    """Only a title and what to watch for: everything else is nominal."""
    scenario = read("")
    default = Scenario(title="T", watch_for="W")
    assert scenario == default


def test_every_key_is_read():
    """A file that sets everything gives a scenario that says so."""
    scenario = read(
        """
format = 1
stay_s = 30
longest_s = 1000
[start]
time = "2031-06-01T00:00:00Z"
range_m = 50
demo_range_m = 30
y_m = 1
z_m = -1.5
[[hold]]
range_m = 30
for_s = 10
[[hold]]
range_m = 20
[[order]]
order = "hold"
at_range_m = 15
for_s = 5
[[order]]
order = "retreat"
at_range_m = 9
to_m = 25
rate_mps = 0.1
[steering]
final_rate_mps = 0.08
knee_m = 15
slope_per_s = 0.004
attitude_deadband_deg = [0.2, 0.4]
pulse_mps = 0.001
[[source]]
name = "radio"
rate_hz = 4
[[source]]
name = "lidar"
like = "B"
sends_body_rates = false
[source.dropouts]
count = 3
shortest_s = 2
longest_s = 4
[[fault]]
kind = "bias"
source = "lidar"
channel = "range_m"
at_range_m = 10
size = -0.5
[[fault]]
kind = "link_loss"
at_s = 100
for_s = 8
[capture]
gang_s = 30
leak_pa_per_h = 50
"""
    )
    assert scenario.start_t == parse_utc("2031-06-01T00:00:00Z")
    assert (scenario.start_range_m, scenario.demo_range_m) == (50.0, 30.0)
    assert (scenario.start_y_m, scenario.start_z_m) == (1.0, -1.5)
    assert (scenario.stay_s, scenario.longest_s) == (30.0, 1000.0)
    assert scenario.holds == (Hold(30.0, 10.0), Hold(20.0, math.inf))
    assert scenario.orders == (
        Order(OrderKind.HOLD, 15.0, 5.0),
        Order(OrderKind.RETREAT, 9.0, math.inf, 25.0, 0.1),
    )
    steering = scenario.steering
    assert (steering.final_rate_mps, steering.knee_m, steering.slope_per_s) == (0.08, 15.0, 0.004)
    assert steering.attitude_deadband_deg == (0.2, 0.4)
    assert steering.pulse_mps == 0.001
    radio, lidar = scenario.sensors
    assert (radio.rate_hz, radio.delay_s) == (4.0, RADIO.delay_s)
    assert (lidar.name, lidar.noise, lidar.rate_hz) == ("lidar", SENSOR_B, 10.0)
    assert lidar.dropouts == RandomDropouts(3, 2.0, 4.0)
    assert not lidar.sends_body_rates
    assert scenario.faults == (
        Fault(FaultKind.BIAS, at_range_m=10.0, size=-0.5, source="lidar", channel=Channel.RANGE),
        Fault(FaultKind.LINK_LOSS, at_s=100.0, for_s=8.0),
    )
    assert (scenario.capture.gang_s, scenario.capture.leak_pa_per_h) == (30.0, 50.0)


def test_no_holds_can_be_asked_for():
    """An empty array of holds means none."""
    assert read("hold = []").holds == ()


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("colour = 1", "line 3, colour: unknown key"),
        ("[start]\nrange = 5", "unknown key"),
        ("[start]\nrange_m = 0", "start.range_m"),
        ("[start]\nrange_m = nan", "finite"),
        ('[start]\ntime = "2031-06-01T00:00:00"', "no Z"),
        ('[start]\ntime = "2026-06-01T00:00:00Z"', "2031"),
        ("[[hold]]\nfor_s = 5", "missing"),
        ('[[order]]\norder = "stop"\nat_range_m = 5', "allowed: hold, retreat"),
        ('[[order]]\norder = "retreat"\nat_range_m = 9\nto_m = 5', "above at_range_m"),
        ('[[order]]\norder = "hold"\nat_range_m = 9\nto_m = 15', "unknown key"),
        ("[steering]\nattitude_deadband_deg = [0.5, 0.3]", "least, then largest"),
        ("[steering]\npulse_mps = -1", "of at least 1e-06"),
        ('[[source]]\nname = "a"\n[[source]]\nname = "a"', "stands twice"),
        ("source = []", "at least one source"),
        ('[[source]]\nname = "a"\nlike = "C"', "allowed: A, B"),
        ('[[fault]]\nkind = "gremlin"', "allowed: dropout"),
        ('[[fault]]\nkind = "dropout"\nsize = 2', "has none"),
        ('[[fault]]\nkind = "dropout"\nsource = "lidar"', "allowed: optical, radio"),
        ('[[fault]]\nkind = "bias"\nsize = 2', "channel"),
        ('[[fault]]\nkind = "bias"\nchannel = "range_m"', "size"),
        ('[[fault]]\nkind = "fast_closing"\nsize = 2\nsource = "optical"', "not of a source"),
        ('[[fault]]\nkind = "link_loss"\nchannel = "range_m"', "has none"),
        ('[[fault]]\nkind = "link_loss"\nat_s = 1\nat_range_m = 1', "one of the two"),
        ('[[fault]]\nkind = "lateral_drift"\nsize = 1\nchannel = "range_m"', "y_m, z_m"),
        ("[capture]\ngang_s = 0", "of at least 0.01"),
        ("[capture", "not TOML"),
    ],
)
def test_what_is_wrong_is_told_with_its_place(text, told):
    """Each fault names file, place, what was found and what is allowed."""
    (fault,) = faults_of(text)
    assert told in fault
    assert "line" in fault


def test_all_faults_are_told_at_once():
    """Three mistakes, three faults, in the order of their lines."""
    told = faults_of('[start]\nrange_m = -1\n[[hold]]\nrange_m = "x"\n[capture]\nsoft = 1')
    assert [fault.split(",")[0] for fault in told] == ["line 4", "line 6", "line 8"]


def test_title_and_what_to_watch_for_are_required():
    """A scenario without words is refused."""
    with pytest.raises(InputError, match="title") as caught:
        parse_scenario(b"", "s.toml")
    assert len(caught.value.faults) == 2


@given(st.binary(max_size=300))
def test_any_bytes_are_read_or_refused(data):
    """Nothing but InputError is ever raised."""
    try:
        parse_scenario(data, "s.toml")
    except InputError:
        return


@pytest.mark.parametrize("kind", list(FaultKind))
def test_every_kind_of_fault_has_its_rule(kind):
    """The rule's example is read back as it stands; vehicle faults are of no source."""
    rule = RULES[kind]
    lines = [f'kind = "{kind.value}"', "at_range_m = 10", "for_s = 5", "until_range_m = 1"]
    if rule.size is not None:
        lines.append("size = 0.5")
    if rule.channels:
        lines.append(f'channel = "{rule.channels[0].value}"')
    if rule.of_source:
        lines.append('source = "radio"')
    (fault,) = read("[[fault]]\n" + "\n".join(lines)).faults
    assert fault.kind is kind
    assert (fault.at_range_m, fault.for_s, fault.until_range_m) == (10.0, 5.0, 1.0)
    assert fault.size == (0.5 if rule.size is not None else 0.0)
    assert fault.channel == (rule.channels[0] if rule.channels else None)
    assert (kind in VEHICLE_KINDS) != rule.of_source
    assert fault.concerns("radio") == rule.of_source
    assert not fault.concerns("optical")


@pytest.mark.parametrize("path", sorted(SHIPPED.glob("*.toml")), ids=lambda path: path.stem)
def test_shipped_scenarios_say_what_to_watch_for(path):
    """Each shipped file is read, has comments, a title and a sentence to watch for."""
    scenario = parse_scenario(path.read_bytes(), path.name)
    text = path.read_text()
    assert text.startswith("# ")
    assert len(scenario.watch_for) > 40
    assert scenario.watch_for.endswith(".")
    assert len(scenario.title) > 5
    assert scenario.demo_range_m <= scenario.start_range_m
    first = max((f.at_range_m or 0.0 for f in scenario.faults), default=0.0)
    if not any(f.kind is FaultKind.LATE_BRAKING for f in scenario.faults):
        assert first < scenario.demo_range_m


def test_the_promised_scenarios_are_there():
    """Ten scenarios that must be, and three more."""
    names = {path.stem for path in SHIPPED.glob("*.toml")}
    assert names >= {
        "nominal",
        "fast_closing",
        "lateral_drift",
        "attitude_buildup",
        "source_bias",
        "source_dropout",
        "link_loss",
        "hold_at_15",
        "retreat",
        "late_braking",
        "rate_bias",
        "frozen",
        "range_scale",
    }
