"""One table of figures against their baselines, and the machine they were taken on."""

from __future__ import annotations

import os
import platform
from dataclasses import dataclass
from importlib.metadata import version
from pathlib import Path

LIBRARIES = ("numpy", "pyzmq", "msgspec", "pyqtgraph", "pandas", "pyarrow", "scipy")


@dataclass(frozen=True, slots=True)
class Row:
    """One thing measured.

    Attributes
    ----------
    what : str
    ours, baseline : str
        With units; the baseline says what it is.
    ratio : float
        Or, where there is no ratio, the figure that the goal is about.
    goal : float
    at_most : bool
        False: the ratio is to be at least the goal.
    """

    what: str
    ours: str
    baseline: str
    ratio: float
    goal: float
    at_most: bool = True

    @property
    def is_met(self) -> bool:
        """Whether the goal is reached."""
        return self.ratio <= self.goal if self.at_most else self.ratio >= self.goal

    def cells(self) -> tuple[str, ...]:
        """Give the table's cells."""
        sign = "≤" if self.at_most else "≥"
        met = "yes" if self.is_met else "**no**"
        return (
            self.what, self.ours, self.baseline, f"{self.ratio:.3g}", f"{sign} {self.goal:g}", met,
        )  # fmt: skip


HEAD = ("what", "ours", "baseline", "ratio", "goal", "met")


def markdown(rows: list[Row]) -> str:
    """Give the rows as one table, columns in line."""
    cells = [HEAD, *(row.cells() for row in rows)]
    widths = [max(len(line[i]) for line in cells) for i in range(len(HEAD))]
    lines = [
        "| " + " | ".join(text.ljust(w) for text, w in zip(line, widths, strict=True)) + " |"
        for line in cells
    ]
    rule = "|" + "|".join("-" * (w + 2) for w in widths) + "|"
    return "\n".join([lines[0], rule, *lines[1:]])


def machine() -> str:
    """Name the machine, the load on it, and the versions the figures depend on."""
    info = Path("/proc/cpuinfo")
    text = info.read_text(encoding="utf-8") if info.exists() else ""
    names = [line.split(":", 1)[1].strip() for line in text.splitlines() if "model name" in line]
    cpu = names[0] if names else platform.processor() or platform.machine()
    packages = ", ".join(f"{name} {version(name)}" for name in LIBRARIES)
    load = ", ".join(f"{value:.1f}" for value in os.getloadavg())
    return (
        f"{os.cpu_count()} cores, {cpu}; {platform.system()} {platform.release()}, "
        f"load {load} at the end. Python {platform.python_version()}, "
        f"Qt {version('PySide6-Essentials')}, {packages}."
    )
