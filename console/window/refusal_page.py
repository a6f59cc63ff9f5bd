"""What stands in a view's place when the view cannot be made: the one line that says why."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QLabel

from console.present.theme import Theme
from console.window.fonts import Face, Faces


class RefusalPage(QLabel):
    """One line, with what is wrong and how to mend it."""

    def __init__(self, title: str, refusal: str) -> None:
        super().__init__(refusal)
        self.title = title
        self.setWordWrap(True)
        self.setAlignment(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignTop)
        self.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByKeyboard)
        self.setAccessibleName(f"{title} cannot be shown")
        self.setAccessibleDescription(refusal)

    def apply_theme(self, theme: Theme, scale: float) -> None:
        """Take other colours or another text size."""
        del theme
        faces = Faces(scale)
        self.setFont(faces.font(Face.BODY))
        self.setMargin(round(faces.em))
