"""The Rehearse view: the trainer's page, then the trainee's watch, then the score."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import Future
from typing import Any

from PySide6.QtCore import QTimer
from PySide6.QtGui import QCloseEvent, QHideEvent, QShowEvent
from PySide6.QtWidgets import QStackedWidget, QVBoxLayout, QWidget

from console.core.errors import InputError
from console.present.opener import Opener
from console.present.rehearse import RehearseDesk, Reviewed, RunningRehearsal
from console.present.theme import DARK, Theme
from console.window.rehearse_order import OrderPage
from console.window.rehearse_score import ScorePage
from console.window.rehearse_watch import TraineeWatch

LOOK_MS = 50
PREPARING = "The approach is made ready…"
SCORING = "The score is worked out…"


class RehearseView(QWidget):
    """Three pages, one after the other; no pop-ups.

    Parameters
    ----------
    desk : RehearseDesk
        The application behind it.
    opener : Opener
        For replaying and debriefing a finished run.
    on_close : callable, optional
        Called once, when the view is closed.
    """

    title = "Rehearse"

    def __init__(
        self, desk: RehearseDesk, opener: Opener, *, on_close: Callable[[], None] | None = None
    ) -> None:
        super().__init__()
        self._desk = desk
        self._on_close = on_close
        self._look_of: tuple[Theme, float] = (DARK, 1.0)
        self._waiting: Future[Any] | None = None
        self._take: Callable[[Any], None] | None = None
        self.order = OrderPage(desk)
        self.order.start_wanted.connect(self._on_start_wanted)
        self.score = ScorePage(opener)
        self.score.again_wanted.connect(self._on_again_wanted)
        self.watch: TraineeWatch | None = None
        self._pages = QStackedWidget()
        for page in (self.order, self.score):
            self._pages.addWidget(page)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(self._pages)
        self._timer = QTimer(self)
        self._timer.setInterval(LOOK_MS)
        self._timer.timeout.connect(self.look)
        self.setFocusProxy(self.order)

    def apply_theme(self, theme: Theme, scale: float) -> None:
        """Take other colours or another text size."""
        self._look_of = (theme, scale)
        for page in (self.order, self.score, self.watch):
            if page is not None:
                page.apply_theme(theme, scale)

    def look(self) -> None:
        """See whether what was waited for is there, and whether the run is over."""
        if self._waiting is not None and self._waiting.done():
            future, take = self._waiting, self._take
            self._waiting = self._take = None
            self._receive(future, take)
        if self.watch is not None and self.watch.is_finished:
            self.end_run()

    def end_run(self) -> None:
        """End the run and have it scored."""
        if self.watch is None:
            return
        running = self.watch.running
        self._drop_watch()
        path = running.stop()
        self._show(self.order)
        self.order.tell(SCORING)
        self._wait(self._desk.review(path), self._on_reviewed)

    def showEvent(self, event: QShowEvent) -> None:
        """Look again."""
        super().showEvent(event)
        self._timer.start()

    def hideEvent(self, event: QHideEvent) -> None:
        """Look no more; a run goes on meanwhile."""
        self._timer.stop()
        super().hideEvent(event)

    def closeEvent(self, event: QCloseEvent) -> None:
        """End a run; its recording is kept."""
        self._timer.stop()
        if self.watch is not None:
            running = self.watch.running
            self._drop_watch()
            running.stop()
        if self._waiting is not None:
            self._waiting.cancel()
            self._waiting.add_done_callback(_stop_what_is_ready)
            self._waiting = None
        if self._on_close is not None:
            on_close, self._on_close = self._on_close, None
            on_close()
        super().closeEvent(event)

    # ------------------------------------------------------------------ what takes time

    def _wait(self, future: Future[Any], take: Callable[[Any], None]) -> None:
        self._waiting, self._take = future, take

    def _receive(self, future: Future[Any], take: Callable[[Any], None] | None) -> None:
        try:
            found = future.result()
            if take is not None:
                take(found)
        except Exception as error:  # whatever it is, the trainer must be able to go on
            self._drop_watch()
            self._show(self.order)
            named = isinstance(error, InputError | OSError)
            self.order.tell(f"! {error}" if named else f"! {type(error).__name__}: {error}")
            self.order.free()

    def _on_start_wanted(self) -> None:
        if self._waiting is not None:
            return
        self.order.tell(PREPARING)
        self._wait(self._desk.begin(self.order.draft(), self.order.trainee), self._on_ready)

    def _on_ready(self, running: RunningRehearsal) -> None:
        try:
            running.start()
            self.watch = TraineeWatch(running)
            self.watch.apply_theme(*self._look_of)
            self.watch.end_wanted.connect(self.end_run)
            self._pages.addWidget(self.watch)
            self._show(self.watch)
        except Exception:
            self._drop_watch()
            running.stop()
            raise

    def _on_reviewed(self, reviewed: Reviewed) -> None:
        self.order.tell("")
        self.order.free()
        self.score.show_reviewed(reviewed)
        self._show(self.score)

    def _on_again_wanted(self) -> None:
        self.order.renew()
        self._show(self.order)

    # ------------------------------------------------------------------ pages

    def _show(self, page: QWidget) -> None:
        self._pages.setCurrentWidget(page)
        self.setFocusProxy(page)
        page.setFocus()

    def _drop_watch(self) -> None:
        watch, self.watch = self.watch, None
        if watch is not None:
            watch.close()
            self._pages.removeWidget(watch)
            watch.deleteLater()


def _stop_what_is_ready(future: Future[Any]) -> None:
    """End a run that nobody waits for any more."""
    if not future.cancelled() and future.exception() is None:
        stop = getattr(future.result(), "stop", None)
        if stop is not None:
            stop()
