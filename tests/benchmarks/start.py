"""How soon a window stands: from the start of the process to the first painting and first sample.

``python -m tests.benchmarks.start [REPEATS]`` prints medians of the wall time of whole processes,
without a screen: the bare interpreter, the imports of Qt's widgets and of pyqtgraph alone (the
baselines), ``leadmark --help``, the window's shell with no view built, and ``leadmark watch``
until its plots are painted and until they show a sample of a publisher that sends 50 a second.
"""

from __future__ import annotations

import os
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from tests.benchmarks.latency import end, line_of, say

REPEATS = 7
HELP_GOAL_S = 0.15
SHELL = """
import sys, time
from PySide6.QtWidgets import QWidget
from console.window.application import application
from console.window.main_window import MainWindow

class View(QWidget):
    title = "Watch"
    def apply_theme(self, theme, scale):
        pass

class Shell(MainWindow):
    def paintEvent(self, event):
        super().paintEvent(event)
        print(time.time(), flush=True)
        app.quit()

app = application()
shell = Shell((View(),), title="Leadmark")
shell.show()
app.exec()
"""
WATCH = """
import sys, time
from console.cli import main

def look():
    from PySide6.QtCore import QTimer
    from console.window.main_window import MainWindow
    from console.window.plots.lanes import LanesPlot
    # the screen without a screen is so small that the plots would lie out of sight
    MainWindow.show_within = lambda window, room: window.show()
    paint, said = LanesPlot.paintEvent, []
    def painted(plot, event):
        paint(plot, event)
        has_sample = plot._snapshot is not None and plot._snapshot.measured is not None
        while len(said) < 1 + has_sample:
            said.append(time.time())
            print(said[-1], flush=True)
        if has_sample:  # not at once: the loop that ends with the window may not run yet
            QTimer.singleShot(0, plot.window().close)
    LanesPlot.paintEvent = painted

import console.app.watching as watching
begin = watching.watch_in_window
def watch_in_window(*given, **more):
    import console.app.desk_build
    look()
    return begin(*given, **more)
watching.watch_in_window = watch_in_window
main(["watch", sys.argv[1]])
"""


def wall_s(*words: str, env: dict[str, str]) -> float:
    """Give the wall time of a whole Python process, s."""
    begin_s = time.perf_counter()
    subprocess.run([sys.executable, *words], env=env, check=True, stdout=subprocess.DEVNULL)
    return time.perf_counter() - begin_s


def told_s(*words: str, env: dict[str, str]) -> list[float]:
    """Give the times, s after its start, at which a process wrote lines that are times."""
    begin_s = time.time()
    done = subprocess.run(
        [sys.executable, *words], env=env, check=True, capture_output=True, text=True
    )
    times = [line for line in done.stdout.splitlines() if line.replace(".", "").isdigit()]
    return [float(line) - begin_s for line in times]


def measured(repeats: int) -> dict[str, float]:
    """Give the median times, s; the programs in turn, so that all see the same load."""
    folder = Path(tempfile.mkdtemp(prefix="leadmark-start-"))
    env = os.environ | {"QT_QPA_PLATFORM": "offscreen", "LEADMARK_DATA": str(folder)}
    publisher = end("publish", "50", str(60 + 30 * repeats), "0", str(folder / "sent"), env=env)
    found: dict[str, list[float]] = {}
    try:
        endpoint = line_of(publisher)
        for count in range(repeats if repeats < 2 else repeats + 1):
            one = {
                "python": wall_s("-c", "pass", env=env),
                "qt": wall_s("-c", "import PySide6.QtWidgets", env=env),
                "pyqtgraph": wall_s("-c", "import pyqtgraph", env=env),
                "help": wall_s("-m", "console", "--help", env=env),
                "shell": told_s("-c", SHELL, env=env)[0],
            }
            if count == 0:
                publisher_goes_on(publisher, endpoint)
            one["watch"], one["sample"] = told_s("-c", WATCH, endpoint, env=env)
            if count or repeats < 2:  # the first of many only warms the caches
                for name, took_s in one.items():
                    found.setdefault(name, []).append(took_s)
    finally:
        publisher.kill()
        publisher.wait()
        shutil.rmtree(folder)
    return {name: statistics.median(times) for name, times in found.items()}


def publisher_goes_on(publisher: subprocess.Popen[str], endpoint: str) -> None:
    """Subscribe for a moment, which is what the publisher waits for, and let it begin."""
    import zmq

    with zmq.Context() as context, context.socket(zmq.SUB) as socket:
        socket.subscribe(b"")
        socket.connect(endpoint)
        say(publisher)
        line_of(publisher, "begun")


def main(repeats: int) -> None:
    """Measure and print."""
    took = measured(repeats)
    for name, base in (
        ("python", None), ("qt", None), ("pyqtgraph", None), ("help", "python"),
        ("shell", "qt"), ("watch", "pyqtgraph"), ("sample", "pyqtgraph"),
    ):  # fmt: skip
        ratio = "" if base is None else f"{took[name] / took[base]:6.2f} x {base}"
        print(f"{name:<12}{took[name] * 1e3:8.0f} ms  {ratio}")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else REPEATS)
