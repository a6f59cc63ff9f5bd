"""Pictures of the bench: ``python -m tests.benchmarks.bench_pictures DIR [COUNTS THEMES SIZES]``.

Made-up passes, one limit dragged down by some millimetres a second so that there is something
gained; drawn offscreen by the real view.
"""

from __future__ import annotations

import os
import sys
from pathlib import Path

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
sys.path.insert(0, str(Path(__file__).parents[1]))

from fakes.many_passes import labels_of, many_passes

from console.app.bench_desk import desk_of_set
from console.app.input_file import load_limits
from console.bench.pass_set import PassSet
from console.present.theme import DARK, LIGHT
from console.window.application import application, render
from console.window.bench_view import BenchView
from console.window.main_window import MainWindow

SIZES = {"1600": (1600, 900), "1280": (1280, 720)}


def bench_window(count: int, theme_name: str = "dark") -> tuple[MainWindow, BenchView]:
    """Make a window on so many passes, loaded and judged."""
    theme = DARK if theme_name == "dark" else LIGHT
    application(theme)
    limits, made = load_limits(None), many_passes(count)
    passes = PassSet.of([one.ready for one in made], limits)
    desk = desk_of_set(passes, limits, labels_of(made)).start()
    view = BenchView(desk)
    window = MainWindow((view,), title="Leadmark", theme=theme)
    wait(view)
    return window, view


def wait(view: BenchView) -> None:
    """Let the view take what was judged."""
    import time

    for _ in range(600):
        view.tick()
        if view.answer is not None and view.answer.question == view.asked:
            return
        time.sleep(0.05)


def wait_for_sweep(view: BenchView) -> None:
    """Let the view take the sweep."""
    import time

    for _ in range(1200):
        view.tick()
        if view.sweep.view is not None and view.sweep.view.points:
            return
        time.sleep(0.05)


def main() -> int:
    """Draw."""
    folder = Path(sys.argv[1])
    counts = [int(n) for n in sys.argv[2].split(",")] if len(sys.argv) > 2 else [3, 300, 3000]
    themes = sys.argv[3].split(",") if len(sys.argv) > 3 else ["dark", "light"]
    sizes = sys.argv[4].split(",") if len(sys.argv) > 4 else ["1600", "1280"]
    folder.mkdir(parents=True, exist_ok=True)
    for count in counts:
        for theme in themes:
            window, view = bench_window(count, theme)
            view.draft.choose_point(1)
            view.draft.move_to(view.draft.point[0], view.draft.point[1] - 0.006)
            view.changed()
            wait(view)
            view.sweeper.ask()
            wait_for_sweep(view)
            for size in sizes:
                render(window, folder / f"bench-{count}-{theme}-{size}.png", SIZES[size])
            window.close()
    return 0


if __name__ == "__main__":
    sys.exit(main())
