"""The exceedance list: choosing, blinking, and never hiding a standing warning."""

from __future__ import annotations

import pytest
from fakes.limits import fake_limits
from fakes.port import fake_status
from fakes.snapshots import nominal, thirty_exceedances, warning_and_cautions
from PySide6.QtCore import Qt
from pytestqt.qtbot import QtBot

from console.approach.snapshot import Snapshot
from console.present.port import Watched
from console.present.theme import DARK
from console.window.panels.exceedances import ExceedancesPanel
from tests.fakes.changed import replace

LIMITS = fake_limits()


def shown(qtbot: QtBot, snapshot: Snapshot, width: int = 630, rows: int = 4) -> ExceedancesPanel:
    """Give the list with room for so many rows."""
    panel = ExceedancesPanel()
    qtbot.addWidget(panel)
    panel.apply_theme(DARK, 0.92)
    panel.resize(width, round((rows + 1) * panel.faces.pitch + 1.2 * panel.pad))
    panel.show_watched(Watched(snapshot, fake_status(), LIMITS))
    panel.show()
    panel.grab()
    return panel


@pytest.mark.parametrize("rows", [3, 4, 5, 8, 20, 40])
def test_every_standing_warning_is_named_or_counted(qtbot: QtBot, rows: int) -> None:
    """Nine stand: each has a line, or its name on the last rows, or is in the count there."""
    panel = shown(qtbot, thirty_exceedances(), rows=rows)
    words = [d.shown for d in panel.drawn]
    full = sum(w == "■ WARNING" for w in words)
    named = sum(w.startswith("■ limit-") for w in words)
    counted = next((int(w.split()[1][1:]) for w in words if "more warnings" in w), 0)
    assert full + named + counted == 9
    if rows >= 4:
        assert counted == 0
    assert [d.shown for d in panel.drawn if d.is_cut] == []


def test_what_avoids_something_goes_on_below_where_it_is_long(qtbot: QtBot) -> None:
    """An advisory's ways out are wrapped into the rows that are free, not cut."""
    note = (
        "Hands-off falls in a link gap of 15 s; contact before 09:39:37 (10 s earlier) or from "
        "09:39:52 to 09:41:20 (5 s later) avoids it"
    )
    alone = replace(nominal(), exceedances=(), outlook_notes=(note,))
    panel = shown(qtbot, alone, width=560, rows=4)
    assert [d.shown for d in panel.drawn if d.is_cut] == []
    lines = [d.shown for d in panel.drawn]
    start = next(i for i, words in enumerate(lines) if words.startswith("— contact before"))
    assert lines[start + 1].endswith("avoids it")


def test_what_is_left_out_is_counted(qtbot: QtBot) -> None:
    """Standing cautions and cleared ones beyond the rows are told as a number."""
    panel = shown(qtbot, thirty_exceedances(), rows=5)
    assert any("more standing" in d.shown for d in panel.drawn)
    assert any(d.shown == "18 standing · 12 unacknowledged · 12 cleared" for d in panel.drawn)


def test_the_chosen_line_is_the_one_acknowledged(qtbot: QtBot) -> None:
    """Down chooses the next line; without the keyboard the worst one is meant."""
    panel = shown(qtbot, warning_and_cautions(), width=900, rows=8)
    worst = panel.to_acknowledge()
    assert worst is not None
    assert worst.key == "closing-fast#2"
    panel.setFocus()
    qtbot.waitUntil(panel.hasFocus)
    qtbot.keyClick(panel, Qt.Key.Key_Down)
    qtbot.keyClick(panel, Qt.Key.Key_Down)
    chosen = panel.to_acknowledge()
    assert chosen is not None
    assert chosen.key == "lateral-caution#1"
    qtbot.keyClick(panel, Qt.Key.Key_Up)
    back = panel.to_acknowledge()
    assert back is not None
    assert back.key == "closing-fast#2"


def test_a_hidden_line_can_be_chosen_into_sight(qtbot: QtBot) -> None:
    """Down goes through the whole list; the chosen line takes a place."""
    panel = shown(qtbot, thirty_exceedances(), rows=5)
    panel.setFocus()
    for _ in range(25):
        qtbot.keyClick(panel, Qt.Key.Key_Down)
    panel.grab()
    assert any(d.shown == "Source radio range disagreed by 0.46 m" for d in panel.drawn)


def test_a_click_chooses_a_line(qtbot: QtBot) -> None:
    """The pointer does what the arrows do."""
    panel = shown(qtbot, warning_and_cautions(), width=900, rows=8)
    line = next(d for d in panel.drawn if d.shown.startswith("Lateral offset"))
    with qtbot.waitSignal(panel.chosen) as blocker:
        qtbot.mouseClick(panel, Qt.MouseButton.LeftButton, pos=line.box.center().toPoint())
    assert blocker.args == ["lateral-caution#1"]


def test_blinking_changes_the_picture_only_where_a_warning_waits(qtbot: QtBot) -> None:
    """Lit and unlit differ with an unacknowledged warning, and are the same without."""
    waiting = shown(qtbot, warning_and_cautions())
    lit = waiting.grab().toImage()
    waiting.set_lit(False)
    assert lit != waiting.grab().toImage()
    assert any(d.shown == "■ WARNING" for d in waiting.drawn)
    quiet = shown(qtbot, nominal())
    lit = quiet.grab().toImage()
    quiet.set_lit(False)
    assert lit == quiet.grab().toImage()


def test_nothing_waits_at_rest(qtbot: QtBot) -> None:
    """An acknowledged caution is not offered again."""
    assert shown(qtbot, nominal()).to_acknowledge() is None


def test_the_chosen_line_is_seen(qtbot: QtBot) -> None:
    """While the list has the keyboard the chosen line lies on another ground."""
    panel = shown(qtbot, warning_and_cautions(), width=900, rows=8)
    panel.setFocus()
    qtbot.waitUntil(panel.hasFocus)
    qtbot.keyClick(panel, Qt.Key.Key_Down)
    image = panel.grab().toImage()
    line = next(d for d in panel.drawn if d.shown.startswith("Closing rate"))
    other = next(d for d in panel.drawn if d.shown.startswith("Lateral offset"))
    x = panel.width() - 8
    assert image.pixelColor(x, round(line.box.center().y())).name() == DARK.band
    assert image.pixelColor(x, round(other.box.center().y())).name() == DARK.panel
