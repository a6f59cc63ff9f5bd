"""The bench in the window, by keyboard and by mouse."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from bench_view_tools import bench_on, handle, mouse, settle, shown
from PySide6.QtCore import QEvent, QPoint, QPointF, Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QWidget
from pytestqt.qtbot import QtBot

from console.app.input_file import load_limits
from console.archive.shipped import shipped
from console.bench.labels import FILE_NAME, Label, Mark, read_labels
from console.bench.sweep import Knob, neutral_value
from console.present.bench_rows import Column
from console.present.bench_sweep import SweepView
from console.present.theme import DARK, LIGHT, Theme
from console.window.bench_view import BenchView
from tests.fakes.changed import replace

Held = Qt.KeyboardModifier


@pytest.fixture
def view(qtbot: QtBot) -> BenchView:
    """Show a bench on twenty passes, judged, the plot with the keyboard."""
    made = bench_on()
    qtbot.addWidget(made)
    shown(made)
    made.activateWindow()
    made.curve.setFocus()
    return made


def press(where: QWidget, key: Qt.Key, held: Qt.KeyboardModifier = Held.NoModifier) -> None:
    """Press a key."""
    QTest.keyClick(where, key, held)


def typed(view: BenchView, words: str) -> None:
    """Type into the open entry line and press Return."""
    assert view.entry.is_open
    view.entry.field.selectAll()
    QTest.keyClicks(view.entry.field, words)
    press(view.entry.field, Qt.Key.Key_Return)


def points(view: BenchView) -> list[tuple[float, float]]:
    """Give the drafted curve."""
    curve = view.draft.limit.curve
    return list(zip(curve.ranges_m, curve.values, strict=True))


OPENED = [(0.0, 0.10), (2.0, 0.10), (20.0, 0.16), (200.0, 0.60)]


def test_before_and_after_stand_side_by_side_when_loaded(view: BenchView) -> None:
    """Headline, summary and table tell the same passes."""
    assert "20 passes" in view.headline.view.passes
    assert view.headline.view.revision == "revision 7"
    assert [row.change for row in view.summary.view.rows[:1]] == ["±0"]
    assert view.table.passes.rowCount() == 20


def test_arrows_choose_and_move_a_point(view: BenchView) -> None:
    """Fine and coarse steps of value and range, each one step to undo."""
    press(view.curve, Qt.Key.Key_Left)
    assert view.draft.place.point == 1
    press(view.curve, Qt.Key.Key_Down)
    press(view.curve, Qt.Key.Key_Up, Held.ShiftModifier)
    press(view.curve, Qt.Key.Key_Left, Held.ControlModifier)
    assert points(view)[1] == (2.1, 0.109)
    assert view.headline.view.revision == "revision 7 → draft"
    for expected in ((2.0, 0.109), (2.0, 0.099), (2.0, 0.10)):
        press(view.curve, Qt.Key.Key_Z, Held.ControlModifier)
        assert points(view)[1] == expected
    press(view.curve, Qt.Key.Key_Z, Held.ControlModifier)
    assert view.entry.message == "nothing to undo"
    press(view.curve, Qt.Key.Key_Y, Held.ControlModifier)
    assert points(view)[1] == (2.0, 0.099)


def test_a_point_is_typed_added_and_removed(view: BenchView) -> None:
    """By key alone; what cannot be is told and changes nothing."""
    press(view.curve, Qt.Key.Key_E)
    typed(view, "nonsense")
    assert view.entry.is_open
    assert "two numbers" in view.entry.message
    typed(view, "0 m  0.093 m/s")
    assert points(view)[0] == (0.0, 0.093)
    press(view.curve, Qt.Key.Key_Plus)
    assert points(view)[:3] == [(0.0, 0.093), (1.0, 0.0965), (2.0, 0.10)]
    assert view.draft.place.point == 1
    press(view.curve, Qt.Key.Key_Delete)
    assert points(view) == [(0.0, 0.093), *OPENED[1:]]
    press(view.curve, Qt.Key.Key_R)
    assert points(view) == OPENED


def test_a_point_stays_between_its_neighbours(view: BenchView) -> None:
    """A range typed beyond the next point is held, and the line says so."""
    view.draft.choose_point(1)
    press(view.curve, Qt.Key.Key_E)
    typed(view, "50 0.1")
    assert points(view)[1] == (19.99, 0.1)
    assert "between its neighbours" in view.entry.message


def test_dragging_judges_the_draft_as_it_goes(view: BenchView) -> None:
    """The figures follow while the mouse is held; letting go makes one step to undo."""
    start = handle(view, 1)
    before = view.answer.comparison.after.warned.count
    mouse(view.curve, QEvent.Type.MouseButtonPress, start)
    for down in (10.0, 20.0, 40.0, 60.0):
        mouse(view.curve, QEvent.Type.MouseMove, start + QPointF(0.0, down))
        settle(view)
    assert view.curve.is_dragging
    assert points(view)[1][0] == 2.0  # a straight drag keeps the range
    assert view.answer.comparison.after.warned.count > before
    assert view.answer.comparison.gained > 0
    mouse(view.curve, QEvent.Type.MouseButtonRelease, start + QPointF(0.0, 60.0))
    assert not view.curve.is_dragging
    settle(view)
    changed = [n for n in view.table.passes.order if view.answer.comparison.passes[n].changes]
    assert view.table.passes.order[: len(changed)] == changed
    press(view.curve, Qt.Key.Key_Z, Held.ControlModifier)
    assert points(view) == OPENED


def test_only_the_dragged_limit_is_judged(view: BenchView) -> None:
    """Each new place of the point is one limit judged, not nineteen."""
    rejudge = view.port._rejudge
    judged, start = rejudge.judged, handle(view, 1)
    mouse(view.curve, QEvent.Type.MouseButtonPress, start)
    for down in (10.0, 20.0, 30.0):
        mouse(view.curve, QEvent.Type.MouseMove, start + QPointF(0.0, down))
        settle(view)
    mouse(view.curve, QEvent.Type.MouseButtonRelease, start)
    settle(view)
    assert rejudge.judged == judged + 3


def test_a_drag_across_moves_the_range_too(view: BenchView) -> None:
    """Beyond a few pixels the point follows the pointer in both directions."""
    start = handle(view, 1)
    mouse(view.curve, QEvent.Type.MouseButtonPress, start)
    mouse(view.curve, QEvent.Type.MouseMove, start + QPointF(-40.0, 0.0))
    mouse(view.curve, QEvent.Type.MouseButtonRelease, start)
    assert points(view)[1][0] > 2.05
    assert points(view)[1][1] == 0.10


def test_a_double_click_puts_a_point_on_the_curve(view: BenchView) -> None:
    """Where none is; the curve itself stays as it was."""
    frame = view.curve.layout_now
    place = QPointF(frame.ranges.px(8.0), frame.plot.top + 20.0)
    mouse(view.curve, QEvent.Type.MouseButtonDblClick, place)
    assert points(view)[2] == pytest.approx((8.0, 0.12), abs=2e-3)
    assert len(points(view)) == 5


def test_limits_are_chosen_by_key_and_from_the_list(view: BenchView) -> None:
    """The plot, the head and what counts follow the limit's own level."""
    press(view.curve, Qt.Key.Key_L)
    settle(view)
    assert view.draft.limit.id == "closing-fast-caution"
    assert view.headline.choice.currentText() == "◧ closing-fast-caution"
    assert "caution or warning" in view.summary.view.rows[0].name
    view.headline.limit_chosen.emit(4)
    settle(view)
    assert view.draft.limit.id == "corridor"
    press(view.curve, Qt.Key.Key_L, Held.ShiftModifier)
    assert view.draft.limit.id == "closing-slow-caution"


def test_delays_and_dead_band_are_typed(view: BenchView) -> None:
    """The head shows what was and what is."""
    for key, words in ((Qt.Key.Key_D, "0.008"), (Qt.Key.Key_N, "2"), (Qt.Key.Key_F, "3,5")):
        press(view.curve, key)
        typed(view, words)
    limit = view.draft.limit
    assert (limit.deadband, limit.on_delay_s, limit.off_delay_s) == (0.008, 2.0, 3.5)
    assert "on 1.0 → 2.0 s" in view.headline.view.figures
    press(view.curve, Qt.Key.Key_D)
    typed(view, "-1")
    assert "0 or more" in view.entry.message


def test_counting_one_limit_alone(view: BenchView) -> None:
    """The scope is said in words and changes the count."""
    press(view.curve, Qt.Key.Key_O)
    settle(view)
    assert view.summary.view.scope == "Counted: closing-fast alone"
    press(view.curve, Qt.Key.Key_O)
    settle(view)
    assert view.summary.view.scope == "Counted: every warning"


def test_the_table_is_filtered_and_sorted(view: BenchView) -> None:
    """By words a filter knows, by name, by any column and back."""
    press(view.curve, Qt.Key.Key_Slash)
    typed(view, "fault")
    labels = view.port.labels
    assert view.table.passes.order
    assert all(labels[n].mark is Mark.KNOWN_FAULT for n in view.table.passes.order)
    press(view.curve, Qt.Key.Key_Slash)
    typed(view, "kittiwake 0003")
    assert view.table.passes.order == [2]
    press(view.curve, Qt.Key.Key_Slash)
    view.entry.field.clear()
    press(view.entry.field, Qt.Key.Key_Return)
    view.sort_by(Column.MARGIN)
    margins = view.answer.run.margins[0][view.table.passes.order]
    assert list(margins) == sorted(margins)
    view.sort_by(Column.MARGIN)
    margins = view.answer.run.margins[0][view.table.passes.order]
    assert list(margins) == sorted(margins, reverse=True)
    assert "by margin" in view.heading.text()


def test_return_opens_the_pass_there(view: BenchView) -> None:
    """The chosen pass, ten seconds before what is first told of it."""
    press(view.curve, Qt.Key.Key_Slash)
    typed(view, "warned")
    view.table.setFocus()
    view.table.setCurrentIndex(view.table.passes.index(0, 0))
    press(view.table, Qt.Key.Key_Return)
    ((number, t),) = view.port.opened_passes
    assert number == view.table.passes.order[0]
    assert t == view.answer.comparison.passes[number].after.first.onset - 10.0


def test_the_chosen_pass_stays_chosen_when_rows_move(view: BenchView) -> None:
    """A change of order takes the choice along."""
    view.table.setCurrentIndex(view.table.passes.index(7, 0))
    chosen = view.table.chosen
    view.sort_by(Column.NAME)
    assert view.table.chosen == chosen


def test_a_pass_is_marked_with_who_and_why(qtbot: QtBot, tmp_path: Path) -> None:
    """The mark is in the file beside the passes, in the table and in the counts."""
    view = bench_on(folder=tmp_path)
    qtbot.addWidget(view)
    shown(view)
    view.table.setCurrentIndex(view.table.passes.index(0, 0))
    number = view.table.chosen
    press(view.table, Qt.Key.Key_M)
    typed(view, "perhaps")
    assert "good, bad or fault" in view.entry.message
    typed(view, "fault")
    typed(view, "5")
    assert "not in the pass" in view.entry.message
    fault_t = float(view.port.loaded().passes[number].columns.t[3])
    for words in (repr(fault_t), "MK", "thruster stuck open"):
        typed(view, words)
    label = Label(Mark.KNOWN_FAULT, "MK", "thruster stuck open", fault_t)
    name = view.port.loaded().passes[number].name
    assert read_labels(tmp_path / FILE_NAME).labels == {name: label}
    settle(view)
    assert view.answer.comparison.after.missed.of == 1
    press(view.table, Qt.Key.Key_M)
    typed(view, "-")
    assert read_labels(tmp_path / FILE_NAME).labels == {}


def test_saving_asks_why_and_raises_the_revision(qtbot: QtBot, tmp_path: Path) -> None:
    """Comments stay; the draft becomes what is opened; a change underneath is refused."""
    path = tmp_path / "mine.toml"
    path.write_bytes(shipped("replay_data", "limits", "port_c_final_approach.toml").read_bytes())
    view = bench_on(limits=load_limits(path), path=path)
    qtbot.addWidget(view)
    shown(view)
    press(view.curve, Qt.Key.Key_S)
    assert view.entry.message == "nothing is changed"
    press(view.curve, Qt.Key.Key_Down)
    press(view.curve, Qt.Key.Key_S)
    typed(view, "quieter at contact")
    typed(view, "RB")
    saved = load_limits(path)
    assert (saved.revision, saved.author, saved.reason) == (8, "RB", "quieter at contact")
    assert saved.limits[0].curve.values[0] == 0.099
    assert "# How the numbers were chosen" in path.read_text()
    settle(view)
    assert view.headline.view.revision == "revision 8"
    assert not view.draft.is_changed
    press(view.curve, Qt.Key.Key_Down)
    path.write_text(path.read_text() + "# somebody else\n")
    press(view.curve, Qt.Key.Key_S)
    typed(view, "again")
    typed(view, "RB")
    assert "changed since it was opened" in view.entry.message
    assert view.draft.is_changed
    assert view.draft.changed[0] in view.unsaved()
    view.entry.close_line()


def test_the_shipped_file_is_not_written_over(view: BenchView) -> None:
    """Without --limits there is no file to save to, and the line says so."""
    press(view.curve, Qt.Key.Key_Down)
    press(view.curve, Qt.Key.Key_S)
    typed(view, "x")
    typed(view, "MK")
    assert "--limits" in view.entry.message
    view.entry.close_line()


def test_what_the_draft_contradicts_is_noted(view: BenchView) -> None:
    """A warning that comes before its caution is told beside the figures."""
    assert view.summary.view.notes == ()
    view.draft.choose_point(1)
    view.draft.move_to(2.0, 0.09)
    view.changed()
    settle(view)
    assert any("closing-fast" in note for note in view.summary.view.notes)


def test_ranges_are_shown_closer_and_farther(view: BenchView) -> None:
    """By steps, within bounds."""
    first = view.curve.layout_now.ranges.outer_m
    press(view.curve, Qt.Key.Key_BracketLeft)
    view.grab()
    assert view.curve.layout_now.ranges.outer_m < first
    for _ in range(3):
        press(view.curve, Qt.Key.Key_BracketRight)
    view.grab()
    assert view.curve.layout_now.ranges.outer_m > first


def test_the_sheet_names_every_key(view: BenchView) -> None:
    """F1 shows it, Escape hides it."""
    press(view.curve, Qt.Key.Key_F1)
    assert view.sheet.isVisible()
    assert "undo" in view.sheet.accessibleDescription()
    press(view.curve, Qt.Key.Key_Escape)
    assert not view.sheet.isVisible()


@pytest.mark.parametrize("theme", [DARK, LIGHT])
@pytest.mark.parametrize("size", [(1600, 900), (1280, 720), (700, 500)])
@pytest.mark.parametrize("count", [0, 1, 3, 20])
def test_every_size_theme_and_count_is_drawn_without_a_cut_label(
    qtbot: QtBot, theme: Theme, size: tuple[int, int], count: int
) -> None:
    """No tick label leaves its plot, no text of the headline's title is lost."""
    view = bench_on(count)
    qtbot.addWidget(view)
    shown(view, theme, size)
    view.grab()
    for plot in (view.curve, view.delays, view.sweep):
        if not plot.isVisible():
            continue
        scene = view.curve.standing_scene() if plot is view.curve else plot.scene()
        for label in scene.labels:
            assert label.box.left >= -0.5, label.text
            assert label.box.right <= plot.width() + 0.5, label.text
            assert label.box.bottom <= plot.height() + 0.5, label.text


def test_the_parts_say_what_they_show(view: BenchView) -> None:
    """Every part has a name, the plots and rows a description in words."""
    for part in (view.headline, view.curve, view.delays, view.summary, view.table):
        assert part.accessibleName()
    assert "Point 1 of 4" in view.curve.accessibleDescription()
    assert "known fault" in view.delays.accessibleDescription() or "told" in (
        view.delays.accessibleDescription()
    )
    index = view.table.passes.index(0, 0)
    said = view.table.passes.data(index, Qt.ItemDataRole.AccessibleTextRole)
    assert "kittiwake" in said
    assert "■" not in said


def test_a_mark_that_cannot_be_kept_is_told(view: BenchView) -> None:
    """Simulated passes have no file to keep it beside."""
    press(view.curve, Qt.Key.Key_M)
    assert view.entry.message == "choose a pass in the table first"
    assert "no file" in view.port.mark(0, replace(Label(Mark.GOOD, "a", "b")))


def swept(view: BenchView) -> SweepView:
    """Ask for the sweep and wait for it."""
    view.sweeper.ask()
    return swept_by_itself(view)


def swept_by_itself(view: BenchView) -> SweepView:
    """Wait for the sweep of the draft."""
    for _ in range(4000):
        view.tick()
        found = view.sweep.view
        if found is not None and found.points and found.limit == view.draft.limit:
            return found
        QTest.qWait(5)
    raise AssertionError("no sweep came")


def test_a_sweep_goes_out_from_the_draft_and_takes_nothing_by_itself(view: BenchView) -> None:
    """The draft's own point is chosen first; Return puts another into the draft, one step."""
    found = swept(view)
    assert found.knob is Knob.SCALE
    assert found.points[found.chosen].value == 1.0
    assert found.points[found.chosen].limit == view.draft.limit
    assert any(point.is_unbeaten for point in found.points)
    assert not view.draft.is_changed
    press(view.sweep, Qt.Key.Key_Left)
    press(view.sweep, Qt.Key.Key_Return)
    assert points(view) == [(r, pytest.approx(0.98 * v)) for r, v in OPENED]
    press(view.curve, Qt.Key.Key_Z, Held.ControlModifier)
    assert points(view) == OPENED


def test_every_knob_is_swept_through_values_a_file_can_hold(view: BenchView) -> None:
    """W goes round; the draft's own value is among them."""
    for knob in (Knob.OFFSET, Knob.ON_DELAY, Knob.DEADBAND, Knob.SCALE):
        press(view.curve, Qt.Key.Key_W)
        found = swept(view)
        assert found.knob is knob
        values = [point.value for point in found.points]
        assert values == sorted(values)
        assert min(abs(v - neutral_value(found.limit, knob)) for v in values) < 1e-9
        view.sweep.grab()


def test_a_point_of_the_sweep_is_chosen_by_mouse(view: BenchView) -> None:
    """The nearest one; its figures are told in words."""
    swept(view)
    QTest.mouseClick(
        view.sweep, Qt.MouseButton.LeftButton, pos=QPoint(view.sweep.width() - 20, 190)
    )
    chosen = view.sweep.view.chosen
    most = max(p.nuisance.count for p in view.sweep.view.points)
    assert view.sweep.view.points[chosen].nuisance.count >= 0.5 * most
    assert "nuisance" in view.sweep.accessibleDescription()


def test_a_sweep_without_marks_says_what_it_needs(qtbot: QtBot) -> None:
    """Nuisance and misses are of marked passes only."""
    view = bench_on(5, labels=[None] * 5)
    qtbot.addWidget(view)
    shown(view)
    swept(view)
    assert "Mark passes" in view.sweep.scene().words()


@pytest.mark.parametrize("size", [(1280, 720), (1600, 900)])
def test_the_sweep_cuts_none_of_its_words(qtbot: QtBot, size: tuple[int, int]) -> None:
    """Figures and axis are whole beside the plot, which stands still whatever is chosen."""
    view = bench_on()
    qtbot.addWidget(view)
    shown(view, size=size)
    found = swept(view)
    tops = set()
    for chosen, point in enumerate(found.points):
        view.sweep.show_sweep(replace(found, chosen=chosen))
        scene = view.sweep.scene()
        words, rim = scene.words(), view.sweep.width()
        assert "…" not in words
        assert "upward missed" in words
        for label in scene.labels:
            assert label.box.left >= 0.0, label.text
            assert label.box.right <= rim, label.text
        shares = (f"{100.0 * s.share:.1f} % (" for s in (point.nuisance, point.missed) if s.of)
        assert all(share in words for share in shares)
        tops.add(max(line.y.max() - line.y.min() for line in scene.lines if len(line.y) == 2))
    assert len(tops) == 1


def test_the_figures_of_a_point_lie_on_no_curve_and_no_mark(view: BenchView) -> None:
    """Not on the draft, the curve as opened, what is gained or what is lost."""
    for at in range(4):
        view.draft.choose_point(at)
        view.draft.move_to(view.draft.point[0], view.draft.point[1] * 0.9)
        view.changed()
        settle(view)
        (named,) = [label for label in view.curve.scene().labels if label.bold]
        frame, box = view.curve._frame, named.box
        for curve in (view.draft.limit.curve, view.draft.opened_limit.curve):
            for px in np.arange(box.left, box.right):
                value = curve.at(frame.ranges.range_at(px))
                assert value is None or not box.top <= frame.values.px(value) <= box.bottom
        for touch in (*view._touches[0], *view._touches[1]):
            x, y = frame.ranges.px(touch.range_m), frame.values.px(touch.value)
            assert not (box.left <= x <= box.right and box.top <= y <= box.bottom)


def test_without_a_pass_the_sweep_does_not_wait_for_ever(qtbot: QtBot) -> None:
    """Nothing is judged there: it says what it needs."""
    view = bench_on(0)
    qtbot.addWidget(view)
    shown(view)
    swept(view)
    assert "Mark passes" in view.sweep.scene().words()


def test_a_table_without_a_row_is_renewed_without_a_complaint(qtbot: QtBot) -> None:
    """As where every recording of a folder is still being written; a warning of Qt's fails it."""
    view = bench_on(0)
    qtbot.addWidget(view)
    shown(view)
    view.show_rows()
    view.show_rows()
    assert view.table.passes.rowCount() == 0
    assert view.table.chosen is None


def test_a_recording_left_out_is_told_above_the_table(view: BenchView) -> None:
    """In one line that fits."""
    view.port._set = replace(view.port.loaded(), under_way=1)
    view.show_rows()
    assert "1 recording still being written is left out" in view.heading.text()
    view.resize(1280, 720)
    assert view.heading.sizeHint().width() <= view.heading.width()


def test_a_figure_typed_is_for_the_limit_it_was_asked_for(view: BenchView) -> None:
    """The line names the limit, and takes nothing once another is chosen."""
    asked = view.draft.limit
    press(view.curve, Qt.Key.Key_D)
    assert view.entry.field.accessibleName().startswith(f"{asked.id}, dead")
    view.draft.choose_limit(1)
    view.changed()
    typed(view, "0.5")
    assert asked.id in view.entry.message
    assert not view.draft.is_changed


def test_a_point_typed_is_the_one_it_was_asked_for(view: BenchView) -> None:
    """It is named, and moved whatever point is chosen meanwhile; gone, nothing else is."""
    view.draft.choose_point(1)
    press(view.curve, Qt.Key.Key_E)
    assert "point at 2 m" in view.entry.field.accessibleName()
    view.curve.point_chosen.emit(2)
    typed(view, "2 0.09")
    assert points(view) == [OPENED[0], (2.0, 0.09), *OPENED[2:]]
    assert view.draft.place.point == 1
    press(view.curve, Qt.Key.Key_E)
    view.draft.remove_point()
    view.changed()
    typed(view, "2 0.08")
    assert "no point at 2 m" in view.entry.message
    assert points(view) == [OPENED[0], *OPENED[2:]]


def test_a_drag_that_rested_is_swept_when_it_ends(view: BenchView) -> None:
    """While a point is dragged nothing is swept; letting go asks for the sweep of the draft."""
    swept(view)
    before = view.sweep.view.limit
    view.draft.begin_drag()
    view.draft.move_to(*[view.draft.point[0], view.draft.point[1] * 0.9])
    view.curve.drag_ended.emit()
    settle(view)
    assert swept_by_itself(view).limit != before


def test_a_limit_chosen_before_leaving_is_swept_on_return(view: BenchView) -> None:
    """Leaving the page before the draft has come to rest does not keep the old sweep."""
    swept(view)
    view.choose_limit(view.draft.place.limit + 1)
    view.hide()
    assert not view.sweep.view.points
    view.show()
    swept_by_itself(view)
