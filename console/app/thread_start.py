"""Starting a thread where the system may have none left to give."""

from __future__ import annotations

from threading import Thread

from console.core.errors import InputError


def start_thread(thread: Thread, what: str) -> None:
    """Start a thread.

    Raises
    ------
    InputError
        The system gives no more threads; ``what`` cannot begin then.
    """
    try:
        thread.start()
    except RuntimeError as error:
        mend = "end other programs, then try again"
        raise InputError.of(what, "", f"cannot begin: {error}", mend) from None
