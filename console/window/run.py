"""Opening the window on a running watch."""

from __future__ import annotations

import signal
from collections.abc import Callable

from console.present.port import SpeechSwitch, WatchPort
from console.present.theme import DARK, Theme
from console.window.application import application, render
from console.window.main_window import MainWindow
from console.window.watch_view import WatchView

__all__ = ["application", "render", "run_view", "run_watch", "watch_window"]


def watch_window(
    port: WatchPort,
    *,
    theme: Theme = DARK,
    title: str = "Leadmark",
    on_close: Callable[[], None] | None = None,
    speech: SpeechSwitch | None = None,
) -> tuple[MainWindow, WatchView]:
    """Make the window on a watch, not yet shown and not yet asking for snapshots."""
    application(theme)
    view = WatchView(port, speech=speech)
    return MainWindow((view,), title=title, theme=theme, on_close=on_close), view


def run_watch(
    port: WatchPort,
    *,
    theme: Theme = DARK,
    title: str = "Leadmark",
    on_close: Callable[[], None] | None = None,
    speech: SpeechSwitch | None = None,
) -> int:
    """Show the window on a watch until it is closed.

    Parameters
    ----------
    port : WatchPort
        The running watch.
    on_close : callable, optional
        Called once, when the operator closes the window.
    speech : SpeechSwitch, optional
        Spoken calls, where they were asked for.

    Returns
    -------
    int
        The exit status of Qt's loop, 0 for an ordinary close.
    """
    window, view = watch_window(port, theme=theme, title=title, on_close=on_close, speech=speech)
    view.bridge.start()
    return _run(window)


def run_view(view: WatchView, *, theme: Theme = DARK, title: str = "Leadmark") -> int:
    """Show a view in a window of its own until that is closed; give Qt's exit status."""
    application(theme)
    return _run(MainWindow((view,), title=title, theme=theme))


def _run(window: MainWindow) -> int:
    app = application(window.theme)
    for number in (signal.SIGINT, signal.SIGTERM):
        # the bridge's timer lets Python look at signals 40 times a second
        signal.signal(number, lambda *_: app.quit())
    window.show()
    return app.exec()
