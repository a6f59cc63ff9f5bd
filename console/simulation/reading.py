"""Read a scenario file: strict TOML, every fault told at once with its line.

Every key but ``title`` and ``watch_for`` may be left out; what is left out is as in the nominal
approach.
"""

from __future__ import annotations

import math
from dataclasses import replace

from console.core.errors import WireError
from console.core.ids import SourceId
from console.core.utc import parse_utc
from console.envelope.physical import ACCELERATION_MPS2, DURATION_S, SIZE, WAIT_S
from console.envelope.strict import Reader
from console.envelope.strict_table import Table, words_of
from console.envelope.strict_value import Bounds
from console.simulation.fault_reading import read_fault
from console.simulation.mechanism import MECHANISM
from console.simulation.scenario import (
    LONGEST_RANGE_M,
    OPTICAL,
    RADIO,
    SENSOR_A,
    SENSOR_B,
    Capture,
    Hold,
    Order,
    OrderKind,
    RandomDropouts,
    Scenario,
    Sensor,
    Steering,
)
from console.wire.rules import source_name

RANGE = Bounds(above=0.0, most=LONGEST_RANGE_M)
RATE = Bounds(above=0.0, most=5.0)
SHARE = Bounds(least=0.0, most=1.0)
ANGLE = Bounds(above=0.0, most=90.0)
SENSOR_RATE_HZ = Bounds(least=0.001, most=200.0)
ACROSS_M = Bounds(least=-LONGEST_RANGE_M, most=LONGEST_RANGE_M)
SMALL_M = Bounds(least=0.0, most=LONGEST_RANGE_M)
SMALL_MPS = Bounds(least=0.0, most=5.0)
SLOPE_PER_S = Bounds(least=0.0, most=10.0)
PULSE_MPS = Bounds(least=0.000_001, most=5.0)
DELAY_S = Bounds(least=0.0, most=3600.0)
STEP_S = Bounds(least=0.01, most=3600.0)
"""Of what happens after contact: hours of it would be millions of statuses."""
MOST_DROPOUTS = 1000

_STEERING = {
    "braking_mps2": ACCELERATION_MPS2,
    "pulse_limit_mps": PULSE_MPS,
    "pulse_mps": PULSE_MPS,
    "rate_deadband_mps": SMALL_MPS,
    "lateral_deadband_mps": SMALL_MPS,
    "thrust_noise": SHARE,
    "nav_offset_m": SMALL_M,
    "nav_rate_offset_mps": SMALL_MPS,
}
_SENSOR = {
    "rate_hz": SENSOR_RATE_HZ,
    "phase_s": DELAY_S,
    "delay_s": DELAY_S,
    "jitter_s": DELAY_S,
    "coloured_share": Bounds(least=0.0, most=100.0),
    "coloured_s": Bounds(least=0.001, most=86_400.0),
    "scale": SHARE,
    "outlier_share": SHARE,
}
_CAPTURE = {
    "soft_capture_s": STEP_S,
    "damping_s": DELAY_S,
    "decay_s": STEP_S,
    "period_s": STEP_S,
    "alignment_s": DELAY_S,
    "retraction_s": STEP_S,
    "settling_s": STEP_S,
    "gang_s": STEP_S,
    "seal_s": STEP_S,
    "samples_s": DELAY_S,
    "vestibule_s": WAIT_S,
    "pressurise_after_s": WAIT_S,
    "pressurise_s": Bounds(least=0.01, most=86_400.0),
    "vestibule_kpa": Bounds(above=0.0, most=10_000.0),
    "vestibule_degc": Bounds(above=-200.0, most=1000.0),
    "leak_pa_per_h": SIZE,
    "charging_k": Bounds(least=0.0, most=1000.0),
    "cooling_s": Bounds(least=0.01, most=86_400.0),
    "sensor_lag_s": WAIT_S,
    "pressure_noise_pa": SIZE,
    "temperature_noise_k": Bounds(least=0.0, most=1000.0),
}
_LIKE = {"A": SENSOR_A, "B": SENSOR_B}
_YEARS = (parse_utc("2031-01-01T00:00:00Z"), parse_utc("2032-01-01T00:00:00Z"))


def parse_scenario(data: bytes, name: str) -> Scenario:
    """Read and check a scenario file.

    Parameters
    ----------
    data : bytes
        The file.
    name : str
        What errors call it.

    Returns
    -------
    Scenario

    Raises
    ------
    InputError
        With every fault found, each with its line where known.
    """
    reader = Reader(data, name)
    root = reader.root
    root.integer("format", 1, least=1)
    default = Scenario()
    start = root.table("start", required=False)
    sensors = _sensors(root, default.sensors)
    names = tuple(sensor.name for sensor in sensors)
    scenario = Scenario(
        title=root.text("title", may_be_empty=False),
        watch_for=root.text("watch_for", may_be_empty=False),
        start_t=_start_t(start, default.start_t),
        start_range_m=start.number("range_m", default.start_range_m, RANGE),
        demo_range_m=start.number("demo_range_m", default.demo_range_m, RANGE),
        start_y_m=start.number("y_m", default.start_y_m, ACROSS_M),
        start_z_m=start.number("z_m", default.start_z_m, ACROSS_M),
        holds=_holds(root, default.holds),
        orders=tuple(_order(table) for table in root.tables("order", "order")),
        steering=_steering(root.table("steering", required=False)),
        sensors=sensors,
        faults=tuple(read_fault(table, names) for table in root.tables("fault", "kind")),
        capture=_capture(root.table("capture", required=False)),
        stay_s=root.number("stay_s", default.stay_s, DURATION_S),
        longest_s=root.number("longest_s", default.longest_s, DURATION_S),
    )
    reader.finish()
    return scenario


def _start_t(table: Table, default: float) -> float:
    if not table.has("time"):
        return default
    text = table.text("time", may_be_empty=False)
    if table.was_refused("time"):
        return default
    try:
        t = parse_utc(text)
    except ValueError as error:
        table.refuse("time", str(error), "write UTC such as 2031-04-10T09:35:00Z")
        return default
    if not _YEARS[0] <= t < _YEARS[1]:
        table.refuse("time", f"found {text}", "shipped and simulated passes lie in the year 2031")
    return t


def _holds(root: Table, default: tuple[Hold, ...]) -> tuple[Hold, ...]:
    if not root.has("hold"):
        return default
    return tuple(
        Hold(table.number("range_m", bounds=RANGE), _length_s(table))
        for table in root.tables("hold")
    )


def _length_s(table: Table) -> float:
    """Read how long something lasts; left out, it lasts for ever."""
    return table.number("for_s", math.inf, WAIT_S)


def _order(table: Table) -> Order:
    default = Order(OrderKind.RETREAT, 0.0)
    kind = table.choice("order", words_of(OrderKind))
    at_range_m = table.number("at_range_m", bounds=RANGE)
    for_s = _length_s(table)
    if kind is OrderKind.HOLD:
        return Order(kind, at_range_m, for_s)
    to_m = table.number("to_m", default.to_m, RANGE)
    if to_m <= at_range_m:
        table.refuse("to_m", f"found {to_m:g}", f"must be above at_range_m, {at_range_m:g}")
    return Order(kind, at_range_m, for_s, to_m, table.number("rate_mps", default.rate_mps, RATE))


def _numbers(table: Table, default: object, keys: dict[str, Bounds]) -> dict[str, float]:
    return {key: table.number(key, getattr(default, key), bounds) for key, bounds in keys.items()}


def _steering(table: Table) -> Steering:
    default = Steering()
    low, high = table.numbers(
        "attitude_deadband_deg", default.attitude_deadband_deg, ANGLE, count=2
    )
    if high < low:
        table.refuse("attitude_deadband_deg", f"found [{low:g}, {high:g}]", "least, then largest")
    numbers = _numbers(table, default, _STEERING)
    return replace(
        default,
        final_rate_mps=table.number_or_none("final_rate_mps", RATE),
        knee_m=table.number_or_none("knee_m", SMALL_M),
        slope_per_s=table.number_or_none("slope_per_s", SLOPE_PER_S),
        attitude_deadband_deg=(low, high),
        **numbers,
    )


def _sensors(root: Table, default: tuple[Sensor, ...]) -> tuple[Sensor, ...]:
    if not root.has("source"):
        return default
    sensors = tuple(_sensor(table) for table in root.tables("source", "name"))
    names = [sensor.name for sensor in sensors]
    for number, name in enumerate(names):
        if name and name in names[:number]:
            root.refuse(
                "source", f'"{name}" stands twice', "give each source its own name", number
            )
    if not sensors and not root.was_refused("source"):
        root.refuse("source", "found none", "a pass needs at least one source")
    return sensors


def _source_name(table: Table) -> SourceId:
    """Read a name that the wire takes, and that is not the mechanism's."""
    name = table.text("name", may_be_empty=False)
    if table.was_refused("name") or not name:
        return SourceId(name)
    if name == MECHANISM:
        table.refuse("name", f'found "{name}"', "the capture mechanism has it: give another name")
        return SourceId("")
    try:
        return source_name(name)
    except WireError as error:
        table.refuse("name", f"{error}", "give another name")
        return SourceId("")


def _sensor(table: Table) -> Sensor:
    name = _source_name(table)
    default = RADIO if name == RADIO.name else OPTICAL
    return replace(
        default,
        name=name,
        noise=table.choice("like", _LIKE, default.noise),
        dropouts=_dropouts(table.table("dropouts", required=False)),
        sends_lateral_rates=table.flag("sends_lateral_rates", default.sends_lateral_rates),
        sends_body_rates=table.flag("sends_body_rates", default.sends_body_rates),
        **_numbers(table, default, _SENSOR),
    )


def _dropouts(table: Table) -> RandomDropouts:
    none = RandomDropouts()
    count = table.integer("count", none.count, least=0)
    if count > MOST_DROPOUTS:
        table.refuse("count", f"found {count}", f"must be at most {MOST_DROPOUTS}")
    shortest_s = table.number("shortest_s", none.shortest_s, WAIT_S)
    longest_s = table.number("longest_s", none.longest_s, WAIT_S)
    if longest_s < shortest_s:
        key = "longest_s" if table.has("longest_s") else "shortest_s"
        found = f"longest_s {longest_s:g} is below shortest_s {shortest_s:g}"
        table.refuse(key, found, "the longest must not be below the shortest")
    return RandomDropouts(count, shortest_s, longest_s)


def _capture(table: Table) -> Capture:
    return Capture(**_numbers(table, Capture(), _CAPTURE))
