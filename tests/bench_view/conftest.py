"""What the bench's window tests share: the bundled fonts, and nothing left running."""

from __future__ import annotations

import importlib.util
import threading
from collections.abc import Iterator

import pytest

if importlib.util.find_spec("PySide6") is None:
    collect_ignore_glob = ["test_*"]


@pytest.fixture(autouse=True)
def nothing_left(request: pytest.FixtureRequest) -> Iterator[None]:
    """Fail a test that leaves a window or a thread of the bench behind."""
    from PySide6.QtWidgets import QApplication

    from console.window.application import application

    qapp = request.getfixturevalue("qapp")
    application()
    yield
    qapp.processEvents()
    assert not [w for w in QApplication.topLevelWidgets() if w.isVisible()]
    names = [thread.name for thread in threading.enumerate()]
    assert not [name for name in names if name.startswith("bench-")]
