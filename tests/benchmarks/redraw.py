"""Redraw of all plots with a long trail against empty ones, in one run, without a screen.

Arguments: numbers of rows of the trail; without any, four hours at 10 Hz.

Prints, for the lanes, the port plane, the time strip and the capture plots together, the median
milliseconds of CPU of a frame (hand over, lay out, paint) and the ratio to the same with no trail:

- *next frame*: one more sample came since the last frame; the trace is added to the plate;
- *drawn anew*: the whole plate is made again, as when an axis steps.

Goal: at most 2 for the next frame at four hours of 10 Hz. The count of references to None is
taken round a hundred paints, since a binding that loses them ends the process.
"""

from __future__ import annotations

import math
import os
import sys
import time
from pathlib import Path
from statistics import median

from tests.fakes.changed import replace

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
sys.path.insert(0, str(Path(__file__).parents[1]))

from fakes.captures import hooking, status_after
from fakes.snapshots import LIMITS, T_CONTACT, nominal
from PySide6.QtWidgets import QApplication

from console.approach.snapshot import Snapshot
from console.present.trail import Trail
from console.window.fonts import load_fonts
from console.window.plots.canvas import PlotCanvas
from console.window.plots.capture import CapturePlot
from console.window.plots.lanes import LanesPlot
from console.window.plots.port_plane import PortPlanePlot
from console.window.plots.time_strip import TimeStripPlot

SIZES = {
    LanesPlot: (850, 670),
    PortPlanePlot: (366, 398),
    TimeStripPlot: (1580, 95),
    CapturePlot: (850, 670),
}
FRAMES = 60
FOUR_HOURS = 144_000
HZ = 10.0


def long_trail(rows: int, end_t: float) -> Trail:
    """Give a trail: most of it a hold at 20 m with noise, the last minutes the way in to 5.1 m."""
    trail = Trail()
    way_in = min(1700, rows)
    for i in range(rows):
        k = i - (rows - way_in)
        range_m = 20.0 if k < 0 else 20.0 - 14.9 * k / way_in
        is_held = k < 0
        noise = math.sin(i * 12.9898) * 43758.5453 % 1.0 - 0.5
        wave = math.sin(i * 78.233) * 12543.1234 % 1.0 - 0.5
        trail.append(
            end_t - (rows - i) / HZ, range_m + 0.06 * noise,
            0.0 if is_held else 0.088 + 0.006 * wave,
            0.02 + 0.01 * wave, -0.02 + 0.01 * noise, 0.5 * math.sin(i / 90) + 0.1 * noise,
            0.4 * math.cos(i / 70) + 0.1 * wave, 0.2 * noise, False,
        )  # fmt: skip
    for i in range(min(rows, FOUR_HOURS)):
        after_s = i * 460.0 / min(rows, FOUR_HOURS)
        s = status_after(after_s)
        trail.append_capture(
            T_CONTACT + after_s, s.rel_rate_mps, s.rel_rate_dps, s.ring_extension, s.hooks,
            s.vestibule_kpa, s.vestibule_degc,
        )  # fmt: skip
    return trail


def make_plots() -> list[tuple[PlotCanvas, Snapshot]]:
    """Give the four plots, each with the snapshot it is to show."""
    plots: list[tuple[PlotCanvas, Snapshot]] = []
    for kind, size in SIZES.items():
        plot = kind()
        plot.set_limits(LIMITS)
        plot.resize(*size)
        plot.show()
        plots.append((plot, hooking() if kind is CapturePlot else nominal()))
    return plots


def frame_ms(plots: list[tuple[PlotCanvas, Snapshot]], trail: Trail, *, anew: bool) -> float:
    """Give the milliseconds of one frame of all plots."""
    start = time.process_time()
    for plot, snapshot in plots:
        if anew:
            plot._plate_key = None
        plot.show_snapshot(replace(snapshot), trail)
        plot.repaint()
    return (time.process_time() - start) * 1e3


def median_frame_ms(
    plots: list[tuple[PlotCanvas, Snapshot]], trail: Trail, *, anew: bool
) -> float:
    """Give the median frame, one sample added before each where the trail has any."""
    grows = trail.count > 0
    t = nominal().t
    frame_ms(plots, trail, anew=True)
    took = []
    for i in range(FRAMES):
        if grows:
            trail.append(t + i / HZ, 5.1, 0.083, 0.023, -0.017, -0.35, -0.38, 0.29, False)
        took.append(frame_ms(plots, trail, anew=anew))
    return median(took)


def next_frames_ms(rows: int) -> tuple[float, float]:
    """Give the median next frame of all plots, ms: empty, and with so many rows in their trail."""
    app = QApplication.instance() or QApplication([])
    load_fonts()
    plots = make_plots()
    app.processEvents()
    empty = median_frame_ms(plots, Trail(), anew=False)
    full = median_frame_ms(plots, long_trail(rows, nominal().t), anew=False)
    for plot, _ in plots:
        plot.close()
    return empty, full


def none_references_lost(plots: list[tuple[PlotCanvas, Snapshot]], trail: Trail) -> int:
    """Give how many references to None a hundred paints lose."""
    frame_ms(plots, trail, anew=False)
    before = sys.getrefcount(None)
    for _ in range(100):
        frame_ms(plots, trail, anew=False)
    return before - sys.getrefcount(None)


def say(line: str) -> None:
    """Write a line of the result."""
    sys.stdout.write(line + "\n")


def main() -> int:
    """Measure and print; 1 where the goal is missed."""
    app = QApplication.instance() or QApplication([])
    load_fonts()
    rows = [int(n) for n in sys.argv[1:]] or [FOUR_HOURS]
    plots = make_plots()
    app.processEvents()
    empty = {anew: median_frame_ms(plots, Trail(), anew=anew) for anew in (False, True)}
    say(f"empty: next frame {empty[False]:.2f} ms, drawn anew {empty[True]:.2f} ms")
    worst = 0.0
    for count in rows:
        trail = long_trail(count, nominal().t)
        for anew, name in ((False, "next frame"), (True, "drawn anew")):
            took = median_frame_ms(plots, trail, anew=anew)
            ratio = took / empty[anew]
            say(f"{count} rows: {name} {took:.2f} ms, {ratio:.2f} x empty")
            worst = worst if anew else max(worst, ratio)
        for plot, snapshot in plots:
            alone = [(plot, snapshot)]
            parts = [median_frame_ms(alone, trail, anew=anew) for anew in (False, True)]
            say(f"    {type(plot).__name__}: {parts[0]:.2f} ms, anew {parts[1]:.2f} ms")
        say(f"    references to None lost in 100 paints: {none_references_lost(plots, trail)}")
    for plot, _ in plots:
        plot.close()
    return 0 if worst <= 2.0 else 1


if __name__ == "__main__":
    raise SystemExit(main())
