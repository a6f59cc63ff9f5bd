"""The ring of the part that has the keyboard is drawn when it comes and gone when it goes."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from PySide6.QtCore import QEvent, QObject, Qt
from PySide6.QtGui import QColor
from PySide6.QtWidgets import QApplication, QWidget
from pytestqt.qtbot import QtBot

from console.present.theme import DARK
from console.window.application import application
from console.window.panels.exceedances import ExceedancesPanel
from console.window.panels.ledger import LedgerPanel
from console.window.plots.lanes import LanesPlot
from console.window.plots.port_plane import PortPlanePlot
from console.window.replay_bar import ReplayBar


class Paints(QObject):
    """Counts how often a part is drawn."""

    def __init__(self, part: QWidget) -> None:
        super().__init__()
        self.count = 0
        part.installEventFilter(self)

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:  # noqa: N802 - Qt names it
        """Count, and let it pass."""
        del watched
        self.count += event.type() is QEvent.Type.Paint
        return False


@pytest.mark.parametrize(
    "make", [ExceedancesPanel, LedgerPanel, LanesPlot, PortPlanePlot, ReplayBar]
)
def test_the_ring_comes_and_goes_with_the_keyboard(
    qtbot: QtBot, make: Callable[[QWidget], QWidget]
) -> None:
    """Each kind of painted part is drawn anew at both, its edge in the ring's colour between."""
    application()
    house = QWidget()
    other = QWidget(house)
    other.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
    part = make(house)
    part.setGeometry(20, 20, 400, 200)
    qtbot.addWidget(house)
    house.resize(460, 260)
    house.show()
    house.activateWindow()
    other.setFocus()
    QApplication.processEvents()
    paints = Paints(part)
    part.setFocus()
    QApplication.processEvents()
    assert paints.count == 1
    assert QColor(DARK.focus) in _edge(part)
    other.setFocus()
    QApplication.processEvents()
    assert paints.count >= 2
    assert QColor(DARK.focus) not in _edge(part)


def _edge(part: QWidget) -> list[QColor]:
    """Give the colours along the middle of the left edge."""
    image = part.grab().toImage()
    return [image.pixelColor(x, part.height() // 2) for x in range(4)]
