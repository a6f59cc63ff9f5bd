"""A theme's colours as Qt's palette; the Fusion style draws the few standard controls with it.

The platform's own dark switch is not asked: it does nothing on several platforms, a palette of
our own works on all.
"""

from __future__ import annotations

from PySide6.QtGui import QColor, QPalette
from PySide6.QtWidgets import QApplication

from console.present.theme import DARK, LIGHT, Theme

THEMES: tuple[Theme, ...] = (DARK, LIGHT)
"""In the order the theme key steps through."""


def next_theme(theme: Theme) -> Theme:
    """Give the theme after this one."""
    return THEMES[(THEMES.index(theme) + 1) % len(THEMES)]


def palette_of(theme: Theme) -> QPalette:
    """Give Qt's palette in a theme's colours."""
    roles = {
        QPalette.ColorRole.Window: theme.ground,
        QPalette.ColorRole.WindowText: theme.text,
        QPalette.ColorRole.Base: theme.panel,
        QPalette.ColorRole.AlternateBase: theme.band,
        QPalette.ColorRole.Text: theme.text,
        QPalette.ColorRole.PlaceholderText: theme.text_quiet,
        QPalette.ColorRole.Button: theme.panel,
        QPalette.ColorRole.ButtonText: theme.text,
        QPalette.ColorRole.BrightText: theme.warning,
        QPalette.ColorRole.Highlight: theme.hairline,
        QPalette.ColorRole.HighlightedText: theme.text,
        QPalette.ColorRole.ToolTipBase: theme.panel,
        QPalette.ColorRole.ToolTipText: theme.text,
        QPalette.ColorRole.Light: theme.hairline,
        QPalette.ColorRole.Midlight: theme.hairline,
        QPalette.ColorRole.Mid: theme.hairline,
        QPalette.ColorRole.Dark: theme.hairline,
        QPalette.ColorRole.Shadow: theme.ground,
        QPalette.ColorRole.Link: theme.focus,
    }
    palette = QPalette()
    for role, colour in roles.items():
        palette.setColor(role, QColor(colour))
    for role in (QPalette.ColorRole.Text, QPalette.ColorRole.ButtonText):
        palette.setColor(QPalette.ColorGroup.Disabled, role, QColor(theme.text_quiet))
    return palette


def dress(app: QApplication, theme: Theme) -> None:
    """Give the application a theme's palette and the style that honours it."""
    if app.style().objectName() != "fusion":
        app.setStyle("Fusion")
    app.setPalette(palette_of(theme))
