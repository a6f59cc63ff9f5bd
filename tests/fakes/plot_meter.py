"""A font that is as wide as it says, and questions every plot's layout must answer well."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from console.present.plot_scene import Box, Label


@dataclass(frozen=True, slots=True)
class FakeMeter:
    """Every letter takes the same width, about that of the bundled face."""

    unit: float = 1.0

    @property
    def height(self) -> float:
        """Height of a line, px."""
        return 15.0 * self.unit

    def width(self, text: str, *, bold: bool = False) -> float:
        """Width of a text, px."""
        return len(text) * (7.5 if bold else 6.8) * self.unit


def overlapping(labels: Iterable[Label]) -> list[tuple[str, str]]:
    """Give pairs of texts that lie on each other; the same text renewed in its place is none."""
    known = [label for label in labels if label.text]
    pairs = []
    for i, one in enumerate(known):
        for other in known[i + 1 :]:
            same = one.text == other.text and one.box == other.box
            if not same and one.box.grown(-0.6).overlaps(other.box.grown(-0.6)):
                pairs.append((one.text, other.text))
    return pairs


def outside(labels: Iterable[Label], width: float, height: float) -> list[str]:
    """Give texts that leave a widget of a size."""
    whole = Box(0.0, 0.0, width, height).grown(0.6)
    return [label.text for label in labels if label.text and not label.box.inside(whole)]
