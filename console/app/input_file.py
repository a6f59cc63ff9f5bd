"""Files a command is given: read whole, refused in one line that says what is wrong."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from console.approach.procedure import Procedure
from console.approach.procedure_reading import parse_procedure
from console.archive.shipped import shipped
from console.core.errors import InputError
from console.envelope.limits import LimitsFile
from console.envelope.reading import parse_limits
from console.envelope.setup import Setup
from console.envelope.setup_reading import parse_setup
from console.simulation.reading import parse_scenario
from console.simulation.scenario import Scenario
from console.surroundings.element_set import read_orbit
from console.tracking.residuals import ResidualArchive

DEFAULT_LIMITS = "port_c_final_approach"
DEFAULT_PROCEDURE = "port_c_arrival"
DEMO_SETUP = "farrow_station"


def read_bytes(path: Path) -> bytes:
    """Read a file.

    Raises
    ------
    InputError
        It cannot be read; says why.
    """
    try:
        return path.read_bytes()
    except (OSError, ValueError) as error:  # a name with a zero byte is a ValueError
        reason = getattr(error, "strerror", None) or str(error)
        raise InputError.of(str(path), "", reason, "give a file that can be read") from None


def load_limits(path: Path | None) -> LimitsFile:
    """Read a limits file, the shipped one for a final approach where none is given."""
    if path is None:
        path = shipped("replay_data", "limits", f"{DEFAULT_LIMITS}.toml")
    return parse_limits(read_bytes(path), str(path.name))


def load_setup(path: Path | None) -> Setup:
    """Read a setup file; every default where none is given.

    An orbit message it names, found beside it, gives the altitude.
    """
    if path is None:
        return Setup()
    setup = parse_setup(read_bytes(path), str(path.name))
    if setup.orbit.omm_file is None:
        return setup
    message = path.parent / setup.orbit.omm_file
    orbit = read_orbit(read_bytes(message), message.name)
    return replace(setup, orbit=replace(setup.orbit, altitude_km=orbit.altitude_km))


def demo_setup() -> Path:
    """Give the shipped setup of the demo's outpost."""
    return shipped("replay_data", "setups", f"{DEMO_SETUP}.toml")


def load_residuals() -> ResidualArchive:
    """Read the shipped archive of residuals, for calibrated chances at contact."""
    path = shipped("replay_data", "residuals.json")
    return ResidualArchive.parse(read_bytes(path), path.name)


def load_procedure(path: Path | None) -> Procedure:
    """Read a procedure file, the shipped one for an arrival where none is given."""
    if path is None:
        path = shipped("replay_data", "procedures", f"{DEFAULT_PROCEDURE}.toml")
    return parse_procedure(read_bytes(path), str(path.name))


def scenario_names() -> list[str]:
    """Give the names of the shipped scenarios."""
    folder = shipped("replay_data", "scenarios")
    return sorted(path.stem for path in folder.glob("*.toml"))


def scenario_path(name: str) -> Path:
    """Give the path of a scenario: that of a shipped name, or the one given as such.

    Raises
    ------
    InputError
        There is no such scenario.
    """
    path = Path(name)
    if path.suffix == ".toml":
        return path
    if name not in scenario_names():
        raise InputError.of(
            "--scenario", name, "no such scenario", "one of " + ", ".join(scenario_names())
        )
    return shipped("replay_data", "scenarios", f"{name}.toml")


def load_scenario(name: str) -> Scenario:
    """Read a scenario by its shipped name, or from a file whose path is given."""
    path = scenario_path(name)
    return parse_scenario(read_bytes(path), path.name)
