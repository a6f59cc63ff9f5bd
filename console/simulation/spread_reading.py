"""Read a spread file: strict TOML, every fault told at once with its line.

A value that varies is written as ``[low, high]`` (even between them), as
``{ mean = M, sigma = S }`` (normal), or as one number (the same in every run).
"""

from __future__ import annotations

from collections.abc import Mapping

from console.core.ids import SourceId
from console.envelope.physical import ACCELERATION_MPS2, DISTANCE_M, SIZE, WAIT_S
from console.envelope.strict import Reader
from console.envelope.strict_table import Table
from console.envelope.strict_value import Bounds
from console.simulation.fault_reading import RULES, read_fault
from console.simulation.reading import (
    ACROSS_M,
    DELAY_S,
    RANGE,
    RATE,
    SHARE,
    SLOPE_PER_S,
    SMALL_M,
    SMALL_MPS,
)
from console.simulation.spread import Dispersion, SensorSpread, Varied, VariedFault, VariedHold

_FACTOR = Bounds(above=0.0, most=100.0)
_COUNT = Bounds(least=0.0, most=100.0)
_START = {"range_m": RANGE, "y_m": ACROSS_M, "z_m": ACROSS_M}
_STEERING = {
    "final_rate_mps": RATE,
    "knee_m": SMALL_M,
    "slope_per_s": SLOPE_PER_S,
    "braking_mps2": ACCELERATION_MPS2,
    "rate_deadband_mps": SMALL_MPS,
    "lateral_deadband_mps": SMALL_MPS,
    "thrust_noise": SHARE,
    "nav_offset_m": SMALL_M,
    "nav_rate_offset_mps": SMALL_MPS,
}
_SENSOR = {"noise": _FACTOR, "bias": _COUNT, "delay_s": DELAY_S, "dropouts": _COUNT}


def parse_spread(data: bytes, name: str, sources: tuple[SourceId, ...]) -> Dispersion:
    """Read and check a spread file.

    Parameters
    ----------
    data : bytes
        The file.
    name : str
        What errors call it.
    sources : tuple of SourceId
        Of the scenario it is used with.

    Raises
    ------
    InputError
        With every fault found, each with its line where known.
    """
    reader = Reader(data, name)
    root = reader.root
    root.integer("format", 1, least=1)
    vehicle = root.table("vehicle", required=False)
    stop = root.table("stop", required=False)
    dispersion = Dispersion(
        title=root.text("title", may_be_empty=False),
        start=_varied_all(root.table("start", required=False), _START),
        steering=_varied_all(root.table("steering", required=False), _STEERING),
        mass=_varied(vehicle, "mass", _FACTOR),
        thrust=_varied(vehicle, "thrust", _FACTOR),
        link_delay_s=_varied(stop, "link_delay_s", WAIT_S),
        reaction_s=_varied(stop, "reaction_s", WAIT_S),
        holds=_holds(root),
        sensors=_sensors(root, sources),
        faults=tuple(_fault(table, sources) for table in root.tables("fault", "kind")),
    )
    reader.finish()
    return dispersion


def _varied(table: Table, key: str, bounds: Bounds) -> Varied | None:
    if not table.has(key):
        return None
    if table.holds_table(key):
        inner = table.table(key)
        mean, sigma = (
            inner.number("mean", bounds=bounds),
            inner.number("sigma", bounds=SIZE),
        )
        return Varied(mean, sigma, is_normal=True, bounds=bounds)
    if not table.holds_list(key):
        value = table.number(key, bounds=bounds)
        return Varied(value, value)
    low, high = table.numbers(key, bounds=bounds, count=2)
    if high < low:
        table.refuse(key, f"found [{low:g}, {high:g}]", "least, then largest")
    return Varied(low, high)


def _varied_all(table: Table, keys: Mapping[str, Bounds]) -> dict[str, Varied]:
    found = {key: _varied(table, key, bounds) for key, bounds in keys.items()}
    return {key: varied for key, varied in found.items() if varied is not None}


def _holds(root: Table) -> tuple[VariedHold, ...] | None:
    if not root.has("hold"):
        return None
    holds = []
    for table in root.tables("hold"):
        range_m = table.number("range_m", bounds=RANGE)
        for_s = _varied(table, "for_s", WAIT_S)
        if for_s is None:
            table.refuse("for_s", "missing", "add how long it lasts, such as [30, 120]")
            for_s = Varied(0.0, 0.0)
        holds.append(VariedHold(range_m, for_s, table.number("odds", 1.0, SHARE)))
    return tuple(holds)


def _sensors(root: Table, sources: tuple[SourceId, ...]) -> dict[SourceId, SensorSpread]:
    outer = root.table("sensor", required=False)
    found = {}
    for name in outer.names():
        if name not in sources:
            outer.has(name)
            outer.refuse(name, "no such source", "allowed: " + ", ".join(sources))
            continue
        found[SourceId(name)] = SensorSpread(**_varied_all(outer.table(name), _SENSOR))
    return found


def _fault(table: Table, sources: tuple[SourceId, ...]) -> VariedFault:
    """Read a fault as in a scenario, its odds, and the other ends of what varies."""
    fault = read_fault(table, sources)
    size_bounds = RULES[fault.kind].size
    size = at_range = None
    if table.has("size_to"):
        if size_bounds is None:
            table.refuse("size_to", f"a fault {fault.kind.value} has no size", "leave it out")
        else:
            size = _between(fault.size, table.number("size_to", bounds=size_bounds))
    if table.has("at_range_to_m"):
        to_m = table.number("at_range_to_m", bounds=DISTANCE_M)
        if fault.at_range_m is None:
            table.refuse("at_range_to_m", "no at_range_m", "give both, or neither")
        else:
            at_range = _between(fault.at_range_m, to_m)
    return VariedFault(fault, table.number("odds", bounds=SHARE), size, at_range)


def _between(one: float, other: float) -> Varied:
    """Give the even spread between two ends, whichever is the lesser."""
    return Varied(min(one, other), max(one, other))
