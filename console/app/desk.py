"""The window with its four views, and what they open in each other."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum
from functools import partial
from pathlib import Path

from PySide6.QtWidgets import QWidget

from console.core.errors import InputError
from console.present.opener import Opener
from console.present.theme import DARK, Theme
from console.window.main_window import MainWindow
from console.window.refusal_page import RefusalPage
from console.window.view_slot import ViewSlot

LIVE_STAYS = (
    "a live watch is running and stays in Watch: open the pass in a window of its own with "
    "leadmark replay"
)


class Tab(StrEnum):
    """The views, in the order of their tabs."""

    WATCH = "Watch"
    REHEARSE = "Rehearse"
    BENCH = "Bench"
    DEBRIEF = "Debrief"


@dataclass(frozen=True, slots=True)
class Builders:
    """How each view is made; each is called when its tab is first looked at.

    Attributes
    ----------
    watch : callable
        The view of a live watch, or the page that offers passes.
    replay : callable
        The view of a recorded pass, standing at a time; raises InputError where it cannot be.
    rehearse, bench : callable
    debrief : callable
        Of a pass, None for none yet.
    """

    watch: Callable[[Opener], QWidget]
    replay: Callable[[Path, float | None, Opener], QWidget]
    rehearse: Callable[[Opener], QWidget]
    bench: Callable[[Opener], QWidget]
    debrief: Callable[[Path | None, Opener], QWidget]


class Desk:
    """One window for everything; also the :class:`Opener` that its views are given.

    Parameters
    ----------
    builders : Builders
    is_live : bool
        A live watch is in Watch and is never put away for a replay.
    first : Tab
        Shown at the start.
    """

    def __init__(
        self,
        builders: Builders,
        *,
        is_live: bool = False,
        first: Tab = Tab.WATCH,
        theme: Theme = DARK,
        title: str = "Leadmark",
    ) -> None:
        self._builders = builders
        self._is_live = is_live
        made: dict[Tab, Callable[[], QWidget]] = {
            Tab.WATCH: lambda: builders.watch(self),
            Tab.REHEARSE: lambda: builders.rehearse(self),
            Tab.BENCH: lambda: builders.bench(self),
            Tab.DEBRIEF: lambda: builders.debrief(None, self),
        }
        self.slots = {
            tab: ViewSlot(tab.value, partial(_made, tab, make)) for tab, make in made.items()
        }
        self.window = MainWindow(tuple(self.slots.values()), title=title, theme=theme)
        self.window.show_view(first.value)

    def open_pass(self, path: Path, t: float | None = None) -> None:
        """Show a recorded pass in Watch, unless a live approach is watched there."""
        if self._is_live:
            self.say(f"{path.name}: {LIVE_STAYS}")
            return
        try:
            view = self._builders.replay(path, t, self)
        except InputError as error:
            self.say(str(error))
            return
        self.slots[Tab.WATCH].fill(lambda: view)
        self.window.show_view(Tab.WATCH.value)

    def open_debrief(self, path: Path) -> None:
        """Show a recorded pass in Debrief."""
        try:
            view = self._builders.debrief(path, self)
        except InputError as error:
            self.say(str(error))
            return
        self.slots[Tab.DEBRIEF].fill(lambda: view)
        self.window.show_view(Tab.DEBRIEF.value)

    def say(self, text: str) -> None:
        """Show one line at the window's foot."""
        self.window.said.say(text)

    def mark_watch(self, mark: str) -> None:
        """Write a word behind the tab of Watch, while another view is looked at."""
        is_watched = self.window.tabs.currentIndex() == 0
        self.window.mark_tab(Tab.WATCH.value, "" if is_watched else mark)


def _made(tab: Tab, make: Callable[[], QWidget]) -> QWidget:
    """Make a view; where its files are refused, the refusal stands in its place."""
    try:
        return make()
    except InputError as error:
        return RefusalPage(tab.value, str(error))
