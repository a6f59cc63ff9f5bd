"""The one blink there is: 2 Hz, half duty, only while an unacknowledged warning waits.

2 Hz with half duty keeps within NUREG-0700 Rev. 2 1.3.10-12 (0.8 to 5 Hz, 50 % duty preferred)
and under WCAG 2.2 success criterion 2.3.1 (at most three flashes a second).
"""

from __future__ import annotations

from PySide6.QtCore import QObject, QTimer, Signal

HALF_PERIOD_MS = 250


class Blinker(QObject):
    """Switches between lit and unlit; stands lit when nothing may blink."""

    lit_changed = Signal(bool)

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.is_lit = True
        self.is_steady = False
        self._is_wanted = False
        self._timer = QTimer(self)
        self._timer.setInterval(HALF_PERIOD_MS)
        self._timer.timeout.connect(self.flip)

    @property
    def is_running(self) -> bool:
        """Whether it blinks now."""
        return self._timer.isActive()

    def want(self, is_wanted: bool) -> None:
        """Tell whether an unacknowledged warning waits."""
        if is_wanted != self._is_wanted:
            self._is_wanted = is_wanted
            self._follow()

    def set_steady(self, is_steady: bool) -> None:
        """Forbid or allow blinking."""
        self.is_steady = is_steady
        self._follow()

    def flip(self) -> None:
        """Change between lit and unlit."""
        self._set_lit(not self.is_lit)

    def _follow(self) -> None:
        if self._is_wanted and not self.is_steady:
            self._timer.start()
        else:
            self._timer.stop()
            self._set_lit(True)

    def _set_lit(self, is_lit: bool) -> None:
        if is_lit != self.is_lit:
            self.is_lit = is_lit
            self.lit_changed.emit(is_lit)
