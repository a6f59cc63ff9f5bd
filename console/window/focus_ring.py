"""What every painted part shares: it is drawn anew when the keyboard comes to it or leaves it."""

from __future__ import annotations

from PySide6.QtGui import QFocusEvent
from PySide6.QtWidgets import QWidget


class FocusRing(QWidget):
    """A part that paints a ring while it has the keyboard."""

    def focusInEvent(self, event: QFocusEvent) -> None:
        """Show the ring."""
        super().focusInEvent(event)
        self.update()

    def focusOutEvent(self, event: QFocusEvent) -> None:
        """Take the ring away."""
        super().focusOutEvent(event)
        self.update()
