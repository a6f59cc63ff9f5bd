"""A replay in the Watch view: every control by key, nothing of the pass changed."""

from __future__ import annotations

from dataclasses import dataclass, field

import pytest
from fakes.port import FakePort, fake_status
from fakes.snapshots import nominal
from PySide6.QtCore import QPoint, Qt
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from console.present.port import WatchStatus
from console.present.replay_port import Overlay, ReplayNow, Tick, TickKind, Way
from console.present.theme import DARK, LIGHT
from console.present.trail import Trail
from console.window.keys import (
    REPLAY_KEYS,
    WATCH_KEYS,
    WINDOW_KEYS,
    keys_in_replay,
    keys_refused_in_replay,
)
from console.window.main_window import MainWindow
from console.window.replay_deeds import REFUSED
from console.window.watch_view import WatchView
from tests.fakes.changed import replace

T0 = 1_932_100_000.0
NOW = ReplayNow(T0, T0 + 1000.0, T0 + 250.0, 12.0, False, 1.0, T0 + 1000.0)
TICKS = (
    Tick(T0 + 100.0, TickKind.MARK, "20 metres"),
    Tick(T0 + 400.0, TickKind.CAUTION, "caution"),
    Tick(T0 + 500.0, TickKind.WARNING, "warning"),
    Tick(T0 + 600.0, TickKind.NOTE, "note MK: late"),
    Tick(T0 + 700.0, TickKind.PHASE, "contact"),
)


def replay_status() -> WatchStatus:
    """Give the status of a replay."""
    return fake_status(mode="Replay", endpoint="a.leadmark", is_replay=True, paused=True)


@dataclass
class FakeReplay(FakePort):
    """A replay that stands still and keeps what it was asked for."""

    how: ReplayNow = NOW
    laid: Overlay | None = None
    now: WatchStatus = field(default_factory=replay_status)
    asked: list[tuple[object, ...]] = field(default_factory=list)

    def replay(self) -> ReplayNow:
        """Give how it stands."""
        return self.how

    def ticks(self) -> tuple[Tick, ...]:
        """Give the marks."""
        return TICKS

    def overlay(self) -> Overlay | None:
        """Give the second pass."""
        return self.laid

    def toggle(self) -> None:
        """Keep it."""
        self.asked.append(("toggle",))

    def change_speed(self, way: Way) -> None:
        """Keep it."""
        self.asked.append(("speed", way))

    def seek(self, t: float) -> None:
        """Keep it."""
        self.asked.append(("seek", t))

    def skip(self, seconds: float) -> None:
        """Keep it."""
        self.asked.append(("skip", seconds))

    def step(self, way: Way) -> None:
        """Keep it."""
        self.asked.append(("step", way))

    def go_to_event(self, way: Way) -> None:
        """Keep it."""
        self.asked.append(("event", way))

    def go_to_least_margin(self, way: Way) -> None:
        """Keep it."""
        self.asked.append(("least", way))

    def go_to_end(self, way: Way) -> None:
        """Keep it."""
        self.asked.append(("end", way))

    def go_to_words(self, words: str) -> str:
        """Keep it; refuse the word nowhere."""
        self.asked.append(("words", words))
        return "no place" if words == "nowhere" else ""

    def note(self, initials: str, text: str) -> None:
        """Keep it."""
        self.asked.append(("note", initials, text))

    def lay_over(self, path: str) -> None:
        """Keep it."""
        self.asked.append(("over", path))


def opened(
    qtbot: QtBot, size: tuple[int, int] = (1600, 900), port: FakeReplay | None = None
) -> tuple[WatchView, FakeReplay]:
    """Give a shown window on a replay that stands still."""
    port = FakeReplay(nominal()) if port is None else port
    view = WatchView(port, replay=port)
    window = MainWindow((view,), title="x", theme=DARK)
    qtbot.addWidget(window)
    window.resize(*size)
    window.show()
    window.activateWindow()
    view.setFocus()
    view.show_watched(view.bridge.watched())
    QApplication.processEvents()
    return view, port


S = Qt.KeyboardModifier.ShiftModifier
NONE = Qt.KeyboardModifier.NoModifier
BY_KEY = [
    (Qt.Key.Key_Space, NONE, ("toggle",)),
    (Qt.Key.Key_Right, NONE, ("step", Way.ON)),
    (Qt.Key.Key_Left, NONE, ("step", Way.BACK)),
    (Qt.Key.Key_Right, S, ("skip", 10.0)),
    (Qt.Key.Key_Left, S, ("skip", -10.0)),
    (Qt.Key.Key_N, NONE, ("event", Way.ON)),
    (Qt.Key.Key_P, NONE, ("event", Way.BACK)),
    (Qt.Key.Key_M, NONE, ("least", Way.ON)),
    (Qt.Key.Key_M, S, ("least", Way.BACK)),
    (Qt.Key.Key_BracketRight, NONE, ("speed", Way.ON)),
    (Qt.Key.Key_BracketLeft, NONE, ("speed", Way.BACK)),
    (Qt.Key.Key_Home, NONE, ("end", Way.BACK)),
    (Qt.Key.Key_End, NONE, ("end", Way.ON)),
    (Qt.Key.Key_K, NONE, ("note", "", "mark")),
]


def test_every_control_has_a_key(qtbot: QtBot) -> None:
    """Each key of a replay asks for its own thing, whatever panel has the keyboard."""
    view, port = opened(qtbot)
    for key, modifier, asked in BY_KEY:
        for panel in (view, view.exceedances, view.calls, view.plots.lanes, view.replay.bar):
            panel.setFocus()
            qtbot.keyClick(view.window().focusWidget(), key, modifier)
            assert asked == port.asked[-1]


def test_typed_places_notes_and_passes(qtbot: QtBot) -> None:
    """G, Shift+N and O ask in the entry line, where keys of the replay are letters again."""
    view, port = opened(qtbot)
    qtbot.keyClick(view, Qt.Key.Key_G)
    assert view.entry.is_open
    qtbot.keyClicks(view.entry.field, "nowhere")
    qtbot.keyClick(view.entry.field, Qt.Key.Key_Return)
    assert view.entry.is_open
    view.entry.field.clear()
    qtbot.keyClicks(view.entry.field, "15 m")
    qtbot.keyClick(view.entry.field, Qt.Key.Key_Left)
    qtbot.keyClick(view.entry.field, Qt.Key.Key_Home)
    qtbot.keyClick(view.entry.field, Qt.Key.Key_Return)
    assert port.asked == [("words", "nowhere"), ("words", "15 m")]
    assert not view.entry.is_open
    qtbot.keyClick(view, Qt.Key.Key_N, S)
    qtbot.keyClicks(view.entry.field, "mp late [ ]")
    qtbot.keyClick(view.entry.field, Qt.Key.Key_Return)
    qtbot.keyClick(view, Qt.Key.Key_O)
    qtbot.keyClicks(view.entry.field, "b.csv")
    qtbot.keyClick(view.entry.field, Qt.Key.Key_Return)
    assert port.asked[2:] == [("note", "", "mp late [ ]"), ("over", "b.csv")]


def test_operators_deeds_are_refused(qtbot: QtBot) -> None:
    """Every key by which an operator acts says in one line that a replay changes nothing."""
    view, port = opened(qtbot)
    for key, modifier in (
        (Qt.Key.Key_A, NONE), (Qt.Key.Key_A, S), (Qt.Key.Key_C, NONE), (Qt.Key.Key_S, S),
        (Qt.Key.Key_G, S), (Qt.Key.Key_Y, NONE), (Qt.Key.Key_S, NONE), (Qt.Key.Key_H, S),
    ):  # fmt: skip
        view.entry.tell("")
        qtbot.keyClick(view, key, modifier)
        assert view.entry.message == REFUSED
        assert not view.entry.is_open
    assert port.actions == []
    assert port.asked == []


def test_no_key_means_two_things() -> None:
    """In a replay each key sequence is bound once, and none of the watch's is forgotten."""
    bound = [s for key in (*keys_in_replay(), *keys_refused_in_replay()) for s in key.sequences]
    bound += [s for key in WINDOW_KEYS for s in key.sequences]
    assert sorted(set(bound)) == sorted(bound)
    assert {s for key in (*WATCH_KEYS, *REPLAY_KEYS) for s in key.sequences} <= set(bound)


def test_sheet_shows_the_keys_of_a_replay(qtbot: QtBot) -> None:
    """F1 lists the replay's keys and none of the deeds it refuses."""
    view, _ = opened(qtbot)
    qtbot.keyClick(view, Qt.Key.Key_F1)
    words = " ".join(view.sheet.accessibleDescription().split())
    assert view.sheet.isVisible()
    assert "next limit's least margin" in words
    assert "acknowledge" not in words


@pytest.mark.parametrize("size", [(1280, 720), (1600, 900), (640, 400)])
def test_bar_has_its_place_and_cuts_nothing(qtbot: QtBot, size: tuple[int, int]) -> None:
    """The bar lies between the plots and the entry line, over nothing else, its words whole."""
    view, _ = opened(qtbot, size)
    bar = view.replay.bar
    bar.grab()
    assert bar.isVisible()
    assert not [text.wanted for text in bar.drawn if text.is_cut]
    place = bar.geometry()
    for other in (view.entry, view.status, view.plots.time_strip, view.headline):
        if other.parent() is view and other.isVisible():
            assert not place.intersects(other.geometry())
    boxes = [text.box for text in bar.drawn]
    for i, box in enumerate(boxes):
        assert not any(box.intersects(other) for other in boxes[i + 1 :])
        assert box.right() <= bar.line().left() + 0.5


def test_line_is_clicked_and_dragged(qtbot: QtBot) -> None:
    """A click stands at the time under it, a drag follows; the words beside it are no line."""
    view, port = opened(qtbot)
    bar = view.replay.bar
    line = bar.line()
    middle = round(line.center().y())
    half = QPoint(round(line.left() + line.width() / 2.0), middle)
    qtbot.mousePress(bar, Qt.MouseButton.LeftButton, pos=half)
    qtbot.mouseMove(bar, QPoint(round(line.left() + line.width() / 4.0), middle))
    qtbot.mouseRelease(bar, Qt.MouseButton.LeftButton, pos=half)
    wanted = [asked[1] for asked in port.asked if asked[0] == "seek"]
    assert wanted[0] == pytest.approx(T0 + 500.0, abs=1.0)
    port.asked.clear()
    qtbot.mouseClick(bar, Qt.MouseButton.LeftButton, pos=QPoint(20, middle))
    assert port.asked == []


@pytest.mark.parametrize("theme", [DARK, LIGHT], ids=["dark", "light"])
def test_marks_are_told_apart_by_shape_and_colour(qtbot: QtBot, theme: object) -> None:
    """A warning is a filled square in its colour, a caution half of one, the rest is grey."""
    view, _ = opened(qtbot)
    view.window().set_theme(theme)
    bar = view.replay.bar
    image = bar.grab().toImage()
    line = bar.line()

    def coloured(share: float, colour: str) -> int:
        x = round(line.left() + line.width() * share)
        return sum(
            image.pixelColor(px, py).name() == colour
            for px in range(x - 6, x + 7)
            for py in range(image.height())
        )

    warning = coloured(0.5, theme.warning)
    caution = coloured(0.4, theme.caution)
    assert warning > caution > 0
    for share in (0.1, 0.6, 0.7):
        assert coloured(share, theme.warning) == 0
        assert coloured(share, theme.caution) == 0


def test_told_words_come_once(qtbot: QtBot) -> None:
    """What the replay says it did is shown once, and again when it is told again."""
    view, port = opened(qtbot)
    port.how = replace(NOW, told="speed 2×", told_count=1)
    view.replay.show()
    assert view.entry.message == "speed 2×"
    view.entry.tell("other")
    view.replay.show()
    assert view.entry.message == "other"
    port.how = replace(NOW, told="speed 2×", told_count=2)
    view.replay.show()
    assert view.entry.message == "speed 2×"


def test_other_limits_stand_in_the_headline(qtbot: QtBot) -> None:
    """Replayed under other limits, headline and status line both say so."""
    port = FakeReplay(nominal())
    port.now = replace(replay_status(), other_limits="watched under A r1 0123…89")
    view, _ = opened(qtbot, port=port)
    assert "under other limits" in view.headline.accessibleDescription()
    assert "watched under A r1" in view.status.accessibleDescription()


def test_second_pass_is_in_the_lanes(qtbot: QtBot) -> None:
    """A second pass is drawn in the lanes, named in the first one's head, and taken away."""
    trail = Trail()
    for n in range(300):
        trail.append(T0 + n, 15.0 - 0.05 * n, 0.05, 0.1, -0.1, 0.5, 0.2, 0.1)
    port = FakeReplay(nominal())
    view, _ = opened(qtbot, port=port)
    bare = view.plots.lanes.grab().toImage()
    port.laid = Overlay("other.csv", trail)
    view.replay.show()
    over = view.plots.lanes.grab().toImage()
    assert over != bare
    labels = [getattr(mark, "text", "") for mark in view.plots.lanes.scene().marks]
    assert "other.csv" in labels
    port.laid = None
    view.replay.show()
    assert view.plots.lanes.grab().toImage() == bare


def test_lanes_have_room_for_a_second_pass(qtbot: QtBot) -> None:
    """The value axes grow for what the second pass has in sight, and shrink when it is gone."""
    trail = Trail()
    for n in range(300):
        trail.append(T0 + n, 15.0 - 0.05 * n, 0.71, 0.1, -0.1, 0.5, 0.2, 0.1)
    port = FakeReplay(nominal())
    view, _ = opened(qtbot, port=port)
    lanes = view.plots.lanes

    def top() -> float:
        lanes.grab()
        return lanes._laid_out()[0].view.values[0].high

    bare = top()
    port.laid = Overlay("other.csv", trail)
    view.replay.show()
    assert bare < 0.71 < top()
    port.laid = None
    view.replay.show()
    assert bare == top()


def test_timers_run_only_while_it_is_seen(qtbot: QtBot) -> None:
    """Shown it asks by itself, hidden it rests, and closing it is told once."""
    view, _ = opened(qtbot)
    assert view.bridge.is_running
    closed: list[bool] = []
    view.closed.connect(lambda: closed.append(True))
    view.window().hide()
    assert not view.bridge.is_running
    view.window().close()
    assert closed == [True]
