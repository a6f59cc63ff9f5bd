"""The Watch view as a whole: arrangement, the keyboard alone, blinking, freshness."""

from __future__ import annotations

import threading

import pytest
from fakes.captures import damping
from fakes.port import FakePort, fake_status
from fakes.situations import ALL
from fakes.snapshots import coasted, hold_20m, nominal, warning_and_cautions
from fakes.worst import worst_snapshot, worst_status
from PySide6.QtCore import QRect, Qt
from PySide6.QtWidgets import QApplication, QWidget
from pytestqt.qtbot import QtBot

from console.approach.action import (
    Acknowledge,
    AcknowledgeAll,
    ChooseSource,
    Note,
    ReleaseHold,
    Say,
)
from console.approach.snapshot import Snapshot
from console.present.theme import LIGHT
from console.window.arrangement import Arrangement
from console.window.main_window import MainWindow
from console.window.run import watch_window
from console.window.watch_view import WatchView
from tests.fakes.changed import replace

SIZES = [(1280, 720), (1600, 900), (3840, 2160)]
LOW = (1280, 615)


def opened(
    qtbot: QtBot,
    snapshot: Snapshot | None,
    size: tuple[int, int] = (1600, 900),
    text_size: float = 1.0,
) -> tuple[MainWindow, WatchView, FakePort]:
    """Give a shown window on a watch that stands still."""
    port = FakePort(snapshot)
    window, view = watch_window(port)
    qtbot.addWidget(window)
    window.set_text_size(text_size)
    window.resize(*size)
    window.show()
    window.activateWindow()
    view.setFocus()
    view.bridge.take()
    QApplication.processEvents()
    return window, view, port


def type_key(qtbot: QtBot, view: WatchView, key: Qt.Key, shift: bool = False) -> None:
    """Press a key where the keyboard is."""
    target = view.window().focusWidget() or view
    modifier = Qt.KeyboardModifier.ShiftModifier if shift else Qt.KeyboardModifier.NoModifier
    qtbot.keyClick(target, key, modifier)


def type_words(qtbot: QtBot, view: WatchView, words: str) -> None:
    """Type words and Return into the entry line."""
    assert view.entry.is_open
    qtbot.keyClicks(view.entry.field, words)
    qtbot.keyClick(view.entry.field, Qt.Key.Key_Return)


def parts_of(view: WatchView) -> dict[str, QRect]:
    """Give the rectangles of the parts in the view's own coordinates."""
    found: dict[str, QWidget] = {
        "headline": view.headline, "exceedances": view.exceedances, "calls": view.calls,
        "ledger": view.ledger, "main": view.plots.main, "port plane": view.plots.port_plane,
        "time strip": view.plots.time_strip, "entry": view.entry, "status": view.status,
    }  # fmt: skip
    return {
        name: QRect(widget.mapTo(view, widget.rect().topLeft()), widget.size())
        for name, widget in found.items()
    }


@pytest.mark.parametrize("size", [*SIZES, LOW], ids=str)
@pytest.mark.parametrize(
    "name", ["worst", "nominal", "coasted", "thirty", "polling", "shelving", "damping"]
)
def test_the_parts_stand_beside_each_other_and_show_all_texts(
    qtbot: QtBot, size: tuple[int, int], name: str
) -> None:
    """At three sizes, and as low as it goes without scrolling, nothing is covered or cut."""
    snapshot = worst_snapshot() if name == "worst" else ALL[name]()
    window, view, port = opened(qtbot, snapshot, size)
    if name == "worst":
        port.now = worst_status()
        view.bridge.reading_due.emit(view.bridge.watched())
    window.grab()
    rects = parts_of(view)
    whole = view.rect()
    for name_a, a in rects.items():
        assert whole.contains(a), name_a
        for name_b, b in rects.items():
            assert name_a == name_b or not a.intersects(b), (name_a, name_b)
    main = rects["main"].width() * rects["main"].height()
    assert main == max(r.width() * r.height() for r in rects.values())
    for panel in (*view.panels, view.entry):
        assert panel.drawn
        assert [d.wanted for d in panel.drawn if d.is_cut] == []


@pytest.mark.parametrize(
    ("size", "text_size", "expected"),
    [
        ((1600, 900), 1.0, Arrangement.WIDE),
        ((3840, 2160), 1.0, Arrangement.WIDE),
        ((1280, 720), 1.0, Arrangement.SHORT),
        ((3840, 2160), 2.0, Arrangement.TALL),
        ((1280, 720), 2.0, Arrangement.COLUMN),
        ((800, 600), 1.0, Arrangement.TALL),
    ],
)
def test_the_arrangement_follows_from_how_much_text_fits(
    qtbot: QtBot, size: tuple[int, int], text_size: float, expected: Arrangement
) -> None:
    """Large text scrolls in one column instead of being cut."""
    window, view, _ = opened(qtbot, nominal(), size, text_size)
    assert view.arrangement is expected
    window.resize(1600, 900)
    window.set_text_size(1.0)
    assert view.arrangement is Arrangement.WIDE


@pytest.mark.parametrize("text_size", [1.25, 1.5, 2.0])
@pytest.mark.parametrize("size", SIZES, ids=str)
def test_with_large_text_nothing_is_cut_and_what_stands_stays_in_sight(
    qtbot: QtBot, size: tuple[int, int], text_size: float
) -> None:
    """Headline and exceedances are pinned; all panels show their texts whole."""
    window, view, _ = opened(qtbot, warning_and_cautions(), size, text_size)
    window.grab()
    for pinned in (view.headline, view.exceedances):
        area = QRect(pinned.mapTo(view, pinned.rect().topLeft()), pinned.size())
        assert view.rect().contains(area)
    for panel in view.panels:
        panel.grab()
        assert [d.wanted for d in panel.drawn if d.is_cut] == []


def test_acknowledging_asks_for_initials_once(qtbot: QtBot) -> None:
    """A, initials, Return; the next A asks nothing; both are recorded with the initials."""
    _, view, port = opened(qtbot, warning_and_cautions())
    type_key(qtbot, view, Qt.Key.Key_A)
    type_words(qtbot, view, "km")
    assert port.actions == [Acknowledge(initials="KM", key="closing-fast#2")]
    assert not view.entry.is_open
    type_key(qtbot, view, Qt.Key.Key_A, shift=True)
    assert port.actions[1:] == [AcknowledgeAll(initials="KM")]
    assert view.entry.message == "acknowledged 4"


def test_wrong_initials_are_asked_again(qtbot: QtBot) -> None:
    """The line stays open and says what is wanted; nothing is recorded."""
    _, view, port = opened(qtbot, warning_and_cautions())
    type_key(qtbot, view, Qt.Key.Key_A)
    type_words(qtbot, view, "12345")
    assert view.entry.is_open
    assert port.actions == []
    view.grab()
    assert any("one to 4 letters" in d.shown for d in view.entry.drawn)
    type_key(qtbot, view, Qt.Key.Key_Escape)
    assert not view.entry.is_open
    assert view.window().focusWidget() is view


def test_a_note_is_typed_in_the_window_and_recorded(qtbot: QtBot) -> None:
    """N, initials once, words with letters that are also keys, Return."""
    _, view, port = opened(qtbot, nominal())
    type_key(qtbot, view, Qt.Key.Key_N)
    type_words(qtbot, view, "AB")
    type_words(qtbot, view, "Camera aSTNB steady?")
    assert port.actions == [Note(initials="AB", text="Camera aSTNB steady?")]
    type_key(qtbot, view, Qt.Key.Key_N)
    type_words(qtbot, view, "second")
    assert port.actions[-1] == Note(initials="AB", text="second")
    type_key(qtbot, view, Qt.Key.Key_N)
    type_words(qtbot, view, "")
    assert len(port.actions) == 2


@pytest.mark.parametrize(
    ("key", "expected"),
    [
        (Qt.Key.Key_H, Say(initials="KM", call="hold")),
        (Qt.Key.Key_R, Say(initials="KM", call="retreat")),
        (Qt.Key.Key_X, Say(initials="KM", call="abort")),
        (Qt.Key.Key_G, ReleaseHold(initials="KM")),
    ],
)
def test_calls_are_logged_with_one_chord(qtbot: QtBot, key: Qt.Key, expected: object) -> None:
    """Hold, retreat, abort and release are logged at once when the initials are known."""
    _, view, port = opened(qtbot, hold_20m())
    view.operator.initials = "KM"
    type_key(qtbot, view, key, shift=True)
    assert port.actions == [expected]


def test_the_due_call_is_logged_as_made(qtbot: QtBot) -> None:
    """C logs the range mark that is due, and says so where none is."""
    _, view, port = opened(qtbot, nominal())
    view.operator.initials = "KM"
    type_key(qtbot, view, Qt.Key.Key_C)
    assert port.actions == [Say(initials="KM", call="mark:5")]
    port.newest = replace(nominal(), calls=())
    view.bridge.reading_due.emit(view.bridge.watched())
    type_key(qtbot, view, Qt.Key.Key_C)
    assert len(port.actions) == 1
    assert view.entry.message == "no call is due"


@pytest.mark.parametrize(
    ("words", "expected"),
    [("2", "radio"), ("Optical", "optical"), ("0", None), ("automatic", None)],
)
def test_the_source_is_chosen_by_number_or_name(
    qtbot: QtBot, words: str, expected: str | None
) -> None:
    """S opens the choice; 0 goes back to the automatic one."""
    _, view, port = opened(qtbot, nominal())
    view.operator.initials = "KM"
    type_key(qtbot, view, Qt.Key.Key_S)
    type_words(qtbot, view, words)
    assert port.actions == [ChooseSource(initials="KM", source=expected)]


def test_a_source_that_is_none_is_refused_in_the_line(qtbot: QtBot) -> None:
    """The line stays open."""
    _, view, port = opened(qtbot, nominal())
    view.operator.initials = "KM"
    type_key(qtbot, view, Qt.Key.Key_S)
    type_words(qtbot, view, "lidar")
    assert view.entry.is_open
    assert port.actions == []


def test_the_key_sheet_opens_over_the_lanes_and_closes(qtbot: QtBot) -> None:
    """F1 shows every key, Escape hides it; headline and exceedances stay in sight."""
    window, view, _ = opened(qtbot, nominal(), (1280, 720))
    type_key(qtbot, view, Qt.Key.Key_F1)
    assert view.sheet.isVisible()
    window.grab()
    words = [d.shown for d in view.sheet.drawn]
    assert "acknowledge all" in words
    assert [d.shown for d in view.sheet.drawn if d.is_cut] == []
    inside = view.sheet.rect().toRectF()
    assert all(inside.contains(d.box) for d in view.sheet.drawn)
    for kept in (view.headline, view.exceedances, view.ledger):
        assert not view.sheet.geometry().intersects(kept.geometry())
    type_key(qtbot, view, Qt.Key.Key_Escape)
    assert not view.sheet.isVisible()


def test_tab_goes_through_every_panel(qtbot: QtBot) -> None:
    """With the keyboard alone each panel and plot in sight can be reached, and shows a ring."""
    window, view, _ = opened(qtbot, nominal())
    seen = []
    for _ in range(12):
        qtbot.keyClick(window.focusWidget(), Qt.Key.Key_Tab)
        seen.append(window.focusWidget())
    assert {view.headline, view.exceedances, view.calls, view.ledger, view.status} <= set(seen)
    assert {view.plots.lanes, view.plots.port_plane, view.plots.time_strip} <= set(seen)
    assert seen.index(view.headline) < seen.index(view.exceedances) < seen.index(view.ledger)


def test_only_an_unacknowledged_warning_blinks_and_it_can_be_steady(qtbot: QtBot) -> None:
    """2 Hz at half duty while it waits; B makes it steady; acknowledged, nothing runs."""
    window, view, port = opened(qtbot, warning_and_cautions())
    assert view.blinker.is_running
    with qtbot.waitSignals([view.blinker.lit_changed] * 2, timeout=2000):
        pass
    type_key(qtbot, view, Qt.Key.Key_B)
    assert not view.blinker.is_running
    assert view.exceedances.is_lit
    type_key(qtbot, view, Qt.Key.Key_B)
    assert view.blinker.is_running
    port.newest = nominal()
    view.bridge.take()
    assert not view.blinker.is_running
    assert view.exceedances.is_lit
    window.close()


def test_an_unacknowledged_caution_does_not_blink(qtbot: QtBot) -> None:
    """Its frame stands still."""
    s = warning_and_cautions()
    cautions = tuple(e for e in s.exceedances if "caution" in e.id)
    _, view, _ = opened(qtbot, replace(s, exceedances=cautions))
    assert not view.blinker.is_running


def test_after_contact_the_lanes_give_way_to_capture(qtbot: QtBot) -> None:
    """The rest stays where it was."""
    _, view, port = opened(qtbot, nominal())
    assert view.plots.main.currentWidget() is view.plots.lanes
    before = parts_of(view)
    port.newest = damping()
    view.bridge.take()
    assert view.plots.main.currentWidget() is view.plots.capture
    assert before == parts_of(view)


def test_the_panels_do_not_move_as_situations_change(qtbot: QtBot) -> None:
    """No part changes its place with the state, so nothing jitters."""
    _, view, port = opened(qtbot, nominal())
    before = parts_of(view)
    for make in ALL.values():
        port.newest = make()
        view.show_watched(view.bridge.watched())
        QApplication.processEvents()
        assert before == parts_of(view)


def test_losing_data_is_seen_in_headline_sources_and_list(qtbot: QtBot) -> None:
    """A reader of the picture alone can tell that the data cannot be trusted."""
    window, view, _ = opened(qtbot, coasted())
    window.grab()
    headline = [d.shown for d in view.headline.drawn]
    assert "◧ coasted, data 7.8 s old" in headline
    assert "■ optical" in headline
    assert "in use, lost" in headline
    assert "■ WARNING" in [d.shown for d in view.exceedances.drawn]


def test_the_light_theme_reaches_every_part(qtbot: QtBot) -> None:
    """T changes colours everywhere."""
    window, view, _ = opened(qtbot, nominal())
    type_key(qtbot, view, Qt.Key.Key_T)
    assert window.theme is LIGHT
    window.grab()
    for widget in (*view.panels, view.plots.lanes, view.plots.port_plane, view.plots.time_strip):
        image = widget.grab().toImage()
        at = image.pixelColor(4, image.height() - 4)
        assert at.lightnessF() > 0.8


def test_a_reading_is_5_a_second_and_a_frame_each_new_snapshot(qtbot: QtBot) -> None:
    """Figures change at reading speed; the same snapshot is not drawn twice."""
    _, view, port = opened(qtbot, nominal())
    frames: list[object] = []
    readings: list[object] = []
    view.bridge.frame_due.connect(frames.append)
    view.bridge.reading_due.connect(readings.append)
    for i in range(40):
        if i % 4 == 0:
            port.newest = replace(nominal(), t=nominal().t + i)
        view.bridge.take()
    assert len(frames) == 10
    assert len(readings) == 5


def test_a_picture_that_stands_still_says_how_old_it_is(qtbot: QtBot) -> None:
    """Without a new snapshot for over a second the status line warns."""
    _, view, _ = opened(qtbot, nominal())
    view.bridge.start()
    qtbot.waitUntil(lambda: any("picture is" in d.shown for d in view.status.drawn), timeout=4000)
    view.bridge.stop()


def test_status_changes_are_shown(qtbot: QtBot) -> None:
    """The line follows the port's status at the next reading."""
    window, view, port = opened(qtbot, nominal())
    port.now = fake_status(recording=None, not_recording_because="disk full")
    view.show_watched(view.bridge.watched())
    window.grab()
    assert "◧ not recording: disk full" in [d.shown for d in view.status.drawn]


def test_woken_bridge_takes_the_snapshot_without_its_timer(qtbot: QtBot) -> None:
    """Another thread's word brings the newest snapshot at once, many words bring it once."""
    port = FakePort(nominal())
    view = WatchView(port)
    qtbot.addWidget(view)
    frames: list[object] = []
    view.bridge.frame_due.connect(frames.append)
    view.bridge.start()
    view.bridge._timer.setInterval(60_000)
    for _ in range(20):
        thread = threading.Thread(target=view.bridge.waker.wake)
        thread.start()
        thread.join()
    qtbot.waitUntil(lambda: bool(frames), timeout=2000)
    QApplication.processEvents()
    assert len(frames) == 1
    waker = view.bridge.waker
    view.close()
    waker.wake()
    QApplication.processEvents()
    assert len(frames) == 1
