"""What a screen reader is told of a view, and what of it is missing."""

from __future__ import annotations

from collections.abc import Iterator

from PySide6.QtCore import Qt
from PySide6.QtGui import QAccessible, QAccessibleInterface, QShortcut
from PySide6.QtTest import QTest
from PySide6.QtWidgets import (
    QAbstractButton,
    QAbstractItemView,
    QApplication,
    QComboBox,
    QHeaderView,
    QLineEdit,
    QScrollBar,
    QWidget,
)

from console.window.panels.sheet import KeySheet

Text = QAccessible.Text
NO_ROLES = (QAccessible.Role.NoRole,)


def interface(widget: QWidget) -> QAccessibleInterface:
    """Give what a screen reader asks."""
    found = QAccessible.queryAccessibleInterface(widget)
    assert found is not None, widget
    return found


def controls(view: QWidget) -> Iterator[QWidget]:
    """Give every part of a view that takes the keyboard and is on the screen."""
    for widget in (view, *view.findChildren(QWidget)):
        is_inner = isinstance(widget, QScrollBar | QHeaderView) or _is_of_a_box(widget)
        takes_keys = widget.focusPolicy() & Qt.FocusPolicy.TabFocus
        if widget.isVisibleTo(view.window()) and takes_keys and not is_inner:
            yield widget


def told_keys(view: QWidget) -> set[str]:
    """Give the keys a view's sheet tells, as it spells them."""
    sheet = next(part for part in view.findChildren(KeySheet) if part.isVisibleTo(view))
    return {key for row in sheet._rows for key in row[0].split(" or ")}


def bound_keys(view: QWidget) -> set[str]:
    """Give the keys that do something in a view, those of hidden pages left out."""
    shortcuts = [one for one in view.findChildren(QShortcut) if _is_shown(one)]
    return {one.key().toString() for one in shortcuts}


def reached_by_tab(view: QWidget) -> set[QWidget]:
    """Press Tab until it comes round; give everything that had the keyboard."""
    seen: set[QWidget] = set()
    for _ in range(200):
        here = QApplication.focusWidget()
        assert here is not None
        if here in seen:
            break
        seen.add(here)
        QTest.keyClick(here, Qt.Key.Key_Tab)
    return seen


def faults(view: QWidget) -> list[str]:
    """Name every control without a name, a role, or the value it has."""
    found = []
    for widget in controls(view):
        told = interface(widget)
        name = told.text(Text.Name)
        where = f"{type(widget).__name__} {name!r}"
        if not name.strip():
            found.append(f"{where}: no name")
        if told.role() in NO_ROLES:
            found.append(f"{where}: no role")
        if not told.state().focusable:
            found.append(f"{where}: not told to take the keyboard")
        value = told.text(Text.Value)
        if isinstance(widget, QLineEdit) and value != widget.text():
            found.append(f"{where}: tells {value!r} for {widget.text()!r}")
        if isinstance(widget, QComboBox) and value != widget.currentText():
            found.append(f"{where}: tells {value!r} for {widget.currentText()!r}")
        if _has_rows(widget) and told.childCount() == 0:
            found.append(f"{where}: tells no rows")
        if isinstance(widget, QAbstractButton) and not told.actionInterface():
            found.append(f"{where}: cannot be pressed by a screen reader")
    return found


def _is_shown(shortcut: QShortcut) -> bool:
    owner = shortcut.parent()
    return isinstance(owner, QWidget) and owner.isVisible()


def _has_rows(widget: QWidget) -> bool:
    return isinstance(widget, QAbstractItemView) and widget.model().rowCount() > 0


def _is_of_a_box(widget: QWidget) -> bool:
    """Tell the line inside a list that also takes typing: the list speaks for it."""
    return isinstance(widget.parent(), QComboBox)
