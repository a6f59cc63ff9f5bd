"""Write a file so that its name never stands for half of it."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from console.core.errors import InputError


@contextmanager
def whole_file(target: Path) -> Iterator[Path]:
    """Give a path beside the target to write to; it takes the target's name when all is written.

    Raises
    ------
    InputError
        It cannot be written; what stood under the name before still does.
    """
    part = target.with_name(f".{target.name}.{os.getpid()}.part")
    try:
        yield part
        part.replace(target)
    except OSError as error:
        reason = error.strerror or str(error)
        raise InputError.of(
            str(target), "", f"cannot be written: {reason}", "choose another folder"
        ) from None
    finally:
        with suppress(OSError):
            part.unlink()
