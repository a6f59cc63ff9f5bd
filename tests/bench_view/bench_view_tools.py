"""A bench on made-up passes, loaded and judged, and a hand for its mouse."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

from fakes.many_passes import Made, labels_of, many_passes
from PySide6.QtCore import QEvent, QPointF, Qt
from PySide6.QtGui import QMouseEvent
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from console.app.bench_desk import BenchDesk, desk_of_set
from console.app.input_file import load_limits
from console.bench.labels import Label
from console.bench.pass_set import PassSet
from console.envelope.limits import LimitsFile
from console.present.bench_curve import points_px
from console.present.theme import DARK, Theme
from console.window.bench_view import BenchView
from console.window.plots.bench_curve import CurvePlot
from tests.fakes.changed import replace


class Opened(BenchDesk):
    """A desk that writes down which passes were opened, and where."""

    def __init__(self, desk: BenchDesk) -> None:
        self.__dict__.update(desk.__dict__)
        self.opened_passes: list[tuple[int, float | None]] = []

    def open_pass(self, number: int, t: float | None) -> None:
        """Write it down."""
        self.opened_passes.append((number, t))


@lru_cache(maxsize=8)
def made_up(count: int) -> list[Made]:
    """Make passes of a minute, once for all tests."""
    return many_passes(count, samples=600)


def bench_on(
    count: int = 20, *, limits: LimitsFile | None = None, path: Path | None = None,
    labels: list[Label | None] | None = None, folder: Path | None = None,
) -> BenchView:  # fmt: skip
    """Make a view on so many passes, everything loaded and judged."""
    limits = limits or load_limits(path)
    made = made_up(count)
    ready = [one.ready for one in made]
    if folder is not None:
        ready = [replace(one, path=folder / one.name) for one in ready]
    passes = PassSet.of(ready, limits)
    known = None if folder is not None else labels or labels_of(made)
    if folder is None:
        desk = desk_of_set(passes, limits, known or [], path)
    else:
        desk = BenchDesk(limits, path, lambda _tell, _stopped: passes)
    desk._loader.run()
    return BenchView(Opened(desk))


def shown(view: BenchView, theme: Theme = DARK, size: tuple[int, int] = (1600, 900)) -> BenchView:
    """Show a view at a size and let it judge."""
    view.resize(*size)
    view.apply_theme(theme, 1.0)
    view.show()
    settle(view)
    return view


def settle(view: BenchView) -> None:
    """Wait until what is asked is answered."""
    for _ in range(5000):
        view.tick()
        if view.answer is not None and view.answer.question == view.asked:
            QApplication.processEvents()
            return
        QTest.qWait(2)
    raise AssertionError("no answer came")


def mouse(plot: CurvePlot, kind: QEvent.Type, place: QPointF) -> None:
    """Hand a plot a mouse event with the left button."""
    held = Qt.MouseButton.LeftButton
    if kind is QEvent.Type.MouseButtonRelease:
        held = Qt.MouseButton.NoButton
    event = QMouseEvent(
        kind, place, plot.mapToGlobal(place), Qt.MouseButton.LeftButton, held,
        Qt.KeyboardModifier.NoModifier,
    )  # fmt: skip
    QApplication.sendEvent(plot, event)


def handle(view: BenchView, point: int) -> QPointF:
    """Give where a point's handle stands."""
    frame = view.curve.layout_now
    assert frame is not None
    return QPointF(*points_px(frame, view.draft.limit.curve)[point])
