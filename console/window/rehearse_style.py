"""Edges and grounds of the Rehearse view's standard controls, seen in either theme."""

from __future__ import annotations

from console.present.theme import Theme


def field_style(theme: Theme) -> str:
    """Give a typed field an edge that is seen on either ground."""
    return (
        f"QLineEdit {{ background: {theme.panel}; color: {theme.text}; padding: 2px 4px; "
        f"placeholder-text-color: {theme.text_quiet}; "
        f"border: 1px solid {theme.band_edge}; }}"
        f"QLineEdit:focus {{ border: 2px solid {theme.focus}; padding: 1px 3px; }}"
    )


def choice_style(theme: Theme) -> str:
    """Give a list to choose from the same edge."""
    return (
        f"QComboBox {{ border: 1px solid {theme.band_edge}; padding: 2px 4px; }}"
        f"QComboBox:focus {{ border: 2px solid {theme.focus}; padding: 1px 3px; }}"
    )


def tick_style(theme: Theme, side_px: int) -> str:
    """Give a box an edge that is seen on either ground; ticked, it is filled."""
    return (
        f"QCheckBox {{ color: {theme.text}; }}"
        f"QCheckBox:focus {{ color: {theme.focus}; text-decoration: underline; }}"
        f"QCheckBox::indicator {{ width: {side_px}px; height: {side_px}px; "
        f"border: 1px solid {theme.band_edge}; background: {theme.panel}; }}"
        f"QCheckBox::indicator:checked {{ background: {theme.text}; "
        f"border: 1px solid {theme.text}; }}"
    )


def table_style(theme: Theme) -> str:
    """Give the colours of a table: quiet, without a grid."""
    return (
        f"QTableWidget {{ background: {theme.panel}; color: {theme.text}; "
        f"border: 1px solid {theme.hairline}; gridline-color: {theme.hairline}; "
        f"selection-background-color: {theme.band}; selection-color: {theme.text}; }}"
        f"QTableWidget:focus {{ border: 2px solid {theme.focus}; }}"
        f"QHeaderView::section {{ background: {theme.panel}; color: {theme.text_quiet}; "
        f"border: none; border-bottom: 1px solid {theme.hairline}; padding: 3px 6px; }}"
        f"QHeaderView {{ background: {theme.panel}; }}"
    )
