"""The time strip: what was, what comes, and when there is no link or no light."""

from __future__ import annotations

from collections.abc import Hashable

from PySide6.QtWidgets import QWidget

from console.approach.snapshot import Snapshot
from console.present.plot_scene import Scene
from console.present.time_strip import (
    AHEAD_S,
    START_AHEAD_S,
    StripFrame,
    lay_out_strip,
    needed_ahead_s,
    standing_strip,
)
from console.present.time_strip_now import StripMemory, changing_strip, strip_words
from console.window.plots.canvas import PlotCanvas


class TimeStripPlot(PlotCanvas):
    """Answers what comes next and when, and whether link and light will be there.

    Without data only now stands; a coasted countdown is dashed, one that is withdrawn is gone.
    """

    title = "Time strip"
    _LEAST_EM = (40.0, 5.6)
    _USUAL_EM = (100.0, 6.3)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._ahead_s: float | None = None
        self._frame: StripFrame | None = None
        self._stand = Scene()
        self._laid_out_for: Hashable = None
        self._memory = StripMemory()

    def spoken(self, snapshot: Snapshot | None) -> str:
        """Give what comes, in words."""
        return strip_words(snapshot, self._marks_m())

    def _marks_m(self) -> tuple[float, ...]:
        return () if self._limits is None else self._limits.marks_m

    def _arrange(self) -> Hashable:
        needed = needed_ahead_s(self._snapshot)
        if needed is not None:
            self._ahead_s = AHEAD_S.next(self._ahead_s, needed)
        ahead = START_AHEAD_S if self._ahead_s is None else self._ahead_s
        key = (ahead, *self._look())
        if key != self._laid_out_for or self._frame is None:
            self._frame = lay_out_strip(self.width(), self.height(), self._meter, ahead)
            self._stand = standing_strip(self._frame, self._meter)
            self._laid_out_for = key
            self._memory = StripMemory()
        return key

    def _standing(self) -> Scene:
        return self._stand

    def _changing(self) -> Scene:
        if self._frame is None:
            self._arrange()
        assert self._frame is not None
        return changing_strip(
            self._frame, self._snapshot, self._marks_m(), self._memory, self._meter
        )
