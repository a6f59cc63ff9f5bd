"""From the engine's thread to Qt: the newest snapshot, when there is one or by the window's timer.

How often it draws depends on how often snapshots come, never on samples; a slow screen skips
snapshots and delays nothing. Figures are renewed at reading speed, plots and exceedances with
every frame.
"""

from __future__ import annotations

from dataclasses import replace

from PySide6.QtCore import QElapsedTimer, QObject, Qt, QTimer, Signal

from console.approach.snapshot import Snapshot
from console.present.frozen import aged
from console.present.port import SpeechSwitch, Watched, WatchPort

FRAME_MS = 25
FRAMES_PER_READING = 8
"""Figures change at 5 Hz: faster, they cannot be read."""


class Waker(QObject):
    """What another thread calls when there is a new snapshot.

    It has no parent, so it lives as long as that thread knows it, whenever the window goes.
    """

    woken = Signal()

    def __init__(self) -> None:
        super().__init__()
        self.is_waiting = False
        """Whether a call still waits for Qt's thread; another would tell it nothing more."""

    def wake(self) -> None:
        """Let the newest snapshot be taken as soon as Qt's thread is free."""
        if not self.is_waiting:
            self.is_waiting = True
            self.woken.emit()


class Bridge(QObject):
    """Asks the port and tells the view.

    Attributes
    ----------
    waker : Waker
        For whoever makes the snapshots; without its call the window's timer finds them.

    Signals
    -------
    frame_due : Watched
        A new snapshot, for what moves.
    reading_due : Watched
        Five times a second, for what is read, new snapshot or not.
    events_taken : list of Event
        What was found since.
    """

    frame_due = Signal(object)
    reading_due = Signal(object)
    events_taken = Signal(object)

    def __init__(
        self,
        port: WatchPort,
        parent: QObject | None = None,
        *,
        speech: SpeechSwitch | None = None,
    ) -> None:
        super().__init__(parent)
        self._port = port
        self._speech = speech
        self._newest: Snapshot | None = None
        self._status = port.status()
        self._frame = 0
        self._since_new = QElapsedTimer()
        self._since_new.start()
        self._timer = QTimer(self)
        self._timer.setTimerType(Qt.TimerType.PreciseTimer)
        self._timer.setInterval(FRAME_MS)
        self._timer.timeout.connect(self.take)
        self.waker = Waker()
        self.waker.woken.connect(self._on_woken, Qt.ConnectionType.QueuedConnection)

    def start(self) -> None:
        """Begin to ask."""
        self._timer.start()

    @property
    def is_running(self) -> bool:
        """Whether it asks by itself."""
        return self._timer.isActive()

    def stop(self) -> None:
        """Ask no more."""
        self._timer.stop()

    def _on_woken(self) -> None:
        self.waker.is_waiting = False
        if self.is_running and self._port.snapshot() is not self._newest:
            self.frame_due.emit(self.watched(with_status=False))

    def take(self) -> None:
        """Take what there is now and pass it on."""
        before = self._newest
        is_reading = self._frame % FRAMES_PER_READING == 0
        self._frame += 1
        if is_reading or self._port.snapshot() is not before:
            watched = self.watched(with_status=is_reading)
            if watched.snapshot is not before:
                self.frame_due.emit(watched)
            if is_reading:
                self.reading_due.emit(watched)
        events = self._port.take_events()
        if events:
            self.events_taken.emit(events)

    def watched(self, *, with_status: bool = True) -> Watched:
        """Give what there is to watch now, and for how long it has been the same.

        The status costs the port some counting: without ``with_status`` the last one stands.
        """
        if with_status:
            self._status = self._port.status()
            if self._speech is not None:
                self._status = replace(self._status, speech=self._speech.words())
        snapshot = self._port.snapshot()
        if snapshot is not self._newest:
            self._newest = snapshot
            self._since_new.restart()
        limits, silent_s = self._port.limits, 0.0
        if snapshot is not None:
            silent_s = self._since_new.elapsed() / 1000.0
            if not self._status.paused:
                snapshot = aged(snapshot, silent_s, limits.data.lost_after_s)
        return Watched(snapshot, self._status, limits, silent_s)
