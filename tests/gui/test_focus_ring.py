"""The ring of the part that has the keyboard is drawn when it comes and gone when it goes."""

from __future__ import annotations

import pytest
from PySide6.QtWidgets import QApplication, QWidget
from pytestqt.qtbot import QtBot

from console.window.application import application
from console.window.focus_ring import FocusRing
from console.window.panels.exceedances import ExceedancesPanel
from console.window.panels.ledger import LedgerPanel
from console.window.plots.bench_canvas import BenchCanvas
from console.window.plots.canvas import PlotCanvas
from console.window.replay_bar import ReplayBar


class Counted(FocusRing):
    """Counts how often it is drawn."""

    def __init__(self) -> None:
        super().__init__()
        self.paints = 0

    def paintEvent(self, event: object) -> None:  # noqa: N802 - Qt names it
        """Count."""
        del event
        self.paints += 1


def test_a_part_is_drawn_anew_when_the_keyboard_comes_and_when_it_goes(qtbot: QtBot) -> None:
    """Once each, and at no other time."""
    application()
    house = QWidget()
    parts = [Counted(), Counted()]
    for place, part in enumerate(parts):
        part.setParent(house)
        part.setGeometry(150 * place, 0, 140, 100)
    qtbot.addWidget(house)
    house.resize(300, 100)
    house.show()
    house.activateWindow()
    QApplication.processEvents()
    before = [part.paints for part in parts]
    parts[0].setFocus()
    QApplication.processEvents()
    assert [part.paints for part in parts] == [before[0] + 1, before[1]]
    parts[1].setFocus()
    QApplication.processEvents()
    assert [part.paints for part in parts] == [before[0] + 2, before[1] + 1]


@pytest.mark.parametrize(
    "kind", [ExceedancesPanel, LedgerPanel, PlotCanvas, BenchCanvas, ReplayBar]
)
def test_every_painted_part_has_it(kind: type[QWidget]) -> None:
    """Panels, plots and the replay's bar."""
    assert issubclass(kind, FocusRing)
