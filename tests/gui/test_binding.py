"""The Qt binding keeps its references.

PySide6 6.12.0 on Python 3.11 loses one reference to None at every call that returns nothing and
aborts after some thousands. A short test does not see the abort; counting does.
"""

from __future__ import annotations

import gc
import sys

import pytest
from fakes.limits import fake_limits
from fakes.port import fake_status
from fakes.snapshots import nominal, warning_and_cautions
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from console.present.port import Watched
from console.window.panels.ledger import LedgerPanel

PAINTS = 100


@pytest.mark.skipif(sys.version_info >= (3, 12), reason="None is immortal from Python 3.12 on")
def test_a_hundred_paints_keep_the_references_to_none(qtbot: QtBot) -> None:
    """The count of references to None stands still, within 20."""
    panel = LedgerPanel()
    qtbot.addWidget(panel)
    panel.resize(700, 220)
    panel.show()
    limits = fake_limits()
    states = [Watched(s, fake_status(), limits) for s in (nominal(), warning_and_cautions())]

    def paint(times: int) -> None:
        for i in range(times):
            panel.show_watched(states[i % 2])
            panel.repaint()
            QApplication.processEvents()

    paint(10)
    gc.collect()
    before = sys.getrefcount(None)
    paint(PAINTS)
    gc.collect()
    after = sys.getrefcount(None)
    assert abs(after - before) < 20
