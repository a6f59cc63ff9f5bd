"""Where the files that come with the program lie, in a checkout and in an installed wheel.

In a checkout ``icons/`` and ``replay_data/`` stand at the top level, beside the package; the
build maps them into the package. Everything that reads a shipped file asks here.
"""

from __future__ import annotations

from pathlib import Path

import console
from console.core.errors import UsageError

ROOTS = ("icons", "replay_data")


def shipped(*parts: str) -> Path:
    """Give the path of a shipped file or folder.

    Parameters
    ----------
    *parts : str
        Below one of the shipped roots, such as ``"replay_data", "limits", "port-c.toml"``.

    Returns
    -------
    Path
        Inside the package where the wheel put it there, else beside the package; whether it
        exists is the caller's question.

    Raises
    ------
    UsageError
        The first part is no shipped root.
    """
    if not parts or parts[0] not in ROOTS:
        raise UsageError(f"shipped files lie below {' or '.join(ROOTS)}, not {parts!r}")
    package = Path(console.__file__).resolve().parent
    return _root(package, parts[0]).joinpath(*parts[1:])


def shipped_names(*parts: str, suffix: str) -> tuple[str, ...]:
    """Give the names, without their suffix, of the shipped files of a folder, sorted."""
    folder = shipped(*parts)
    if not folder.is_dir():
        return ()
    return tuple(sorted(path.stem for path in folder.iterdir() if path.suffix == suffix))


def _root(package: Path, name: str) -> Path:
    inside = package / name
    return inside if inside.is_dir() else package.parent / name
