"""Orbit message and coverage plan of a watch: read, kept with the recording, read back from it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

from console.app.input_file import read_bytes
from console.archive.recording.meta import RecordingMeta
from console.archive.shipped import shipped
from console.core.errors import InputError
from console.envelope.setup import Setup
from console.surroundings.coverage_reading import parse_coverage
from console.surroundings.element_set import read_orbit
from console.surroundings.surroundings import Surroundings, surroundings_of

DEMO_COVERAGE = "farrow_station"
_PREFIX = "around_"


@dataclass(frozen=True, slots=True)
class Around:
    """The texts light and link are computed from, with the names they were given under."""

    orbit_text: str = ""
    orbit_name: str = ""
    coverage_text: str = ""
    coverage_name: str = ""

    def kept(self) -> dict[str, str]:
        """Give what a recording keeps, so that its events come out as they were."""
        return {_PREFIX + name: getattr(self, name) for name in _NAMES if getattr(self, name)}

    @property
    def coverage(self) -> dict[str, str]:
        """The coverage plan's fields alone."""
        return {"coverage_text": self.coverage_text, "coverage_name": self.coverage_name}

    def built(self, setup: Setup) -> tuple[Setup, Surroundings | None]:
        """Give the setup with the message's altitude, and the surroundings; None if unknown.

        Raises
        ------
        InputError
            A text cannot be read.
        """
        orbit = coverage = None
        if self.orbit_text:
            orbit = read_orbit(self.orbit_text.encode(), self.orbit_name)
            setup = replace(setup, orbit=replace(setup.orbit, altitude_km=orbit.altitude_km))
        if self.coverage_text:
            coverage = parse_coverage(self.coverage_text.encode(), self.coverage_name)
        return setup, surroundings_of(setup, orbit, coverage)


_NAMES = ("orbit_text", "orbit_name", "coverage_text", "coverage_name")


def around_of(setup: Setup, setup_path: Path | None, coverage: Path | None) -> Around:
    """Read what a setup and the command line name.

    Parameters
    ----------
    setup : Setup
    setup_path : Path or None
        Where the setup was read from: the orbit message it names stands beside it.
    coverage : Path or None
        The coverage plan.

    Raises
    ------
    InputError
        A file cannot be read, or is not what it should be.
    """
    orbit_text = orbit_name = coverage_text = ""
    if setup.orbit.omm_file is not None:
        folder = Path() if setup_path is None else setup_path.parent
        path = folder / setup.orbit.omm_file
        orbit_text, orbit_name = _text(path), path.name
    if coverage is not None:
        coverage_text = _text(coverage)
    name = "" if coverage is None else coverage.name
    made = Around(orbit_text, orbit_name, coverage_text, name)
    made.built(setup)
    return made


def around_in(meta: RecordingMeta) -> Around:
    """Read back what a recording kept."""
    return Around(*(meta.more.get(_PREFIX + name, "") for name in _NAMES))


def demo_coverage() -> Path:
    """Give the shipped coverage plan of the demo's outpost."""
    return shipped("replay_data", "coverage", f"{DEMO_COVERAGE}.csv")


def _text(path: Path) -> str:
    try:
        return read_bytes(path).decode("utf-8-sig")
    except UnicodeDecodeError:
        raise InputError.of(path.name, "", "not UTF-8", "save the file as UTF-8") from None
