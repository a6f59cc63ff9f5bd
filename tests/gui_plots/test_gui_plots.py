"""The plots as widgets: painted without a fault in every situation, and meaning what they show."""

from __future__ import annotations

import gc
import sys
from collections.abc import Callable

import pytest

from tests.fakes.changed import replace

pytest.importorskip("PySide6")

from fakes.captures import CAPTURES, T_CONTACT, hooking, status_after
from fakes.situations import ALL
from fakes.snapshots import LIMITS, approach_at, coasted, nominal, warning_and_cautions
from PySide6.QtGui import QColor, QImage
from pytestqt.qtbot import QtBot

from console.approach.snapshot import Snapshot
from console.present.plot_scene import Ink
from console.present.theme import DARK, LIGHT, Theme
from console.present.trail import Trail
from console.window.fonts import load_fonts
from console.window.plots.canvas import PlotCanvas
from console.window.plots.capture import CapturePlot
from console.window.plots.lanes import LanesPlot
from console.window.plots.port_plane import PortPlanePlot
from console.window.plots.scene_painter import strands
from console.window.plots.time_strip import TimeStripPlot

pytestmark = pytest.mark.gui

SIZES: dict[type[PlotCanvas], tuple[tuple[int, int], ...]] = {
    LanesPlot: ((850, 670), (640, 500)),
    PortPlanePlot: ((366, 398), (260, 280)),
    TimeStripPlot: ((1580, 95), (1260, 90)),
    CapturePlot: ((850, 670), (640, 500)),
}
KINDS = tuple(SIZES)

Make = Callable[..., PlotCanvas]


@pytest.fixture
def make(qtbot: QtBot) -> Make:
    """Give a maker of plots, of a kind, size, theme and scale."""

    def made(
        kind: type[PlotCanvas], size: tuple[int, int] | None = None, theme: Theme = DARK,
        scale: float = 1.0,
    ) -> PlotCanvas:  # fmt: skip
        load_fonts()
        plot = kind()
        qtbot.addWidget(plot)
        plot.set_limits(LIMITS)
        plot.apply_theme(theme, scale)
        plot.resize(*(size or SIZES[kind][0]))
        return plot

    return made


def trail_to(s: Snapshot, rows: int = 600) -> Trail:
    """Give a trail that ends where a snapshot stands, and capture statuses after contact."""
    trail = Trail(levels=3, blocks=8)
    where = s.estimate or s.measured
    if where is not None and s.measured is not None:
        for i in range(rows):
            back = (rows - i) / 10.0
            trail.append(
                s.t - (s.age_s or 0.1) - back, where.range_m + 0.08 * back, 0.08, 0.02, -0.02,
                0.3, -0.3, 0.1, False,
            )  # fmt: skip
    for i in range(int(max(s.t - T_CONTACT, 0.0)) + 1 if s.capture else 0):
        c = status_after(float(i))
        trail.append_capture(
            T_CONTACT + i, c.rel_rate_mps, c.rel_rate_dps, c.ring_extension, c.hooks,
            c.vestibule_kpa, c.vestibule_degc,
        )  # fmt: skip
    return trail


def shot(plot: PlotCanvas, s: Snapshot | None, trail: Trail) -> QImage:
    """Paint and give the picture."""
    plot.show_snapshot(s, trail)
    return plot.grab().toImage()


def has_colour(image: QImage, colour: str, box: tuple[int, int, int, int] | None = None) -> bool:
    """Tell whether any pixel of a picture, or of a box in it, is just of a colour."""
    left, top, right, bottom = box or (0, 0, image.width(), image.height())
    wanted = QColor(colour).rgb()
    return any(
        image.pixel(x, y) == wanted
        for y in range(max(top, 0), min(bottom, image.height()))
        for x in range(max(left, 0), min(right, image.width()))
    )


@pytest.mark.parametrize("theme", [DARK, LIGHT], ids=lambda t: t.name)
@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("situation", ALL)
def test_every_situation_is_painted(
    make: Make, kind: type[PlotCanvas], situation: str, theme: Theme
) -> None:
    """Each plot paints each situation in each theme, on the panel's ground, and says it too."""
    s = ALL[situation]()
    plot = make(kind, theme=theme)
    image = shot(plot, s, trail_to(s, 60))
    assert has_colour(image, theme.panel)
    assert plot.accessibleName() == plot.title
    assert plot.accessibleDescription() == plot.spoken(s) != ""


@pytest.mark.parametrize(("size", "scale"), [(0, 1.0), (1, 1.0), (0, 1.5), (0, 2.0)])
@pytest.mark.parametrize("kind", KINDS)
def test_nothing_known_is_painted_too(
    make: Make, kind: type[PlotCanvas], size: int, scale: float
) -> None:
    """Without a snapshot, a trail or limits a plot still stands, at any text size."""
    plot = make(kind, SIZES[kind][size], scale=scale)
    plot.set_limits(None)
    assert not shot(plot, None, Trail(levels=1, blocks=4)).isNull()
    assert plot.minimumSizeHint().width() <= plot.sizeHint().width()


@pytest.mark.parametrize("scale", [1.0, 1.3])
@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("situation", ["nominal", "coasted", "warning", "docked", "hooks"])
def test_real_faces_leave_no_text_cut_or_covered(
    make: Make, kind: type[PlotCanvas], situation: str, scale: float
) -> None:
    """With the bundled faces' true widths no text leaves the widget or lies on another."""
    from fakes.plot_meter import outside, overlapping

    s = ALL[situation]()
    for width, height in SIZES[kind]:
        tall = round(height * scale) if kind is TimeStripPlot else height
        plot = make(kind, (width, tall), scale=scale)
        plot.show_snapshot(s, trail_to(s))
        labels = [m for m in plot.scene().labels if m.text != "light" or s.light]
        assert overlapping(labels) == []
        assert outside(labels, plot.width(), plot.height()) == []


def test_trace_grows_as_samples_come(make: Make) -> None:
    """A sample that came since the last frame is drawn, from where the trace ended."""
    s = approach_at(8.0)
    plot = make(LanesPlot)
    trail = trail_to(approach_at(9.0))
    shot(plot, replace(s), trail)
    frame, _ = plot._laid_out()  # type: ignore[attr-defined]
    x = int(frame.ranges.px(8.4))
    lane = frame.lanes[0]
    box = (x - 2, int(lane.plot.top), x + 3, int(lane.plot.bottom))
    assert not has_colour(plot._plate.toImage(), DARK.trace_a, box)
    for i in range(30):
        trail.append(s.t + 0.1 * i - 3.0, 9.0 - 0.03 * i, 0.08, 0.02, -0.02, 0.3, -0.3, 0.1, False)
        shot(plot, replace(s), trail)
    assert has_colour(plot._plate.toImage(), DARK.trace_a, box)


@pytest.mark.parametrize("kind", [LanesPlot, CapturePlot])
def test_trace_in_pieces_looks_as_drawn_at_once(make: Make, kind: type[PlotCanvas]) -> None:
    """A plate to which rows were added one by one differs from a fresh one in few pixels."""
    s = hooking() if kind is CapturePlot else nominal()
    whole = trail_to(s, 300)
    pieces = Trail(levels=2, blocks=16)
    grown, fresh = make(kind), make(kind)
    for i in range(whole.capture_count):
        values = [float(v) for v in whole.capture.rows(i, i + 1)[0]]
        pieces.append_capture(whole.capture_times.at(i), *values[:3], None, *values[3:])
        if i % 20 == 0:
            shot(grown, replace(s), pieces)
    for i in range(whole.count):
        values = [float(v) for v in whole.path.rows(i, i + 1)[0]]
        pieces.append(whole.times.at(i), *values[:7], False)
        if i % 20 == 0:
            shot(grown, replace(s), pieces)
    a, b = shot(grown, replace(s), pieces), shot(fresh, s, whole)
    different = sum(
        abs(QColor(a.pixel(x, y)).lightness() - QColor(b.pixel(x, y)).lightness()) > 60
        for y in range(0, a.height(), 2)
        for x in range(0, a.width(), 2)
    )
    assert different < 0.001 * a.width() * a.height() / 4


def test_history_that_began_anew_is_drawn_anew(make: Make) -> None:
    """After a seek nothing of the earlier history stands."""
    s = approach_at(8.0)
    plot = make(LanesPlot)
    trail = trail_to(s)
    shot(plot, s, trail)
    assert has_colour(plot._plate.toImage(), DARK.trace_c)
    trail.clear()
    shot(plot, replace(s), trail)
    frame, _ = plot._laid_out()  # type: ignore[attr-defined]
    plot_box = frame.lanes[2].plot
    box = (int(plot_box.left), int(plot_box.top), int(plot_box.right), int(plot_box.bottom))
    assert not has_colour(plot._plate.toImage(), DARK.trace_c, box)


@pytest.mark.parametrize("theme", [DARK, LIGHT], ids=lambda t: t.name)
@pytest.mark.parametrize("kind", [LanesPlot, PortPlanePlot])
def test_alarm_colours_only_when_abnormal(
    make: Make, kind: type[PlotCanvas], theme: Theme
) -> None:
    """No pixel of caution or warning in the nominal picture; they are there when they stand."""
    plot = make(kind, theme=theme)
    quiet = shot(plot, nominal(), trail_to(nominal()))
    assert not has_colour(quiet, theme.caution)
    assert not has_colour(quiet, theme.warning)
    loud = shot(plot, warning_and_cautions(), trail_to(warning_and_cautions()))
    assert has_colour(loud, theme.caution)
    assert kind is PortPlanePlot or has_colour(loud, theme.warning)


def test_nothing_is_painted_where_nothing_changed(make: Make, qtbot: QtBot) -> None:
    """The same snapshot and trail again cost no painting."""
    plot = make(LanesPlot)
    s, trail = nominal(), trail_to(nominal())
    plot.show()
    qtbot.waitExposed(plot)
    plot.show_snapshot(s, trail)
    plot.repaint()
    painted: list[int] = []
    draw = plot._changing
    plot._changing = lambda: (painted.append(1), draw())[1]  # type: ignore[method-assign]
    plot.show_snapshot(s, trail)
    plot.grab()
    qtbot.wait(20)
    before = len(painted)
    plot.show_snapshot(s, trail)
    qtbot.wait(20)
    assert len(painted) == before
    plot.show_snapshot(replace(s), trail)
    qtbot.waitUntil(lambda: len(painted) > before)


def test_spoken_words_follow_once_a_second(make: Make) -> None:
    """Between whole seconds the accessible words stand still."""
    plot = make(LanesPlot)
    s = approach_at(8.0)
    start = float(int(s.t))
    trail = Trail(levels=1, blocks=4)
    plot.show_snapshot(replace(s, t=start + 0.1), trail)
    said = plot.accessibleDescription()
    other = replace(coasted(), t=start + 0.4)
    plot.show_snapshot(other, trail)
    assert plot.accessibleDescription() == said
    plot.show_snapshot(replace(other, t=start + 1.2), trail)
    assert "coasted" in plot.accessibleDescription()


def test_keyboard_reaches_every_plot_and_shows_where_it_is(make: Make, qtbot: QtBot) -> None:
    """A plot takes the focus by tab and shows a ring in the focus colour."""
    plot = make(PortPlanePlot)
    plot.show()
    plot.activateWindow()
    plot.setFocus()
    qtbot.waitUntil(plot.hasFocus)
    assert QColor(plot.grab().toImage().pixel(0, 50)) == QColor(DARK.focus)
    plot.clearFocus()
    assert QColor(plot.grab().toImage().pixel(0, 50)) == QColor(DARK.hairline)


def test_paints_lose_no_reference_to_none(make: Make) -> None:
    """A hundred paints of each plot change the count of references to None by less than 20."""
    plots = [make(kind) for kind in KINDS]
    snapshots = [hooking() if kind is CapturePlot else nominal() for kind in KINDS]
    trails = [trail_to(s) for s in snapshots]
    for _ in range(3):
        for plot, s, trail in zip(plots, snapshots, trails, strict=True):
            shot(plot, replace(s), trail)
    gc.collect()  # what earlier tests left must not be counted as ours
    before = sys.getrefcount(None)
    for _ in range(100):
        for plot, s, trail in zip(plots, snapshots, trails, strict=True):
            plot.show_snapshot(replace(s), trail)
            plot.grab()
    gc.collect()
    assert abs(sys.getrefcount(None) - before) < 20


@pytest.mark.parametrize("ink", list(Ink))
@pytest.mark.parametrize("theme", [DARK, LIGHT], ids=lambda t: t.name)
def test_every_ink_is_a_colour_of_the_theme(theme: Theme, ink: Ink) -> None:
    """Each part a scene may name is a colour in each theme."""
    assert QColor(getattr(theme, ink.value)).isValid()


@pytest.mark.parametrize("width", [1.0, 2.0, 3.0, 4.8, 9.0])
def test_fine_lines_together_are_as_wide_as_asked(width: float) -> None:
    """The strands of a wide line span its width in every direction, none farther."""
    offsets = strands(width)
    reach = [max(x * c + y * s for x, y in offsets) for c, s in ((1, 0), (0, 1), (0.7071, 0.7071))]
    assert all(r <= (width - 1.0) / 2.0 + 1e-9 for r in reach)
    assert all(r >= 0.7 * (width - 1.0) / 2.0 - 1e-9 for r in reach)


@pytest.mark.parametrize("situation", CAPTURES)
def test_capture_situations_have_their_traces(make: Make, situation: str) -> None:
    """After contact the ring's trace is on the plate."""
    s = CAPTURES[situation]()
    plot = make(CapturePlot)
    shot(plot, s, trail_to(s))
    assert has_colour(plot._plate.toImage(), DARK.trace_c)
