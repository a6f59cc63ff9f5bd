"""The passes at hand: the user's own recordings and those that are shipped."""

from __future__ import annotations

from pathlib import Path

from console.archive.places import SUFFIX, recordings_folder
from console.archive.shipped import shipped
from console.bench.pass_set import PASS_SUFFIXES

NEWEST = 200


def newest_recordings(folder: Path | None = None) -> list[Path]:
    """Give the newest recordings, newest first; a name begins with its time."""
    own = (folder or recordings_folder()).glob(f"*{SUFFIX}")
    return sorted(own, key=lambda path: path.name, reverse=True)[:NEWEST]


def shipped_passes() -> list[Path]:
    """Give the shipped passes, by name."""
    folder = shipped("replay_data", "passes")
    return sorted(path for path in folder.glob("*") if path.suffix in PASS_SUFFIXES)
