"""Frames a second while a point is dragged: ``python -m tests.benchmarks.bench_drag [PASSES]``.

The real view, offscreen, at 1600x900: each frame is a mouse move on a handle, the draft judged
where it is quick and in the worker else, everything repainted. Prints the median and slow frames,
how many of them showed the before and after of their own move, and the processor's time for all
of it, worker included: what a frame costs on a machine that does nothing else.
"""

from __future__ import annotations

import sys
import time
from statistics import quantiles

from PySide6.QtCore import QEvent, QPointF, Qt
from PySide6.QtGui import QMouseEvent
from PySide6.QtWidgets import QApplication

from console.present.bench_curve import points_px
from console.window.bench_view import BenchView
from console.window.plots.bench_curve import CurvePlot
from tests.benchmarks.bench_pictures import SIZES, bench_window, wait

MOVES = 150
REACH_PX = (12.0, 30.0, 60.0)
"""How far down: into the outliers, into the upper traces, through all of them."""


def send(plot: CurvePlot, kind: QEvent.Type, place: QPointF) -> None:
    """Hand the plot a mouse event."""
    held = (
        Qt.MouseButton.NoButton
        if kind is QEvent.Type.MouseButtonRelease
        else Qt.MouseButton.LeftButton
    )
    QApplication.sendEvent(
        plot,
        QMouseEvent(
            kind, place, plot.mapToGlobal(place), Qt.MouseButton.LeftButton, held,
            Qt.KeyboardModifier.NoModifier,
        ),
    )  # fmt: skip


def dragged(view: BenchView, reach_px: float) -> str:
    """Drag the second point down and up again; give the figures in words."""
    frame = view.curve.layout_now
    assert frame is not None
    x, y = points_px(frame, view.draft.limit.curve)[1]
    send(view.curve, QEvent.Type.MouseButtonPress, QPointF(x, y))
    frames, costs, fresh, raised = [], [], 0, 0
    for move in range(MOVES):
        down = reach_px * (0.5 - abs(move / MOVES - 0.5)) * 2.0
        begin, spent = time.perf_counter(), time.process_time()
        send(view.curve, QEvent.Type.MouseMove, QPointF(x, y + down))
        view.tick()
        QApplication.processEvents()
        frames.append(time.perf_counter() - begin)
        costs.append(time.process_time() - spent)
        answer = view.answer
        fresh += answer is not None and answer.question == view.asked
        raised = max(raised, 0 if answer is None else answer.comparison.after.warned.count)
    send(view.curve, QEvent.Type.MouseButtonRelease, QPointF(x, y))
    return (
        f"{MOVES} moves, up to {raised} passes beyond the limits: frame median {told(frames)}, "
        f"95th percentile {told(frames, 19)}; processor median {told(costs)}, 95th percentile "
        f"{told(costs, 19)}; {fresh} frames showed the figures of their own move"
    )


def told(times: list[float], twentieth: int = 10) -> str:
    """Word a time and what it makes a second."""
    value = quantiles(times, n=20)[twentieth - 1]
    return f"{value * 1e3:.1f} ms ({1.0 / value:.0f} a second)"


def main() -> int:
    """Drag and print."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 300
    window, view = bench_window(count)
    window.resize(*SIZES["1600"])
    window.show()
    wait(view)
    QApplication.processEvents()
    for reach_px in REACH_PX:
        print(f"{count} passes, {reach_px:.0f} px: {dragged(view, reach_px)}")
        wait(view)
    window.close()
    return 0


if __name__ == "__main__":
    sys.exit(main())
