"""The Watch view: all parts of a live or replayed approach, driven by the keyboard alone."""

from __future__ import annotations

from itertools import pairwise
from typing import Any

from PySide6.QtCore import QRect, Qt, Signal
from PySide6.QtGui import QCloseEvent, QHideEvent, QResizeEvent, QShowEvent
from PySide6.QtWidgets import QWidget

from console.approach.event import AnyEvent
from console.present.port import SpeechSwitch, Watched, WatchPort
from console.present.replay_port import ReplayPort
from console.present.theme import DARK, Theme
from console.present.told import message_of
from console.window.announcer import announce
from console.window.arrangement import (
    SCROLLED,
    Arrangement,
    Need,
    Part,
    Place,
    arrangement_of,
    places,
)
from console.window.blinker import Blinker
from console.window.bridge import Bridge
from console.window.fonts import Faces
from console.window.keys import WATCH_KEYS, keys_in_replay, sheet_rows
from console.window.operator import Operator
from console.window.panels.calls import CallsPanel
from console.window.panels.entry import WATCH_HINTS, EntryLine
from console.window.panels.exceedances import ExceedancesPanel
from console.window.panels.headline import HeadlinePanel
from console.window.panels.ledger import LedgerPanel
from console.window.panels.manual import ManualReader
from console.window.panels.panel import PaintedPanel
from console.window.panels.sheet import KeySheet
from console.window.panels.status import StatusPanel
from console.window.replay_deeds import REPLAY_HINTS, ReplayDeeds
from console.window.scroll_column import ScrollColumn
from console.window.watch_deeds import WatchDeeds
from console.window.watch_plots import WatchPlots

TIME_STRIP_EM = 7.0
"""Room for two rows of names above the axis."""
SHORT_STRIP_EM = 6.7
"""The same in a short window, where the lanes need every line."""
SHORT_PX = 800


class WatchView(QWidget):
    """Everything that is watched, in one widget.

    Parameters
    ----------
    port : WatchPort
        The running watch.
    speech : SpeechSwitch, optional
        Spoken calls, where they were asked for.
    replay : ReplayPort, optional
        The port itself where it is a replay: a bar and other keys come with it.
    """

    title = "Watch"
    closed = Signal()
    """It was closed and asks nothing any more."""

    def __init__(
        self,
        port: WatchPort,
        parent: QWidget | None = None,
        *,
        speech: SpeechSwitch | None = None,
        replay: ReplayPort | None = None,
    ) -> None:
        super().__init__(parent)
        self._port = port
        self._theme: Theme = DARK
        self._faces = Faces(1.0)
        self._arrangement: Arrangement | None = None
        self.headline = HeadlinePanel(self)
        self.calls = CallsPanel(self)
        self.ledger = LedgerPanel(self)
        self.exceedances = ExceedancesPanel(self)
        self.status = StatusPanel(self)
        self.entry = EntryLine(self, hints=WATCH_HINTS if replay is None else REPLAY_HINTS)
        self.plots = WatchPlots(self)
        self._scroll = ScrollColumn(self)
        keys = WATCH_KEYS if replay is None else keys_in_replay()
        self.sheet = KeySheet(sheet_rows(keys, with_views=True), self)
        self.manual = ManualReader(self)
        self.operator = Operator(port, self.entry)
        self.blinker = Blinker(self)
        self.blinker.lit_changed.connect(self.exceedances.set_lit)
        self.speech = speech
        self.bridge = Bridge(port, self, speech=speech)
        self.bridge.frame_due.connect(self._on_frame_due)
        self.bridge.reading_due.connect(self._on_reading_due)
        self.bridge.events_taken.connect(self._on_events_taken)
        self.replay = None if replay is None else ReplayDeeds(self, replay)
        self._parts = self._parts_by_name()
        self._order_tabs()
        self._deeds = WatchDeeds(self, port, tuple(k for k in keys if k in WATCH_KEYS))
        self.setFocusPolicy(Qt.FocusPolicy.ClickFocus)

    def _parts_by_name(self) -> dict[Part, QWidget]:
        parts: dict[Part, QWidget] = {
            Part.HEADLINE: self.headline, Part.EXCEEDANCES: self.exceedances,
            Part.CALLS: self.calls, Part.LEDGER: self.ledger, Part.MAIN: self.plots.main,
            Part.PORT_PLANE: self.plots.port_plane, Part.TIME_STRIP: self.plots.time_strip,
            Part.ENTRY: self.entry, Part.STATUS: self.status,
        }  # fmt: skip
        return parts if self.replay is None else parts | {Part.REPLAY: self.replay.bar}

    @property
    def panels(self) -> tuple[PaintedPanel[Any], ...]:
        """The painted panels."""
        return (self.headline, self.calls, self.ledger, self.exceedances, self.status)

    @property
    def arrangement(self) -> Arrangement | None:
        """Which arrangement the parts stand in, None before the first."""
        return self._arrangement

    def apply_theme(self, theme: Theme, scale: float) -> None:
        """Take other colours or another text size."""
        self._theme = theme
        if scale != self._faces.scale:
            self._faces = Faces(scale)
        for panel in self.panels:
            panel.apply_theme(theme, scale)
        self.entry.apply_theme(theme, scale)
        if self.replay is not None:
            self.replay.bar.apply_theme(theme, scale)
        self.sheet.apply_theme(theme, scale)
        self.manual.apply_theme(theme, scale)
        self.plots.apply_theme(theme, scale)
        self.arrange()

    def show_watched(self, watched: Watched) -> None:
        """Show one state everywhere at once."""
        self._on_frame_due(watched)
        self._on_reading_due(watched)

    def arrange(self) -> None:
        """Place the parts for the present size."""
        width, height = float(self.width()), float(self.height())
        chosen = arrangement_of(self._faces.em, width, height)
        made = places(chosen, width, height, self._faces.em, self._needs())
        self._settle(made.arrangement)
        for part, place in (made.fixed | made.scrolled).items():
            self._parts[part].setGeometry(_rect(place))
        if made.viewport is not None:
            self._scroll.setGeometry(_rect(made.viewport))
            self._scroll.inner.resize(round(made.viewport.width), round(made.scrolled_height))
        self._place_sheet()
        self._place_manual()

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Place the parts anew."""
        super().resizeEvent(event)
        self.arrange()

    def showEvent(self, event: QShowEvent) -> None:
        """Take the keyboard, so that no panel is singled out before the operator chose one."""
        super().showEvent(event)
        self.setFocus()
        if self.replay is not None:
            self.bridge.start()

    def hideEvent(self, event: QHideEvent) -> None:
        """Let a replay's picture rest while nobody looks; a live one is never left."""
        super().hideEvent(event)
        if self.replay is not None:
            self.bridge.stop()

    def closeEvent(self, event: QCloseEvent) -> None:
        """Stop asking."""
        self.bridge.stop()
        super().closeEvent(event)
        self.closed.emit()

    def _needs(self) -> dict[Part, Need]:
        bar = None if self.replay is None else self.replay.bar
        needs = {} if bar is None else {Part.REPLAY: lambda _: bar.natural_height()}
        return needs | {
            Part.HEADLINE: self.headline.natural_height,
            Part.EXCEEDANCES: self.exceedances.natural_height,
            Part.CALLS: self.calls.natural_height,
            Part.LEDGER: self.ledger.natural_height,
            Part.STATUS: self.status.natural_height,
            Part.ENTRY: lambda _: self.entry.natural_height(),
            Part.TIME_STRIP: lambda _: self._strip_height(),
        }

    def _strip_height(self) -> float:
        lines = SHORT_STRIP_EM if self.height() < SHORT_PX else TIME_STRIP_EM
        return float(round(lines * self._faces.em))

    def _settle(self, chosen: Arrangement) -> None:
        """Move parts in or out of what scrolls where the arrangement changed."""
        if chosen is self._arrangement:
            return
        self._arrangement = chosen
        scrolled = SCROLLED.get(chosen, ())
        for part in SCROLLED[Arrangement.COLUMN]:
            widget = self._parts[part]
            home = self._scroll.inner if part in scrolled else self
            if widget.parent() is not home:
                widget.setParent(home)
                widget.show()
        self._scroll.setVisible(bool(scrolled))
        self._order_tabs()
        self.sheet.raise_()
        self.manual.raise_()

    def _order_tabs(self) -> None:
        ordered: list[QWidget] = []
        for part in Part:
            if part is Part.MAIN:
                ordered += [self.plots.lanes, self.plots.capture]
            elif part is not Part.ENTRY and part in self._parts:
                ordered.append(self._parts[part])
        for first, second in pairwise(ordered):
            QWidget.setTabOrder(first, second)

    def _place_sheet(self) -> None:
        scrolls = self._arrangement in SCROLLED
        area = self._scroll.geometry() if scrolls else self.plots.main.geometry()
        size = self.sheet.size_in(float(area.height()), float(self.width() - area.x()))
        top = area.bottom() + 1 - size.height()
        self.sheet.setGeometry(area.x(), top, size.width(), size.height())

    def _place_manual(self) -> None:
        scrolls = self._arrangement in SCROLLED
        area = self._scroll.geometry() if scrolls else self.plots.main.geometry()
        self.manual.setGeometry(area)

    def _on_frame_due(self, watched: Watched) -> None:
        for panel in self.panels:
            if not panel.reads_at_leisure:
                panel.show_watched(watched)
        self.blinker.want(self.exceedances.blinks)
        if self.replay is not None:
            self.replay.show()
        self.plots.show_watched(watched, self._port.trail)

    def _on_reading_due(self, watched: Watched) -> None:
        before = self._heights()
        if self.replay is not None:
            self.replay.show()
        for panel in self.panels:
            panel.show_watched(watched)
        self.blinker.want(self.exceedances.blinks)
        if before != self._heights():
            self.arrange()

    def _heights(self) -> tuple[float, ...]:
        """Give the heights of the panels that grow with what they show."""
        return (
            self.ledger.natural_height(1.0),
            self.status.natural_height(self.width()),
            self.calls.natural_height(self.calls.width()),
        )

    def _on_events_taken(self, events: list[AnyEvent]) -> None:
        announce(self.exceedances, events)
        for message in filter(None, map(message_of, events)):
            self.entry.tell(message)

    def toggle_sheet(self) -> None:
        """Show the keys, page by page, or hide them."""
        self._place_sheet()
        self.sheet.turn()
        self.sheet.raise_()

    def toggle_manual(self) -> None:
        """Open the manual over the plots, or close it."""
        if not self.manual.isHidden():
            self.manual.close_reader()
        else:
            self._place_manual()
            self.manual.raise_()
            self.manual.open_reader()

    def close_line(self) -> None:
        """Close the entry line, else the manual and the sheet of keys."""
        if self.entry.is_open:
            self.entry.close_line()
            return
        self.sheet.hide()
        self.manual.close_reader()


def _rect(place: Place) -> QRect:
    left, top = round(place.x), round(place.y)
    return QRect(
        left, top, round(place.x + place.width) - left, round(place.y + place.height) - top
    )
