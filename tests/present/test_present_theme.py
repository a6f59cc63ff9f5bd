"""Contrast of every colour against the ground it is drawn on."""

from __future__ import annotations

from dataclasses import fields

import pytest

from console.present.theme import DARK, LIGHT, Theme

TEXTS = ("text", "text_quiet", "caution", "warning", "stale")
TRACES = ("trace_a", "trace_b", "trace_c", "plan", "band_edge", "bar", "focus")
GROUNDS = ("ground", "panel", "band", "bar_ground")
DECORATION = ("hairline",)
"""Parts nothing: what it sets apart has room between, and a ring in ``focus`` where it matters."""


def luminance(colour: str) -> float:
    """Give the relative luminance (WCAG 2.2, "relative luminance")."""
    total = 0.0
    for part, weight in zip((1, 3, 5), (0.2126, 0.7152, 0.0722), strict=True):
        c = int(colour[part : part + 2], 16) / 255.0
        total += weight * (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4)
    return total


def contrast(a: str, b: str) -> float:
    """Give the contrast ratio (WCAG 2.2, "contrast ratio")."""
    high, low = sorted((luminance(a), luminance(b)), reverse=True)
    return (high + 0.05) / (low + 0.05)


def test_the_arithmetic_gives_published_ratios() -> None:
    """Black on white is 21; #767676 on white is 4.54 (a well-known boundary case)."""
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)
    assert contrast("#767676", "#ffffff") == pytest.approx(4.54, abs=0.01)
    assert contrast("#56B4E9", "#1E1E1E") == pytest.approx(7.22, abs=0.01)


def test_every_colour_has_its_place_here() -> None:
    """A new colour of the theme cannot go unmeasured."""
    placed = {"name", *TEXTS, *TRACES, *GROUNDS, *DECORATION}
    assert {field.name for field in fields(Theme)} == placed


@pytest.mark.parametrize("theme", [DARK, LIGHT], ids=lambda t: t.name)
@pytest.mark.parametrize("name", TEXTS)
def test_text_has_at_least_four_and_a_half_to_one(theme: Theme, name: str) -> None:
    """WCAG 2.2 success criterion 1.4.3, on panel, window ground and the lanes' band."""
    for ground in (theme.panel, theme.ground, theme.band):
        assert contrast(getattr(theme, name), ground) >= 4.5, ground


@pytest.mark.parametrize("theme", [DARK, LIGHT], ids=lambda t: t.name)
def test_most_text_reaches_six_to_one(theme: Theme) -> None:
    """What is read first is aimed higher than the bound."""
    assert contrast(theme.text, theme.panel) >= 6.0
    assert contrast(theme.text_quiet, theme.panel) >= 6.0
    assert contrast(theme.warning, theme.panel) >= 6.0


@pytest.mark.parametrize("theme", [DARK, LIGHT], ids=lambda t: t.name)
def test_inverted_warnings_are_as_readable(theme: Theme) -> None:
    """An unacknowledged warning's word is in the panel's colour on the warning's."""
    assert contrast(theme.panel, theme.warning) >= 4.5


@pytest.mark.parametrize("theme", [DARK, LIGHT], ids=lambda t: t.name)
@pytest.mark.parametrize("name", TRACES)
def test_traces_have_at_least_three_to_one(theme: Theme, name: str) -> None:
    """WCAG 2.2 success criterion 1.4.11, on panel, window ground and the lanes' band."""
    for ground in (theme.panel, theme.ground, theme.band):
        assert contrast(getattr(theme, name), ground) >= 3.0, ground


@pytest.mark.parametrize("theme", [DARK, LIGHT], ids=lambda t: t.name)
def test_a_margin_bar_stands_out_from_its_ground(theme: Theme) -> None:
    """The filled part against the empty one."""
    assert contrast(theme.bar, theme.bar_ground) >= 3.0


@pytest.mark.parametrize("theme", [DARK, LIGHT], ids=lambda t: t.name)
def test_chosen_rows_are_as_readable(theme: Theme) -> None:
    """A chosen row of a list lies on the hairlines' grey or on the band."""
    for name in ("text", "text_quiet"):
        assert contrast(getattr(theme, name), theme.band) >= 4.5
    assert contrast(theme.text, theme.hairline) >= 4.5
