"""The contract of every painted panel, over all situations, sizes and themes."""

from __future__ import annotations

import itertools

import pytest
from fakes.limits import fake_limits
from fakes.port import fake_status
from fakes.situations import ALL
from fakes.worst import worst_snapshot, worst_status
from PySide6.QtCore import QRectF
from PySide6.QtGui import QAccessible
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from console.present.port import Watched
from console.present.theme import DARK, LIGHT
from console.window.ink import Drawn
from console.window.main_window import scale_of
from console.window.panels import PANELS
from console.window.panels.panel import PaintedPanel

LIMITS = fake_limits()
SIZES = {(1280, 720): 630, (1600, 900): 752, (3840, 2160): 1800}
"""Window sizes, and about the width a column's panel has there."""


def watched(name: str) -> Watched:
    """Give a situation, or the longest texts there are."""
    if name == "worst":
        return Watched(worst_snapshot(), worst_status(), LIMITS)
    if name == "nothing":
        return Watched(None, fake_status(samples_per_s=None, recording=None), LIMITS)
    return Watched(ALL[name](), fake_status(), LIMITS)


def made(
    qtbot: QtBot, kind: type[PaintedPanel], size: tuple[int, int] = (1600, 900)
) -> PaintedPanel:
    """Give a panel as large as it is in a window of a size."""
    panel = kind()
    qtbot.addWidget(panel)
    panel.apply_theme(DARK, scale_of(*size, 1.0))
    wide = size[0] - 12 if panel.title in ("Headline", "Status") else SIZES[size]
    if panel.title == "Calls and steps":
        wide = wide // 2 - 6
    panel.resize(wide, 100)
    return panel


def painted(panel: PaintedPanel, what: Watched) -> tuple[Drawn, ...]:
    """Show something at the panel's own height and give the texts painted."""
    panel.show_watched(what)
    panel.resize(panel.width(), round(panel.natural_height(panel.width())))
    panel.grab()
    return panel.drawn


def overlaps(drawn: tuple[Drawn, ...]) -> list[tuple[str, str]]:
    """Give pairs of texts that lie on each other by more than their line spacing."""
    found = []
    for a, b in itertools.combinations(drawn, 2):
        inner_a = a.box.adjusted(0.5, a.box.height() * 0.25, -0.5, -a.box.height() * 0.25)
        inner_b = b.box.adjusted(0.5, b.box.height() * 0.25, -0.5, -b.box.height() * 0.25)
        if inner_a.intersects(inner_b):
            found.append((a.shown, b.shown))
    return found


@pytest.mark.parametrize("size", SIZES, ids=str)
@pytest.mark.parametrize("kind", PANELS, ids=lambda k: k.title)
def test_no_text_is_cut_or_lies_on_another_or_over_the_edge(
    qtbot: QtBot, kind: type[PaintedPanel], size: tuple[int, int]
) -> None:
    """At the three sizes, in every situation and with the longest texts."""
    panel = made(qtbot, kind, size)
    for name in ("nothing", "worst", *ALL):
        drawn = painted(panel, watched(name))
        assert drawn, name
        assert [(d.wanted, d.shown) for d in drawn if d.is_cut] == [], name
        assert overlaps(drawn) == [], name
        inside = QRectF(panel.rect()).adjusted(-0.5, -0.5, 0.5, 0.5)
        assert [d.shown for d in drawn if not inside.contains(d.box)] == [], name


@pytest.mark.parametrize("theme", [DARK, LIGHT], ids=lambda t: t.name)
@pytest.mark.parametrize("kind", PANELS, ids=lambda k: k.title)
def test_a_panel_paints_before_it_was_shown_anything(
    qtbot: QtBot, kind: type[PaintedPanel], theme: object
) -> None:
    """Constructed, themed, resized to almost nothing and closed without a word."""
    panel = made(qtbot, kind)
    panel.apply_theme(theme, 1.0)
    panel.grab()
    for size in ((1, 1), (30, 400), (900, 12)):
        panel.resize(*size)
        panel.grab()
    panel.show_watched(watched("worst"))
    for size in ((1, 1), (30, 400), (900, 12), (700, 200)):
        panel.resize(*size)
        panel.grab()
    panel.close()


@pytest.mark.parametrize("kind", PANELS, ids=lambda k: k.title)
def test_a_panel_that_looks_the_same_is_not_painted_again(
    qtbot: QtBot, kind: type[PaintedPanel]
) -> None:
    """An equal view asks for no repaint; a different one does."""
    panel = made(qtbot, kind)
    panel.show()
    panel.show_watched(watched("nominal"))
    QApplication.processEvents()
    panel.drawn = ()
    panel.show_watched(watched("nominal"))
    QApplication.processEvents()
    assert panel.drawn == ()
    panel.show_watched(watched("worst"))
    qtbot.waitUntil(lambda: panel.drawn != ())


@pytest.mark.parametrize("kind", PANELS, ids=lambda k: k.title)
def test_a_screen_reader_is_told_what_is_painted(qtbot: QtBot, kind: type[PaintedPanel]) -> None:
    """Name and description stand in Qt's own accessibility tree."""
    panel = made(qtbot, kind)
    for name in ("nothing", *ALL):
        panel.show_watched(watched(name))
        told = QAccessible.queryAccessibleInterface(panel)
        assert told.text(QAccessible.Text.Name) == panel.title
        assert told.text(QAccessible.Text.Description), name


@pytest.mark.parametrize("kind", PANELS, ids=lambda k: k.title)
def test_the_theme_colours_the_ground(qtbot: QtBot, kind: type[PaintedPanel]) -> None:
    """Dark is dark and light is light, on the panel's own ground."""
    panel = made(qtbot, kind)
    for theme in (DARK, LIGHT):
        panel.apply_theme(theme, 1.0)
        painted(panel, watched("nominal"))
        ground = theme.panel if panel.has_border else theme.ground
        image = panel.grab().toImage()
        assert image.pixelColor(3, image.height() - 3).name() == ground


def colours(panel: PaintedPanel) -> set[str]:
    """Give every colour of a panel's picture."""
    image = panel.grab().toImage()
    return {
        image.pixelColor(x, y).name()
        for x in range(image.width())
        for y in range(0, image.height(), 2)
    }


@pytest.mark.parametrize("kind", PANELS, ids=lambda k: k.title)
def test_at_rest_no_abnormal_colour_is_used(qtbot: QtBot, kind: type[PaintedPanel]) -> None:
    """Far out with nothing wrong, neither caution nor warning colour appears."""
    panel = made(qtbot, kind)
    painted(panel, watched("far"))
    assert not {DARK.caution, DARK.warning} & colours(panel)
