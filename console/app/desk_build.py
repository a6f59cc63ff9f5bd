"""The desk of the real views: a live watch, a replay or the bench in front, the others at hand."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from PySide6.QtWidgets import QWidget

from console.app.desk import Builders, Desk, Tab
from console.present.opener import Opener
from console.present.port import SpeechSwitch, WatchPort
from console.present.tab_mark import watch_mark
from console.present.theme import DARK, LIGHT, Theme
from console.window.watch_view import WatchView


@dataclass(frozen=True, slots=True)
class Texts:
    """The limits and setup files the desk's other views work with; None for the shipped ones."""

    limits: Path | None = None
    setup: Path | None = None


def theme_named(name: str) -> Theme:
    """Give a theme by its name on the command line."""
    return LIGHT if name == "light" else DARK


def live_desk(
    port: WatchPort,
    *,
    texts: Texts,
    theme: Theme = DARK,
    title: str = "Leadmark",
    speech: SpeechSwitch | None = None,
    when_new: Callable[[Callable[[], None]], None] | None = None,
) -> Desk:
    """Give the desk of a running watch, which goes on whatever view is looked at.

    ``when_new`` takes whom to wake when there is a new snapshot; without it the window looks
    by its own timer alone.
    """
    view = WatchView(port, speech=speech)
    desk = Desk(_builders(texts, lambda _: view), is_live=True, theme=theme, title=title)
    view.bridge.frame_due.connect(lambda watched: desk.mark_watch(watch_mark(watched.snapshot)))
    desk.window.tabs.currentChanged.connect(lambda _: desk.mark_watch(watch_mark(port.snapshot())))
    view.bridge.start()
    if when_new is not None:
        when_new(view.bridge.waker.wake)
    return desk


def replay_desk(view: QWidget, *, texts: Texts, theme: Theme, title: str) -> Desk:
    """Give the desk with a replay in Watch."""
    return Desk(_builders(texts, lambda _: view), theme=theme, title=title)


def bench_desk(
    bench: Callable[[Opener], QWidget], *, texts: Texts, theme: Theme, title: str
) -> Desk:
    """Give the desk with the bench in front, and the passes at hand in Watch."""
    builders = _builders(texts, _start_page, bench)
    return Desk(builders, first=Tab.BENCH, theme=theme, title=title)


def _builders(
    texts: Texts,
    watch: Callable[[Opener], QWidget],
    bench: Callable[[Opener], QWidget] | None = None,
) -> Builders:
    return Builders(
        watch=watch,
        replay=lambda path, t, opener: _replay(path, t, opener, texts),
        rehearse=lambda opener: _rehearse(opener, texts),
        bench=bench or (lambda opener: _bench(opener, texts)),
        debrief=_debrief,
    )


def _start_page(opener: Opener) -> QWidget:
    from console.app.at_hand import newest_recordings, shipped_passes
    from console.window.start_page import StartPage

    return StartPage([*newest_recordings(), *shipped_passes()], opener.open_pass)


def _replay(path: Path, t: float | None, opener: Opener, texts: Texts) -> QWidget:
    from console.app.replay_window import open_replay

    view, _ = open_replay(path, opener, limits=None, setup=texts.setup, at=t)
    return view


def _rehearse(opener: Opener, texts: Texts) -> QWidget:
    from console.app.rehearse import rehearse_view

    return rehearse_view(opener, limits=texts.limits, setup=texts.setup)


def _bench(opener: Opener, texts: Texts) -> QWidget:
    from console.app.bench import BenchOrder, bench_view
    from console.app.bench import passes_at_hand as bench_passes

    return bench_view(opener, BenchOrder(bench_passes(), texts.limits, texts.setup))


def _debrief(path: Path | None, opener: Opener) -> QWidget:
    from console.app.debrief import debrief_view

    return debrief_view(opener, path)
