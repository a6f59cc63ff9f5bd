"""A file that is to be written in the end, looked at before the work is done."""

from __future__ import annotations

import os
from collections.abc import Collection
from pathlib import Path

from console.core.errors import InputError


def check_ending(path: Path, place: str, endings: Collection[str]) -> None:
    """Raise :class:`InputError` where a name does not say its form, in capitals or not."""
    if path.suffix.lower() not in endings:
        forms = " or ".join(endings)
        raise InputError.of(str(path), place, path.suffix or "no ending", f"allowed: {forms}")


def check_target(path: Path, place: str) -> None:
    """Look whether a file can be written.

    Parameters
    ----------
    path : Path
        The file.
    place : str
        The option that names it.

    Raises
    ------
    InputError
        The folder does not exist or cannot be written to, or the name is a folder's.
    """
    if path.is_dir():
        raise InputError.of(str(path), place, "a folder", "give a file name in it")
    folder = path.parent
    if not folder.is_dir():
        raise InputError.of(str(path), place, f"no folder {folder}", "make it first")
    if not os.access(path if path.exists() else folder, os.W_OK):
        raise InputError.of(str(path), place, "cannot be written to", "choose another place")
