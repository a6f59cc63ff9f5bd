"""The window with its four views: built when looked at, exchanged, and what they say."""

from __future__ import annotations

from pathlib import Path

from fakes.snapshots import nominal
from PySide6.QtCore import Qt
from PySide6.QtGui import QCloseEvent
from PySide6.QtWidgets import QApplication, QWidget
from pytestqt.qtbot import QtBot

from console.app.desk import Builders, Desk, Tab
from console.core.errors import InputError
from console.envelope.limits import Level
from console.present.opener import Opener
from console.present.tab_mark import watch_mark
from console.present.theme import LIGHT, Theme
from console.window.application import application
from console.window.main_window import MainWindow
from console.window.refusal_page import RefusalPage
from console.window.start_page import StartPage
from tests.fakes.changed import replace

CONTROL = Qt.KeyboardModifier.ControlModifier


class Page(QWidget):
    """A view that keeps what happened to it."""

    def __init__(self, title: str, made: list[str]) -> None:
        super().__init__()
        self.title = title
        self.looks: list[tuple[str, float]] = []
        self.is_closed = False
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        made.append(title)

    def apply_theme(self, theme: Theme, scale: float) -> None:
        """Keep it."""
        self.looks.append((theme.name, scale))

    def closeEvent(self, event: QCloseEvent) -> None:  # noqa: N802 - Qt names it
        """Keep it."""
        self.is_closed = True
        super().closeEvent(event)


class House:
    """A desk of pages, and the order in which they were made."""

    def __init__(self, qtbot: QtBot, *, is_live: bool = False, first: Tab = Tab.WATCH) -> None:
        application()
        self.made: list[str] = []
        self.opened: list[Page] = []
        self.is_broken = False
        self.desk = Desk(
            Builders(
                watch=lambda _: Page("watch", self.made),
                replay=self.replay,
                rehearse=lambda _: Page("rehearse", self.made),
                bench=self.bench,
                debrief=lambda path, _: Page(f"debrief {path and path.name}", self.made),
            ),
            is_live=is_live,
            first=first,
        )
        self.window = self.desk.window
        qtbot.addWidget(self.window)
        self.window.show()
        self.window.activateWindow()
        QApplication.processEvents()

    def bench(self, opener: Opener) -> QWidget:
        """Make the bench, unless its limits are broken."""
        del opener
        if self.is_broken:
            raise InputError.of("limits.toml", "line 3", "no such quantity", "name a known one")
        return Page("bench", self.made)

    def replay(self, path: Path, t: float | None, opener: Opener) -> QWidget:
        """Open a pass, or refuse it."""
        del opener
        if path.suffix != ".csv":
            raise InputError.of(path.name, "", "not a pass", "give a table")
        page = Page(f"replay {path.name} at {t}", self.made)
        self.opened.append(page)
        return page


def test_a_view_is_built_when_it_is_first_looked_at(qtbot: QtBot) -> None:
    """And only once."""
    house = House(qtbot)
    assert house.made == ["watch"]
    for key in (Qt.Key.Key_3, Qt.Key.Key_1, Qt.Key.Key_3):
        qtbot.keyClick(house.window, key, CONTROL)
    assert house.made == ["watch", "bench"]


def test_a_view_built_late_has_the_look_of_the_window(qtbot: QtBot) -> None:
    """The theme chosen before it was there is its theme."""
    house = House(qtbot)
    house.window.set_theme(LIGHT)
    house.window.set_text_size(1.5)
    qtbot.keyClick(house.window, Qt.Key.Key_4, CONTROL)
    view = house.desk.slots[Tab.DEBRIEF].view
    assert isinstance(view, Page)
    assert view.looks[-1] == ("light", 1.5)


def test_a_pass_takes_the_place_of_what_watch_showed(qtbot: QtBot) -> None:
    """The view before it is closed, the tab comes to the front."""
    house = House(qtbot, first=Tab.BENCH)
    assert house.made == ["bench"]
    house.desk.open_pass(Path("a.csv"), 12.5)
    assert house.window.tabs.currentIndex() == 0
    assert house.made == ["bench", "replay a.csv at 12.5"]
    house.desk.open_pass(Path("b.csv"))
    assert [page.is_closed for page in house.opened] == [True, False]
    assert house.desk.slots[Tab.WATCH].view is house.opened[1]


def test_a_live_watch_is_never_put_away(qtbot: QtBot) -> None:
    """A pass is refused with a line that says how to see it."""
    house = House(qtbot, is_live=True)
    house.desk.open_pass(Path("a.csv"))
    assert house.opened == []
    assert "leadmark replay" in house.window.said.text()
    assert house.window.said.isVisible()


def test_a_pass_that_cannot_be_opened_leaves_everything_as_it_was(qtbot: QtBot) -> None:
    """The refusal is said in one line."""
    house = House(qtbot)
    before = house.desk.slots[Tab.WATCH].view
    house.desk.open_pass(Path("a.txt"))
    assert house.desk.slots[Tab.WATCH].view is before
    assert "a.txt" in house.window.said.text()


def test_a_view_whose_files_are_refused_says_so_in_its_place(qtbot: QtBot) -> None:
    """The other views are as usable as before."""
    house = House(qtbot)
    house.is_broken = True
    qtbot.keyClick(house.window, Qt.Key.Key_3, CONTROL)
    view = house.desk.slots[Tab.BENCH].view
    assert isinstance(view, RefusalPage)
    assert "limits.toml" in view.text()
    qtbot.keyClick(house.window, Qt.Key.Key_1, CONTROL)
    assert house.made == ["watch"]


def test_debrief_opens_on_a_pass(qtbot: QtBot) -> None:
    """In its own tab."""
    house = House(qtbot)
    house.desk.open_debrief(Path("a.csv"))
    assert house.window.tabs.currentIndex() == 3
    assert house.made == ["watch", "debrief a.csv"]


def test_closing_the_window_closes_the_views_that_were_built(qtbot: QtBot) -> None:
    """And builds none of the others."""
    house = House(qtbot)
    view = house.desk.slots[Tab.WATCH].view
    assert isinstance(view, Page)
    house.window.close()
    assert view.is_closed
    assert house.made == ["watch"]


def test_the_tab_of_watch_carries_what_stands_while_another_view_is_looked_at(
    qtbot: QtBot,
) -> None:
    """In Watch itself the mark would only repeat the list."""
    house = House(qtbot)
    house.desk.mark_watch("■ 1")
    assert house.window.tabs.tabText(0) == "Watch"
    qtbot.keyClick(house.window, Qt.Key.Key_3, CONTROL)
    house.desk.mark_watch("■ 1")
    assert house.window.tabs.tabText(0) == "Watch  ■ 1"
    house.desk.mark_watch("")
    assert house.window.tabs.tabText(0) == "Watch"


def test_the_mark_counts_the_worst_level_that_stands_or_waits() -> None:
    """One unacknowledged warning that has cleared still counts; shelved ones do not."""
    snapshot = nominal()
    first = snapshot.exceedances[0]
    cleared = {"cleared": first.raised + 1.0, "waits": True, "acknowledged_by": None}
    warning = replace(first, level=Level.WARNING, shelved=False, **cleared)
    caution = replace(first, level=Level.CAUTION, cleared=None, shelved=False)
    shelved = replace(caution, shelved=True, waits=False)

    def mark(*exceedances: object) -> str:
        return watch_mark(replace(snapshot, exceedances=exceedances))

    assert mark(warning, caution, caution) == "■ 1"
    assert mark(caution, shelved) == "◧ 1"
    assert mark(shelved) == mark() == watch_mark(None) == ""


def test_the_start_page_offers_passes_by_keyboard(qtbot: QtBot, tmp_path: Path) -> None:
    """Return opens the chosen one, O asks for another, and a wrong name is said."""
    application()
    chosen: list[Path] = []
    paths = [tmp_path / "one.csv", tmp_path / "two.csv"]
    paths[1].write_text("t\n")
    page = StartPage(paths, chosen.append)
    window = MainWindow((page,), title="Leadmark")
    qtbot.addWidget(window)
    window.show()
    window.activateWindow()
    QApplication.processEvents()
    qtbot.keyClick(page.list, Qt.Key.Key_Down)
    qtbot.keyClick(page.list, Qt.Key.Key_Return)
    assert chosen == [paths[1]]
    page.ask()
    page.entry.field.setText(str(paths[0]))
    qtbot.keyClick(page.entry.field, Qt.Key.Key_Return)
    assert "no such file" in page.entry.message
    page.entry.field.setText(str(paths[1]))
    qtbot.keyClick(page.entry.field, Qt.Key.Key_Return)
    assert chosen == [paths[1], paths[1]]
    assert not page.entry.is_open
