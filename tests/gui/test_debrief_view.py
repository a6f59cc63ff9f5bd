"""The Debrief view by keyboard alone: open, read, go to a moment, save; nothing cut."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QColor, QImage
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from console.app.debrief import DebriefDesk, debrief_view
from console.app.debrief_job import Told, Work
from console.archive.shipped import shipped
from console.core.errors import InputError
from console.debrief.page import (
    Chapter,
    Column,
    Facts,
    Figure,
    Line,
    Lines,
    Picture,
    Row,
    Section,
    Table,
)
from console.debrief.port import Opened, PictureKey, Stage
from console.debrief.screen import moment_of
from console.present.debrief_recent import RecentPass, recent_passes
from console.present.theme import DARK, LIGHT
from console.window.debrief_view import DebriefView
from console.window.main_window import MainWindow

PATH = Path("/somewhere/kittiwake.leadmark")
T = 1_933_580_123.456
WIDE = tuple(Column(f"Column {i}", is_number=i % 2 == 0) for i in range(9))
CHAPTER = Chapter(
    "pass1", "Nominal", "kittiwake.leadmark", (
        Section("summary", "Summary", (
            Lines((Line("1 warning; 1 never acknowledged", "■"), Line("Docked"))),
            Facts("What this is", (("Limits sha256", "0123456789abcdef" * 4),)),
        )),
        Section("course", "Course", (Picture(Figure.COURSE, "Range over time.", "A curve."),)),
        Section("margins", "Margins", (
            Table("Least margin", WIDE, (
                Row(("closing-fast-caution", *("0.123 m/s",) * 8), T),
                Row(("lateral-offset", *("0.123 m/s",) * 8), T + 60.0, is_strong=True),
            )),
        )),
    ),
)  # fmt: skip


class Passes:
    """A port that has everything at once, and keeps what was asked."""

    def __init__(self, opened: Opened | None = None) -> None:
        self.state = opened or Opened()
        self.asked: list[object] = []
        self.fault = ""
        self.news: list[str] = []
        self.is_closed = False

    def recent(self) -> tuple[RecentPass, ...]:
        """Give two passes."""
        return recent_passes([(PATH, 2.0), (PATH.with_name("older.csv"), 1.0)])

    def open(self, path: Path) -> None:
        """Be ready at once."""
        self.asked.append(path)
        self.state = Opened(Stage.READY, path, chapter=CHAPTER)

    def opened(self) -> Opened:
        """Give what there is."""
        return self.state

    def report_path(self, ending: str) -> Path:
        """Give a name."""
        return PATH.with_suffix(ending)

    def save(self, path: Path) -> str:
        """Keep it, or refuse it."""
        self.asked.append(path)
        return self.fault

    def said(self) -> str:
        """Give the news."""
        return self.news.pop() if self.news else ""

    def close(self) -> None:
        """Keep that it was closed."""
        self.is_closed = True


class Neighbours:
    """The other views: keeps what was opened in them."""

    def __init__(self) -> None:
        self.opened: list[tuple[Path, float | None]] = []

    def open_pass(self, path: Path, t: float | None = None) -> None:
        """Keep it."""
        self.opened.append((path, t))

    def open_debrief(self, path: Path) -> None:
        """Do nothing."""

    def say(self, text: str) -> None:
        """Do nothing."""


class AtOnce:
    """Does its work where it is begun."""

    def __init__(self, work: Work) -> None:
        self._told = list(work())
        self.is_over = False

    def take(self) -> list[Told]:
        """Give everything, once."""
        told, self._told, self.is_over = self._told, [], True
        return told

    def stop(self) -> None:
        """Do nothing."""


@pytest.fixture
def port() -> Passes:
    """Give a port with nothing opened."""
    return Passes()


@pytest.fixture
def opener() -> Neighbours:
    """Give the other views."""
    return Neighbours()


@pytest.fixture
def view(qtbot: QtBot, port: Passes, opener: Neighbours) -> DebriefView:
    """Give the view, shown in the main window."""
    made = DebriefView(port, opener)
    window = MainWindow((made,), title="Leadmark", theme=DARK)
    qtbot.addWidget(window)
    window.show()
    qtbot.waitExposed(window)
    window.activateWindow()
    made.passes.setFocus()
    QApplication.processEvents()
    return made


def focused() -> object:
    """Give what has the keyboard."""
    return QApplication.focusWidget()


def press(qtbot: QtBot, key: Qt.Key, modifier: Qt.KeyboardModifier | None = None) -> None:
    """Press a key where the keyboard is."""
    qtbot.keyClick(focused(), key, modifier or Qt.KeyboardModifier.NoModifier)


def test_no_name_of_a_pass_is_cut(qtbot: QtBot, port: Passes, opener: Neighbours) -> None:
    """A line is the file's name, broken rather than cut; the folder is spoken."""
    view = DebriefView(port, opener)
    qtbot.addWidget(view)
    assert [view.passes.item(i).text() for i in range(2)] == [PATH.name, "older.csv"]
    spoken = view.passes.item(0).data(Qt.ItemDataRole.AccessibleTextRole)
    assert spoken == f"{PATH.name}, in {PATH.parent.name}"
    view.grab()
    assert not view.passes.horizontalScrollBar().isVisibleTo(view)


def test_return_opens_the_chosen_pass(qtbot: QtBot, view: DebriefView, port: Passes) -> None:
    """The newest pass is chosen; Down and Return open the other; its sections are listed."""
    press(qtbot, Qt.Key.Key_Down)
    press(qtbot, Qt.Key.Key_Return)
    assert port.asked == [PATH.with_name("older.csv")]
    titles = [view.sections.item(i).text() for i in range(view.sections.count())]
    assert titles == ["Summary", "Course", "Margins"]
    assert "never acknowledged" in view.text.toPlainText()
    assert focused() is view.sections


def test_a_row_opens_its_moment_in_watch(
    qtbot: QtBot, view: DebriefView, port: Passes, opener: Neighbours
) -> None:
    """In the text Tab goes from row to row, and Return opens that moment to the last digit."""
    view.open(PATH)
    view.sections.setFocus()
    press(qtbot, Qt.Key.Key_BracketRight)
    press(qtbot, Qt.Key.Key_BracketRight)
    assert view.sections.currentItem().text() == "Margins"
    view.text.setFocus()
    press(qtbot, Qt.Key.Key_Tab)
    press(qtbot, Qt.Key.Key_Tab)
    press(qtbot, Qt.Key.Key_Return)
    assert opener.opened == [(PATH, T + 60.0)]
    press(qtbot, Qt.Key.Key_W)
    assert opener.opened[-1] == (PATH, None)


@pytest.mark.parametrize(("key", "ending"), [(Qt.Key.Key_H, ".html"), (Qt.Key.Key_P, ".pdf")])
def test_a_report_is_saved_under_the_name_typed(
    key: Qt.Key, ending: str, qtbot: QtBot, view: DebriefView, port: Passes, tmp_path: Path
) -> None:
    """H and P ask for a name in the line at the foot, with one ready; Return writes."""
    view.open(PATH)
    press(qtbot, key)
    assert view.entry.is_open
    assert view.entry.field.text() == str(PATH.with_suffix(ending))
    mine = tmp_path / f"mine{ending}"
    view.entry.field.setText(str(mine))
    press(qtbot, Qt.Key.Key_Return)
    assert port.asked[-1] == mine
    assert not view.entry.is_open
    port.news.append(f"written: {mine}")
    view.tick()
    assert view.entry.message == f"written: {mine}"


def test_a_name_that_is_refused_keeps_the_line_open(
    qtbot: QtBot, view: DebriefView, port: Passes
) -> None:
    """What is wrong with a name is said beside it; Esc closes, and the keyboard goes back."""
    view.open(PATH)
    view.sections.setFocus()
    port.fault = "report.txt: allowed: .html or .pdf"
    press(qtbot, Qt.Key.Key_H)
    press(qtbot, Qt.Key.Key_Return)
    assert view.entry.is_open
    assert "allowed" in view.entry.message
    press(qtbot, Qt.Key.Key_Escape)
    assert not view.entry.is_open
    assert focused() is view.sections


def test_nothing_to_save_is_said(qtbot: QtBot, view: DebriefView) -> None:
    """Before a pass is opened H asks for nothing and says why."""
    press(qtbot, Qt.Key.Key_H)
    assert not view.entry.is_open
    assert "open a pass first" in view.entry.message
    assert "No pass is opened" in view.text.toPlainText()


def test_another_file_is_asked_for_by_name(
    qtbot: QtBot, view: DebriefView, port: Passes, tmp_path: Path
) -> None:
    """O asks for a file; one that is not there is refused in the line, one that is opens."""
    press(qtbot, Qt.Key.Key_O)
    view.entry.field.setText(str(tmp_path / "no.csv"))
    press(qtbot, Qt.Key.Key_Return)
    assert "no such file" in view.entry.message
    there = tmp_path / "there.csv"
    there.write_text("x")
    view.entry.field.setText(str(there))
    press(qtbot, Qt.Key.Key_Return)
    assert port.asked == [there]


def test_work_and_refusal_are_told(view: DebriefView, port: Passes) -> None:
    """While a pass is judged the heading says so; a refusal stands with its mend."""
    port.state = Opened(Stage.WORKING, PATH)
    view.tick()
    assert "judging" in view.heading.text()
    port.state = Opened(Stage.REFUSED, PATH, "kittiwake.leadmark: empty: choose another file")
    view.tick()
    assert "cannot be debriefed" in view.heading.text()
    assert "choose another file" in view.text.toPlainText()
    assert view.sections.count() == 0


def square(colour: str) -> bytes:
    """Give a small picture of one colour as PNG bytes."""
    from PySide6.QtCore import QBuffer, QIODevice

    image = QImage(200, 100, QImage.Format.Format_RGB32)
    image.fill(QColor(colour))
    buffer = QBuffer()
    buffer.open(QIODevice.OpenModeFlag.WriteOnly)
    image.save(buffer, "PNG")
    return bytes(buffer.data().data())


def test_figures_come_later_and_follow_the_theme(view: DebriefView, port: Passes) -> None:
    """A figure still to come is said to be; once there it is shown in the colours of the theme."""
    view.open(PATH)
    view.step_section(1)
    assert "being drawn" in view.text.toPlainText()
    pictures: dict[PictureKey, bytes] = {
        (Figure.COURSE, "dark"): square("#101010"),
        (Figure.COURSE, "light"): square("#f0f0f0"),
    }
    port.state = replace(port.state, pictures=pictures)
    view.tick()
    assert "being drawn" not in view.text.toPlainText()
    image = view.text.loadResource(2, "figure:course")
    assert image.pixelColor(3, 3).name() == "#101010"
    view.apply_theme(LIGHT, 1.0)
    assert view.text.loadResource(2, "figure:course").pixelColor(3, 3).name() == "#f0f0f0"
    assert view.text.loadResource(2, "https://example.org/x.png") is None


@pytest.mark.parametrize("size", [(1600, 900), (1280, 720), (3840, 2160)])
@pytest.mark.parametrize("theme", [DARK, LIGHT], ids=lambda theme: theme.name)
def test_nothing_is_cut_at_any_size(
    size: tuple[int, int], theme: object, view: DebriefView, port: Passes
) -> None:
    """Every section fits the width: nothing is to be scrolled sideways, all hints are whole."""
    window = view.window()
    assert isinstance(window, MainWindow)
    window.set_theme(theme)  # type: ignore[arg-type]
    window.resize(*size)
    view.open(PATH)
    for i in range(view.sections.count()):
        view.sections.setCurrentRow(i)
        QApplication.processEvents()
        assert view.text.horizontalScrollBar().maximum() == 0
    assert not [one for one in view.entry.drawn if one.is_cut]
    assert view.passes.accessibleName()
    assert view.sections.accessibleName()
    view._toggle_sheet()
    assert view.rect().contains(view.sheet.geometry())


def test_it_looks_for_news_only_while_it_is_seen(view: DebriefView, port: Passes) -> None:
    """Hidden it stops; closed it lets go of all work."""
    assert view._timer.isActive()
    view.hide()
    assert not view._timer.isActive()
    view.show()
    view.close()
    assert not view._timer.isActive()
    assert port.is_closed


def test_the_view_on_real_files(
    qtbot: QtBot, opener: Neighbours, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A shipped pass is gathered, drawn in both themes, and written under the name given."""
    monkeypatch.setenv("LEADMARK_DATA", str(tmp_path))
    pass_path = shipped("replay_data", "passes", "nominal_short.csv")
    view = debrief_view(opener, pass_path, start=AtOnce)
    qtbot.addWidget(view)
    assert isinstance(view, DebriefView)
    view.tick()
    assert view.chapter is not None
    assert view.chapter.title == "Nominal from 8 m"
    themes = {theme for _, theme in view.port.opened().pictures}
    assert themes == {"dark", "light"}
    assert [view.passes.item(i).text() for i in range(view.passes.count())]
    target = view.port.report_path(".html")
    assert target.is_relative_to(tmp_path)
    assert view.port.save(target) == ""
    view.tick()
    assert view.entry.message == f"written: {target}"
    assert b"Nominal from 8 m" in target.read_bytes()
    assert "allowed" in view.port.save(tmp_path / "x.doc")


def test_a_pass_that_is_not_there_is_refused(opener: Neighbours, tmp_path: Path) -> None:
    """A missing file raises in one line; a file that is no pass is told in the view."""
    with pytest.raises(InputError, match="no such file"):
        debrief_view(opener, tmp_path / "no.csv", start=AtOnce)
    bad = tmp_path / "bad.csv"
    bad.write_text("nothing here\n")
    desk = DebriefDesk(AtOnce)
    desk.open(bad)
    opened = desk.opened()
    assert opened.stage is Stage.REFUSED
    assert "bad.csv" in opened.words
    assert desk.save(tmp_path / "x.html")


def test_moments_are_read_back_exactly() -> None:
    """A link's moment keeps every digit; other links are none."""
    assert moment_of(f"moment:{T!r}") == T
    assert moment_of("https://example.org") is None
