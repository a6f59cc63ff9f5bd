"""What every window test shares: the bundled fonts, and no leaks."""

from __future__ import annotations

import gc
from collections.abc import Iterator

import pytest
import shiboken6
from PySide6.QtCore import QCoreApplication, QEvent, QThread, QTimer
from PySide6.QtWidgets import QApplication

from console.window.application import application


@pytest.fixture(autouse=True)
def no_leaks(qapp: QApplication) -> Iterator[None]:
    """Fail a test that leaves a window, a running timer or a running thread behind.

    Widgets are to be given to ``qtbot.addWidget``, which closes and deletes them.
    """
    application()
    yield
    QCoreApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete)
    QCoreApplication.processEvents()
    windows = [w for w in QApplication.topLevelWidgets() if w.isVisible()]
    assert not windows, f"windows left open (add them to qtbot): {windows}"
    timers = [o for o in _living(QTimer) if o.isActive()]
    assert not timers, f"timers left running (stop them in closeEvent): {timers}"
    threads = [o for o in _living(QThread) if o.isRunning() and o is not qapp.thread()]
    assert not threads, f"threads left running (quit and wait): {threads}"


def _living(kind: type) -> list:
    """Give the living objects of a kind: an instance refers to its type."""
    return [o for o in gc.get_referrers(kind) if type(o) is kind and shiboken6.isValid(o)]
