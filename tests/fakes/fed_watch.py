"""A real watch of a simulated pass that moves on only when told: no thread, no waiting.

Everything but the socket and the threads is the real thing: frames, recorder, engine, snapshot.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from console.app.input_file import load_limits, load_procedure, load_scenario
from console.app.live import ActingCrew, LiveWatch, _Moment
from console.approach.engine_time import EngineTime
from console.approach.event import AnyEvent
from console.approach.state import StateModel
from console.archive.recording.meta import RecordingMeta
from console.archive.recording.recorder import Recorder
from console.core.records import Frame
from console.envelope.setup import Setup
from console.present.port import WatchStatus
from console.simulation.simulate import simulate
from console.wire.encode import encode


class Idle:
    """A frame source that gives nothing: frames are handed over by hand."""

    def poll(self, timeout_s: float) -> list[Frame]:
        """Give nothing."""
        return []

    def trouble(self) -> str:
        """Find nothing wrong."""
        return ""

    def cuts(self) -> int:
        """Count no cut: there is no link."""
        return 0

    def given_up(self) -> int:
        """Count none."""
        return 0

    def close(self) -> None:
        """Do nothing."""


class FedWatch:
    """The nominal pass, recorded and watched, second by second.

    Parameters
    ----------
    path : Path
        Of the recording.
    crew : ActingCrew, optional
        Who acts by themselves.
    lost : callable, optional
        Tells by the time since the start which messages never arrive.
    """

    def __init__(
        self,
        path: Path,
        *,
        scenario: str = "nominal",
        crew: ActingCrew | None = None,
        lost: Callable[[float], bool] = lambda past_s: False,
    ) -> None:
        flown_by = load_scenario(scenario)
        limits, self.procedure = load_limits(None), load_procedure(None)
        flown = simulate(flown_by, limits, Setup(), 1, flown_by.demo_range_m)
        self._messages = flown.messages
        self._lost = lost
        self._at = 0
        self.begin_s = self.now_s = flown.messages[0].t_publish_s
        self.events: list[AnyEvent] = []
        self.state = StateModel(limits, Setup(), procedure=self.procedure)
        self.recorder = Recorder(
            path,
            RecordingMeta(
                started_s=self.now_s, engine_time=EngineTime.RECEIVE,
                limits_text=limits.text, limits_sha256=limits.sha256,
                procedure_text=self.procedure.text, procedure_sha256=self.procedure.sha256,
            ),
            synchronous="OFF",
        )  # fmt: skip
        self.watch = LiveWatch(
            self.state, Idle(), clock=lambda: self.now_s, engine_time=EngineTime.RECEIVE,
            recorder=self.recorder, status=WatchStatus("Live", "a simulated pass"),
            on_event=self.events.append, crew=crew,
        )  # fmt: skip

    @property
    def is_over(self) -> bool:
        """Whether every message was fed."""
        return self._at >= len(self._messages)

    @property
    def past_s(self) -> float:
        """Seconds since the start."""
        return self.now_s - self.begin_s

    def go_on(self, for_s: float = 1.0) -> None:
        """Receive what comes within so many seconds, feed it, and draw."""
        self.now_s += for_s
        while not self.is_over and self._messages[self._at].t_publish_s <= self.now_s:
            message = self._messages[self._at]
            self._at += 1
            if not self._lost(message.t_publish_s - self.begin_s):
                frame = Frame(message.t_publish_s, *encode(message.record))
                self.watch._hand_over(frame)
        self.feed()

    def feed(self) -> None:
        """Feed what waits, do what the operator asked, and draw."""
        self.watch._queue.put(_Moment(self.now_s), b"")
        while not self.watch._queue.empty():
            self.watch._feed_some()
        self.watch._show()

    def until(self, reached: Callable[[], bool], most_s: float = 1200.0) -> None:
        """Go on second by second until something is so; fail where it never is."""
        end_s = self.now_s + most_s
        while not reached():
            assert self.now_s < end_s, "it never came"
            assert not self.is_over, "the pass ended first"
            self.go_on()

    def finish(self) -> None:
        """End the watch and its recording."""
        self.watch._finish()
        self.recorder.close()
