"""What a campaign is asked to fly: everything its table depends on, and nothing else.

The order holds texts, not paths, so that it means the same on every machine; its hash stands in
every part of the table.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, replace
from typing import Final

import msgspec

from console import __version__
from console.bench.program_hash import program_hash
from console.envelope.limits import LimitsFile
from console.envelope.reading import parse_limits
from console.envelope.setup import Setup
from console.envelope.setup_reading import parse_setup
from console.simulation.reading import parse_scenario
from console.simulation.scenario import Scenario
from console.simulation.simulate import starting_at
from console.simulation.spread import Dispersion
from console.simulation.spread_reading import parse_spread

CHUNK: Final = 100
"""Runs in one unit of work: what a killed worker loses at most, and one part of the table."""


FLOWN_BY: Final = (
    *(
        f"{room}/**/*.py"
        for room in (
            "core", "wire", "motion", "envelope", "tracking", "judging", "approach", "simulation"
        )
    ),
    *(f"bench/campaign_{part}.py" for part in ("columns", "lanes", "run", "table", "work")),
    "bench/outcome.py", "bench/ready_pass.py", "bench/stop_range.py",
)  # fmt: skip
"""The program's text that a campaign's table follows from."""


def flying_program() -> str:
    """Name this program so that another text of it, of the same version, has another name."""
    return f"{__version__} {program_hash(*FLOWN_BY)[:16]}"


class CampaignOrder(msgspec.Struct, frozen=True):
    """An order.

    Attributes
    ----------
    runs, seed : int
        How many, and of all randomness.
    limits, setup, scenario, spread : str
        Texts of the files; the setup's may be empty.
    altitude_km : float
        Of the setup's orbit, whose message may lie in a file of its own.
    from_range_m : float or None
        Start range in place of the scenario's.
    chunk : int
        Runs in one unit of work.
    program : str
        Version and fingerprint of this program's text: another one may fly otherwise.
    """

    runs: int
    seed: int
    limits: str
    setup: str
    scenario: str
    spread: str
    altitude_km: float
    from_range_m: float | None = None
    chunk: int = CHUNK
    program: str = msgspec.field(default_factory=flying_program)

    @property
    def sha256(self) -> str:
        """Hash of the whole order, lower-case hex."""
        return hashlib.sha256(self.to_bytes()).hexdigest()

    @property
    def chunks(self) -> int:
        """How many units of work."""
        return -(-self.runs // self.chunk)

    def runs_of(self, chunk: int) -> range:
        """Give the numbers of a unit's runs."""
        return range(chunk * self.chunk, min((chunk + 1) * self.chunk, self.runs))

    def to_bytes(self) -> bytes:
        """Give the order as JSON."""
        return msgspec.json.encode(self)

    @classmethod
    def of_bytes(cls, data: bytes) -> CampaignOrder:
        """Read an order back."""
        return msgspec.json.decode(data, type=cls)


@dataclass(frozen=True, slots=True)
class Prepared:
    """An order's texts, read."""

    order: CampaignOrder
    limits: LimitsFile
    setup: Setup
    scenario: Scenario
    dispersion: Dispersion


def prepare(order: CampaignOrder) -> Prepared:
    """Read the texts of an order.

    Raises
    ------
    InputError
        One of them is refused.
    """
    limits = parse_limits(order.limits.encode(), "limits")
    setup = parse_setup(order.setup.encode(), "setup") if order.setup else Setup()
    setup = replace(setup, orbit=replace(setup.orbit, altitude_km=order.altitude_km))
    scenario = parse_scenario(order.scenario.encode(), "scenario")
    scenario = starting_at(scenario, order.from_range_m)
    sources = tuple(sensor.name for sensor in scenario.sensors)
    return Prepared(
        order, limits, setup, scenario, parse_spread(order.spread.encode(), "spread", sources)
    )
