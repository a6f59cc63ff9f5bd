"""Where the user's own files lie: recordings, and names for new ones that never overwrite."""

from __future__ import annotations

import os
import re
from datetime import UTC, datetime
from pathlib import Path

import platformdirs

DATA_VARIABLE = "LEADMARK_DATA"
SUFFIX = ".leadmark"
# What SQLite puts beside a recording while it is written, and after a kill.
COMPANIONS = ("-wal", "-shm", "-journal")

_NOT_IN_NAMES = re.compile(r"[^\w.+-]+")


def data_folder() -> Path:
    """Give the user's data folder, not yet made: ``LEADMARK_DATA`` if set, else the system's."""
    chosen = os.environ.get(DATA_VARIABLE, "").strip()
    if chosen:
        return Path(chosen).expanduser()
    return platformdirs.user_data_path("leadmark", appauthor=False)


def recordings_folder() -> Path:
    """Give the folder that recordings go to by default."""
    return data_folder() / "recordings"


def recording_name(started_s: float, vehicle: str = "") -> str:
    """Give the name of a recording, ``2031-04-11T093512Z kittiwake.leadmark``.

    Parameters
    ----------
    started_s : float
        Begin of the recording, UTC seconds since 1970.
    vehicle : str
        Any text; what a file name cannot hold everywhere becomes ``-``, empty is left away.
    """
    moment = datetime.fromtimestamp(int(started_s), tz=UTC)
    stamp = moment.strftime("%Y-%m-%dT%H%M%SZ")
    word = _NOT_IN_NAMES.sub("-", vehicle.strip().lower()).strip("-.")[:60]
    return f"{stamp} {word}{SUFFIX}" if word else f"{stamp}{SUFFIX}"


def new_recording_path(started_s: float, vehicle: str = "", folder: Path | None = None) -> Path:
    """Give the path for a new recording, free at this moment, in a folder or the default one."""
    return free_path((folder or recordings_folder()) / recording_name(started_s, vehicle))


def free_path(wanted: Path) -> Path:
    """Give the path, or the first of ``name 2``, ``name 3``, … where nothing stands.

    What SQLite may have left beside a recording counts as standing there: a new file under the
    name of a removed one would take the old one's log for its own.
    """
    candidate = wanted
    number = 2
    while any(os.path.lexists(f"{candidate}{tail}") for tail in ("", *COMPANIONS)):
        candidate = wanted.with_name(f"{wanted.stem} {number}{wanted.suffix}")
        number += 1
    return candidate
