"""Paper and pen of the figures: a place on a page, axes in inches, the square-root range axis.

Lines differ by their breaks and markers, areas by their hatching; colour stands only beside a
shape or a word, so that a grey print says the same.
"""

from __future__ import annotations

import math
import warnings
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from console.present.plot_axis import decimals_of, tick_step
from console.present.text import number
from console.present.theme import Theme

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

Series = NDArray[np.float64]

PAPER = Theme(
    name="paper",
    ground="#ffffff",
    panel="#ffffff",
    hairline="#9a9a9a",
    text="#111111",
    text_quiet="#4a4a4a",
    band="#e9e9e9",
    band_edge="#555555",
    plan="#555555",
    trace_a="#111111",
    trace_b="#333333",
    trace_c="#555555",
    bar="#555555",
    bar_ground="#e9e9e9",
    caution="#5f3d00",
    warning="#8a1500",
    stale="#777777",
    focus="#111111",
)
"""Dark ink on white: what a black-and-white printer gives back."""

SMALL_PT = 7.0
BODY_PT = 8.0
TRACE_PT = 1.1
BROKEN = ((0, ()), (0, (5, 1.6)), (0, (1.2, 1.2)))
"""Breaks of the first, second and third trace of a lane."""
SHAPES = ("o", "D", "^")
LIMIT_HATCH = "////"
GAP_HATCH = "xxxx"
RANGE_TICKS_M = (
    1000, 500, 300, 200, 150, 100, 70, 50, 40, 30, 20, 15, 10, 7, 5, 4, 3, 2, 1, 0.5, 0.2, 0,
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Canvas:
    """A rectangle of a page that a figure is drawn in, inches from the page's lower left."""

    page: Figure
    left: float
    bottom: float
    width: float
    height: float
    theme: Theme

    def axes(self, left: float, bottom: float, width: float, height: float) -> Axes:
        """Give axes at a place within the canvas, inches from its lower left."""
        wide, high = (float(size) for size in self.page.get_size_inches())
        x, y = self.left + left, self.bottom + bottom
        axes = self.page.add_axes((x / wide, y / high, width / wide, height / high))
        dress(axes, self.theme)
        return axes

    def words(
        self,
        x: float,
        y: float,
        words: str,
        *,
        size: float = SMALL_PT,
        color: str | None = None,
        weight: str = "normal",
        ha: str = "left",
    ) -> None:
        """Write at a place within the canvas, inches from its lower left."""
        wide, high = (float(inches) for inches in self.page.get_size_inches())
        self.page.text(
            (self.left + x) / wide, (self.bottom + y) / high, words, size=size, weight=weight,
            ha=ha, color=color or self.theme.text,
        )  # fmt: skip


def dress(axes: Axes, theme: Theme) -> None:
    """Give axes thin lines, small figures, and the theme's colours."""
    axes.set_facecolor(theme.panel)
    for side, spine in axes.spines.items():
        spine.set_visible(side in ("left", "bottom"))
        spine.set_color(theme.hairline)
        spine.set_linewidth(0.6)
    axes.tick_params(
        labelsize=SMALL_PT, length=2.5, width=0.6, color=theme.hairline,
        labelcolor=theme.text_quiet,
    )  # fmt: skip
    axes.grid(visible=True, color=theme.bar_ground, linewidth=0.5)
    axes.set_axisbelow(True)


@contextmanager
def pens() -> Iterator[None]:
    """Set what matplotlib shares between figures: one face, no clutter, nothing random."""
    import matplotlib as mpl

    settings: Any = {
        "font.family": ["DejaVu Sans"],
        "axes.unicode_minus": True,
        "hatch.linewidth": 0.5,
        "svg.hashsalt": "leadmark",
        "svg.fonttype": "path",
        "pdf.fonttype": 42,
        "path.simplify": True,
        "text.parse_math": False,  # a dollar sign in a title is a dollar sign
    }
    with mpl.rc_context(settings), warnings.catch_warnings():
        # a script the face does not have is set as empty boxes: nobody's fault, and no news
        warnings.filterwarnings("ignore", message="Glyph .* missing from font")
        yield


def root(ranges_m: Series | Sequence[float]) -> Series:
    """Give where ranges stand on the square-root axis, contact at 0 and range to the left."""
    ranges = np.asarray(ranges_m, np.float64)
    return -np.copysign(np.sqrt(np.abs(ranges)), ranges)


def range_axis(
    axes: Axes, outer_m: float, *, with_words: bool = True, apart: float = 0.05
) -> None:
    """Make the lower axis one of range up to ``outer_m``; ``apart`` is the ticks' least share."""
    wide = float(np.sqrt(outer_m))
    axes.set_xlim(-wide * 1.01, wide * 0.03)
    chosen: list[float] = []
    for tick in sorted(RANGE_TICKS_M):
        place = float(np.sqrt(tick))
        if place <= wide and (not chosen or place - float(np.sqrt(chosen[-1])) >= apart * wide):
            chosen.append(tick)
    axes.set_xticks(root(chosen).tolist())
    axes.set_xticklabels([f"{tick:g}" for tick in chosen] if with_words else [])


def value_ticks(axes: Axes, most: int = 5) -> None:
    """Put round figures on the upright axis, written as the window writes them."""
    low, high = axes.get_ylim()
    step = tick_step(high - low, most)
    ticks = [i * step for i in range(math.ceil(low / step), math.floor(high / step) + 1)]
    decimals = decimals_of(step)
    axes.set_yticks(ticks)
    axes.set_yticklabels([number(tick, decimals) for tick in ticks])
    axes.set_ylim(low, high)


def with_gaps(t: Series, values: Series, longest_s: float) -> Series:
    """Break a line where the time between two rows is longer than so much, or goes back as far."""
    if t.size < 2:
        return values
    broken = values.copy()
    steps = np.abs(np.diff(t))
    usual = max(longest_s, 2.5 * float(np.median(steps)))
    broken[1:][steps > usual] = np.nan
    return broken
