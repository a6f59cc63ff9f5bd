"""Whether a window can be opened here: asked before Qt, which would end the program itself."""

from __future__ import annotations

import ctypes
import os
import socket
import sys
from importlib.util import find_spec
from pathlib import Path

from console.core.errors import InputError

CONNECT_TIMEOUT_S = 2.0
X_TCP_PORT = 6000


def require_screen(command: str) -> None:
    """Raise where no window can be opened.

    Raises
    ------
    InputError
        Says what is missing, and names the command's form that needs no screen.
    """
    fault = screen_fault()
    if fault:
        raise InputError.of(
            f"leadmark {command}",
            "",
            fault,
            f"use leadmark {command} --headless, or give a screen",
        )


def screen_fault() -> str:
    """Say what keeps a window from opening; empty where nothing does."""
    platform = os.environ.get("QT_QPA_PLATFORM", "")
    if not sys.platform.startswith("linux") or platform.split(":")[0] not in ("", "xcb"):
        return ""
    if not platform and os.environ.get("WAYLAND_DISPLAY"):
        return ""
    display = os.environ.get("DISPLAY", "")
    if not display:
        return "there is no screen (DISPLAY is not set)"
    if not _answers(display):
        return f"the screen {display} does not answer"
    return _missing_library()


def _answers(display: str) -> bool:
    host, _, rest = display.rpartition(":")
    number = rest.split(".")[0]
    if not number.isdigit():
        return False
    if host in ("", "unix"):
        name = f"/tmp/.X11-unix/X{number}"
        return any(_connects(socket.AF_UNIX, path) for path in (name, "\0" + name))
    return _connects(socket.AF_INET, (host, X_TCP_PORT + int(number)))


def _connects(family: socket.AddressFamily, address: str | tuple[str, int]) -> bool:
    try:
        with socket.socket(family, socket.SOCK_STREAM) as probe:
            probe.settimeout(CONNECT_TIMEOUT_S)
            probe.connect(address)
    except OSError:
        return False
    return True


def _missing_library() -> str:
    spec = find_spec("PySide6")
    if spec is None or not spec.submodule_search_locations:
        return "PySide6 is not installed"
    folder = Path(next(iter(spec.submodule_search_locations)))
    plugin = folder / "Qt" / "plugins" / "platforms" / "libqxcb.so"
    try:
        ctypes.CDLL(str(plugin))
    except OSError as error:
        library = str(error).split(":")[0]
        return f"a system library that Qt needs for a screen is missing ({library})"
    return ""
