"""``leadmark replay`` in the window, and the builder of a replay for whoever has a window."""

from __future__ import annotations

from pathlib import Path

from console.app.replay import ReplaySession, session_of
from console.app.replay_headless import ReplayOrder, place_in
from console.archive.mapping import Mapping
from console.present.opener import Opener
from console.present.replay_place import TimePlace
from console.window.run import application, run_window
from console.window.watch_view import WatchView


def open_replay(
    path: Path,
    opener: Opener | None = None,
    *,
    limits: Path | None = None,
    setup: Path | None = None,
    mapping: Mapping | None = None,
    at: float | None = None,
    speed: float = 1.0,
    overlay: Path | None = None,
) -> tuple[WatchView, ReplaySession]:
    """Open a recorded pass as a Watch view; the replay ends when that is closed.

    Parameters
    ----------
    path : Path
    opener : Opener, optional
        Told what was opened.
    limits, setup : Path, optional
        In place of the pass's own.
    at : float, optional
        Where to stand, UTC seconds; by default at the begin.

    Raises
    ------
    InputError
        The pass, or a file named with it, cannot be read.
    """
    session = session_of(path, limits=limits, setup=setup, mapping=mapping, speed=speed)
    if at is not None:
        session.go_to_place(TimePlace(at))
    if overlay is not None:
        session.lay_over(str(overlay))
    view = WatchView(session, replay=session)
    view.closed.connect(session.stop)
    session.start()
    if opener is not None:
        other = session.replay().other_limits
        opener.say(f"{path.name} is open in Watch" + (f", {other}" if other else ""))
    return view, session


def replay_in_window(order: ReplayOrder, theme_name: str) -> int:
    """Show a replay until the window is closed; give Qt's exit status."""
    from console.app.desk_build import Texts, replay_desk, theme_named

    theme = theme_named(theme_name)
    application(theme)
    view, session = open_replay(
        order.path,
        limits=order.limits,
        setup=order.setup,
        mapping=order.mapping,
        speed=order.speed,
        overlay=order.overlay,
    )
    try:
        place = place_in(order, session.replay().t_first)
        if place is not None:
            session.go_to_place(place)
        texts = Texts(order.limits, order.setup)
        title = order.path.name
        return run_window(replay_desk(view, texts=texts, theme=theme, title=title).window)
    finally:
        session.stop()
