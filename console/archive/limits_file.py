"""Save a limits file: with a reason, one revision on, and never over somebody else's change."""

from __future__ import annotations

import hashlib
import shutil
from dataclasses import replace
from pathlib import Path

from console.archive.whole_file import whole_file
from console.core.errors import InputError
from console.envelope.editing import edited
from console.envelope.limits import LimitsFile
from console.envelope.reading import parse_limits


def save_limits(
    path: Path, opened: LimitsFile, draft: LimitsFile, *, reason: str, author: str
) -> LimitsFile:
    """Save a draft over the file it was opened from.

    Parameters
    ----------
    path : Path
        The file; where it is a link, what it leads to.
    opened : LimitsFile
        As it was read from ``path``.
    draft : LimitsFile
        What it shall say; its own revision, author and reason are not looked at.
    reason : str
        Why it is changed; kept in the file.
    author : str
        Who changes it; empty: as before.

    Returns
    -------
    LimitsFile
        As it stands in the file now, with its new text and hash.

    Raises
    ------
    InputError
        No reason is given, the draft is no valid limits file, the file changed since it was
        opened, or it cannot be written. The file is then as it was.
    """
    name = path.name
    if not reason.strip():
        raise InputError.of(name, "reason", "empty", "say in a few words why the limits change")
    wanted = replace(
        draft,
        revision=opened.revision + 1,
        reason=reason.strip(),
        author=author.strip() or opened.author,
    )
    data = edited(opened, wanted, name).encode()
    target = path.resolve()
    with whole_file(target) as part:
        _check_unchanged(target, opened, name)
        part.write_bytes(data)
        shutil.copymode(target, part)
        _check_unchanged(target, opened, name)
    return parse_limits(data, name)


def _check_unchanged(target: Path, opened: LimitsFile, name: str) -> None:
    if hashlib.sha256(target.read_bytes()).hexdigest() != opened.sha256:
        raise InputError.of(
            name, "", "changed since it was opened", "open it again and make the change there"
        )
