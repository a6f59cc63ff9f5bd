"""Figures of a soak: what grew, by how much an hour and how surely, and a picture of it."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

Column = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Slope:
    """Growth an hour with its 95 % interval."""

    per_h: float
    low_per_h: float
    high_per_h: float

    def __str__(self) -> str:
        """Give ``0.12 (-0.05 to 0.29)``."""
        return f"{self.per_h:.2f} ({self.low_per_h:.2f} to {self.high_per_h:.2f})"


def slope_of(t_s: Column, values: Column) -> Slope:
    """Fit a straight line; give its slope an hour.

    Notes
    -----
    Least squares. Neighbouring readings of memory are alike, so the interval is that of as many
    independent readings as the residuals' correlation from one to the next leaves: n (1 - r) /
    (1 + r), Bayley and Hammersley 1946 for a first-order series (from memory).
    """
    from scipy import stats

    hours = t_s / 3600.0
    fit = stats.linregress(hours, values)
    residuals = values - (fit.intercept + fit.slope * hours)
    spread = float(np.dot(residuals, residuals))
    r = float(np.dot(residuals[1:], residuals[:-1]) / spread) if spread > 0.0 else 0.0
    r = min(max(r, 0.0), 0.99)
    count = max(3.0, len(t_s) * (1.0 - r) / (1.0 + r))
    widen = ((len(t_s) - 2.0) / max(count - 2.0, 1.0)) ** 0.5
    half = float(stats.t.ppf(0.975, max(count - 2.0, 1.0)) * fit.stderr * widen)
    return Slope(float(fit.slope), float(fit.slope) - half, float(fit.slope) + half)


def columns_of(path: Path) -> dict[str, Column]:
    """Read a soak's table; a cell that is empty becomes NaN."""
    with path.open(newline="") as file:
        rows = list(csv.DictReader(file))
    return {
        name: np.array([float(row[name] or "nan") for row in rows])
        for name in (rows[0] if rows else ())
    }


def stretch(table: dict[str, Column], from_s: float, until_s: float) -> dict[str, Column]:
    """Give the rows of a stretch of time."""
    kept = (table["past_s"] >= from_s) & (table["past_s"] <= until_s)
    return {name: column[kept] for name, column in table.items()}


def report(path: Path, *, from_s: float, until_s: float, title: str) -> list[str]:
    """Give the lines that sum up a soak between two times."""
    whole = columns_of(path)
    part = stretch(whole, from_s, until_s)
    t_s = part["past_s"]
    hours = (t_s[-1] - t_s[0]) / 3600.0
    last = {name: column[-1] for name, column in whole.items()}
    lines = [f"{title}: {last['past_s']:.0f} s, figures from {from_s:.0f} to {until_s:.0f} s"]
    for name, words in (
        ("rss_mb", "memory, MB an hour"),
        ("beyond_mb", "memory beyond the plots' bounded trail, MB an hour"),
    ):
        lines.append(
            f"{words}: {slope_of(t_s, part[name])}; {part[name][0]:.1f} to {part[name][-1]:.1f} MB"
        )
    lines.append(f"trail: {(part['trail_mb'][-1] - part['trail_mb'][0]) / hours:.2f} MB an hour")
    lines.append(f"file: {(part['file_mb'][-1] - part['file_mb'][0]) / hours:.1f} MB an hour")
    lines.append(
        f"queue: most {np.nanmax(whole['queue']):.0f}; waiting for the disk: most "
        f"{np.nanmax(whole['waiting']):.0f}; overflowed {last['overflowed']:.0f}"
    )
    lines.append(
        f"fed {last['fed']:.0f}, judged {last['judged']:.0f}, rejected {last['rejected']:.0f}, "
        f"lost {last['lost']:.0f}, events {last['events']:.0f}"
    )
    for name, words in (("shown", "sent to snapshot"), ("painted", "sent to painted")):
        if np.isfinite(part[f"{name}_p50_ms"]).any():
            middle, high = (np.nanmedian(part[f"{name}_{which}_ms"]) for which in ("p50", "p95"))
            worst = np.nanmax(part[f"{name}_max_ms"])
            lines.append(f"{words}, ms: median {middle:.0f}, 95 % {high:.0f}, worst {worst:.0f}")
    return lines


def draw(path: Path, picture: Path, *, from_s: float, until_s: float, title: str) -> None:
    """Draw memory, file, queue and delays over time, as an SVG of a few kB."""
    import matplotlib as mpl

    mpl.use("svg")
    from matplotlib import pyplot as plt

    mpl.rcParams.update({"svg.fonttype": "none", "path.simplify_threshold": 1.0, "font.size": 8})
    table = columns_of(path)
    step = max(1, len(table["past_s"]) // 150)
    minutes = table["past_s"][::step] / 60.0
    parts = [
        ("memory, MB", ("rss_mb", "beyond_mb")),
        ("recording, MB", ("file_mb", "wal_mb")),
        ("queue, frames", ("queue", "waiting")),
    ]
    if np.isfinite(table["painted_p95_ms"]).any():
        parts.append(("sent to painted, ms", ("painted_p50_ms", "painted_p95_ms")))
    figure, axes = plt.subplots(len(parts), 1, sharex=True, figsize=(7, 1.3 * len(parts)))
    for axis, (label, names) in zip(axes, parts, strict=True):
        for name, style in zip(names, ("-", "--"), strict=False):
            axis.plot(
                minutes, np.round(table[name][::step], 2), style, color="0.2", lw=0.8, label=name
            )
        axis.axvspan(from_s / 60.0, until_s / 60.0, color="0.93", lw=0.0)
        axis.set_ylabel(label)
        axis.set_ylim(bottom=0.0)
        axis.legend(loc="lower right", frameon=False)
    axes[0].set_title(title)
    axes[-1].set_xlabel("minutes; the shaded stretch is the one fitted")
    figure.tight_layout()
    figure.savefig(picture, metadata={"Date": None})
    plt.close(figure)
