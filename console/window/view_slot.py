"""A place among the tabs whose view is built when it is first looked at, and may be exchanged."""

from __future__ import annotations

from collections.abc import Callable
from typing import Protocol, runtime_checkable

from PySide6.QtGui import QCloseEvent, QShowEvent
from PySide6.QtWidgets import QVBoxLayout, QWidget

from console.present.theme import DARK, Theme


class View(Protocol):
    """What the window asks of a view's widget."""

    title: str

    def apply_theme(self, theme: Theme, scale: float) -> None:
        """Take other colours or another text size."""
        ...


@runtime_checkable
class KeepsWork(Protocol):
    """A view with work of the user's that closing would lose."""

    def unsaved(self) -> str:
        """Say in a few words what is not saved; '' where everything is."""
        ...


class ViewSlot(QWidget):
    """Holds one view.

    Building waits for the first look: a watch must not wait for what nobody opened yet.

    Parameters
    ----------
    title : str
        Of its tab.
    make : callable
        Gives the view's widget, which is also a :class:`View`.
    """

    def __init__(self, title: str, make: Callable[[], QWidget]) -> None:
        super().__init__()
        self.title = title
        self._make: Callable[[], QWidget] | None = make
        self._view: QWidget | None = None
        self._look: tuple[Theme, float] = (DARK, 1.0)
        self._room = QVBoxLayout(self)
        self._room.setContentsMargins(0, 0, 0, 0)

    @property
    def view(self) -> QWidget | None:
        """The view's widget; None while it has not been looked at."""
        return self._view

    def fill(self, make: Callable[[], QWidget]) -> None:
        """Hold another view from now on; the present one is closed."""
        self._empty()
        self._make = make
        if self.isVisible():
            self._build()

    def unsaved(self) -> str:
        """Say what closing the view would lose; '' where nothing."""
        return unsaved_in(self._view)

    def apply_theme(self, theme: Theme, scale: float) -> None:
        """Take other colours or another text size, now and for a view still to be built."""
        self._look = (theme, scale)
        if self._view is not None:
            as_view(self._view).apply_theme(theme, scale)

    def showEvent(self, event: QShowEvent) -> None:
        """Build the view at the first look."""
        super().showEvent(event)
        self._build()

    def closeEvent(self, event: QCloseEvent) -> None:
        """Close the view; a view never looked at is not built any more."""
        self._make = None
        self._empty()
        super().closeEvent(event)

    def _build(self) -> None:
        if self._make is None:
            return
        make, self._make = self._make, None
        self._view = make()
        as_view(self._view).apply_theme(*self._look)
        self._room.addWidget(self._view)
        self.setFocusProxy(self._view)
        self._view.setFocus()

    def _empty(self) -> None:
        if self._view is None:
            return
        self.setFocusProxy(None)  # type: ignore[arg-type]  # Qt: none at all
        self._view.close()
        self._room.removeWidget(self._view)
        self._view.deleteLater()
        self._view = None


def unsaved_in(widget: object) -> str:
    """Say what closing a widget would lose; '' where nothing, or where it keeps no work."""
    return widget.unsaved() if isinstance(widget, KeepsWork) else ""


def as_view(widget: QWidget) -> View:
    """Give a widget as the view it also is."""
    return widget  # type: ignore[return-value]
