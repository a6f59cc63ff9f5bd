"""What every test shares: an offscreen screen, hypothesis without a deadline, and this folder."""

from __future__ import annotations

import importlib.util
import os
from pathlib import Path

from hypothesis import HealthCheck, settings

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

settings.register_profile("house", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("house")

HAS_QT = importlib.util.find_spec("PySide6") is not None
GUI = Path(__file__).parent / "gui"


def pytest_ignore_collect(collection_path: Path) -> bool | None:
    """Leave the window's tests out where Qt is not installed (and only there)."""
    if not HAS_QT and GUI in (collection_path, *collection_path.parents):
        return True
    return None
