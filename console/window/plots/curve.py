"""The fence round pyqtgraph: its curves, typed."""

from __future__ import annotations

from typing import cast

import pyqtgraph as pg
from PySide6.QtGui import QPainterPath

from console.present.plot_scene import Series


def curve_path(x: Series, y: Series) -> QPainterPath:
    """Give a polyline in pixels as a painter path; a point that is not finite breaks it."""
    return cast("QPainterPath", pg.arrayToQPath(x, y, connect="finite"))
