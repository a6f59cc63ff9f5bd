"""Putting a watch together: limits, setup, link, recording, and its two faces."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

from console.app.around import Around
from console.app.clock import SystemClock
from console.app.headless import StatusLines, printer, summary
from console.app.input_file import load_residuals
from console.app.live import ActingCrew, FrameSource, LiveWatch
from console.app.printing import Printing
from console.app.speech import Speech, speech_of
from console.approach.engine_time import EngineTime
from console.approach.event import AnyEvent
from console.approach.procedure import Procedure
from console.approach.state import StateModel
from console.archive.places import new_recording_path
from console.archive.recording.meta import RecordingMeta
from console.archive.recording.recorder import Recorder
from console.core.records import Frame
from console.envelope.limits import LimitsFile
from console.envelope.setup import Setup
from console.link.curve import load_keys
from console.link.subscriber import Subscriber
from console.present.port import WatchStatus

DRAIN_S = 1.0
LOOK_S = 0.05
SWITCH_INTERVAL_S = 0.0005
"""A busy thread must give way often, or the window's frames wait for it."""


@dataclass(frozen=True, slots=True)
class WatchOrder:
    """What a watch is to be.

    Attributes
    ----------
    mode : str
        ``Live`` or ``Demo``, for the status line.
    endpoints : sequence of str
        What is listened to.
    speed : float
        1 for a real link; anything else lets ``t`` carry engine time.
    procedure : Procedure or None
        Steps and polls; None for none.
    crew : ActingCrew or None
        The people of a demo.
    around : Around
        Orbit message and coverage plan, for light and link ahead.
    limits_path, setup_path : Path or None
        Where limits and setup were read from, for the other views; None for the shipped ones.
    speak : bool
        Say calls and warnings aloud, if there is a voice.
    record : Path or None
        Where to; None for a new file in the user's data folder.
    more : mapping of str to str
        Facts the recording is to keep beside those of any watch.
    """

    mode: str
    endpoints: Sequence[str]
    limits: LimitsFile
    setup: Setup
    speed: float = 1.0
    record: Path | None = None
    vehicle: str = ""
    title: str = ""
    port: str = ""
    insecure: bool = False
    procedure: Procedure | None = None
    crew: ActingCrew | None = None
    speak: bool = False
    around: Around = field(default_factory=Around)
    limits_path: Path | None = None
    setup_path: Path | None = None
    more: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Assembled:
    """A watch put together and not yet started."""

    watch: LiveWatch
    state: StateModel
    recorder: Recorder


def assemble(
    order: WatchOrder,
    source: FrameSource,
    clock: Callable[[], float],
    on_event: Callable[..., None] | None = None,
) -> Assembled:
    """Connect source, recorder and state model."""
    sys.setswitchinterval(SWITCH_INTERVAL_S)
    setup, surroundings = order.around.built(order.setup)
    state = StateModel(
        order.limits,
        setup,
        archive=load_residuals(),
        procedure=order.procedure,
        surroundings=surroundings,
    )
    engine_time = EngineTime.RECEIVE if order.speed == 1.0 else EngineTime.NEWEST
    recorder = _recorder(order, clock, engine_time)
    speed = "" if order.speed == 1.0 else f" {order.speed:g}×"
    status = WatchStatus(
        mode=order.mode + speed,
        endpoint=", ".join(order.endpoints),
        limits_title=order.limits.title,
        limits_revision=order.limits.revision,
        limits_sha256=order.limits.sha256,
        insecure=order.insecure,
    )
    watch = LiveWatch(
        state,
        source,
        clock=clock,
        engine_time=engine_time,
        recorder=recorder,
        status=status,
        on_event=on_event,
        crew=order.crew,
    )
    return Assembled(watch, state, recorder)


def _recorder(order: WatchOrder, clock: Callable[[], float], engine_time: EngineTime) -> Recorder:
    started_s = clock()
    path = order.record or new_recording_path(started_s, order.vehicle)
    meta = RecordingMeta(
        started_s=started_s,
        engine_time=engine_time,
        speed=order.speed,
        title=order.title,
        vehicle=order.vehicle,
        port=order.port,
        limits_text=order.limits.text,
        limits_sha256=order.limits.sha256,
        limits_name=order.limits.title,
        setup_text=order.setup.text,
        setup_sha256=order.setup.sha256,
        procedure_text=order.procedure.text if order.procedure else "",
        procedure_sha256=order.procedure.sha256 if order.procedure else "",
        procedure_name=order.procedure.title if order.procedure else "",
        endpoints=tuple(order.endpoints),
        more={**order.around.kept(), **order.more},
    )
    return Recorder(path, meta)


def watch_headless(
    order: WatchOrder,
    clock: SystemClock,
    source: FrameSource,
    is_over: Callable[[], bool],
    write: Callable[[str], None],
    *,
    begin: Callable[[], None] | None = None,
    opening: Sequence[str] = (),
) -> StateModel:
    """Watch in text until ``is_over`` or an interrupt; give the state model at the end.

    ``begin`` is called as soon as the watch runs; ``opening`` is said before all else. Where the
    terminal is not read, or goes away, the watch goes on; it ends with a BrokenPipeError then.
    """
    with Printing(write) as printing:
        for line in opening:
            printing.say(line)
        with _speaking(order, in_window=False) as speech:
            made = _watch_in_text(order, clock, source, is_over, printing, speech, begin)
        printing.close(*summary(made.state, made.watch.status()))
    return made.state


def _watch_in_text(
    order: WatchOrder,
    clock: SystemClock,
    source: FrameSource,
    is_over: Callable[[], bool],
    printing: Printing,
    speech: Speech | None,
    begin: Callable[[], None] | None,
) -> Assembled:
    if speech is not None:
        printing.say(speech.words().capitalize())
    assembled = assemble(order, source, clock, _listeners(printer(printing.say), speech))
    lines = StatusLines(printing.say)
    lines.look(assembled.watch.status(), assembled.recorder.path, time.monotonic())
    assembled.watch.start()
    try:
        if begin is not None:
            begin()
        while not is_over() and assembled.watch.failure is None:
            watch = assembled.watch
            lines.look(watch.status(), assembled.recorder.path, time.monotonic(), watch.snapshot())
            time.sleep(LOOK_S)
        time.sleep(DRAIN_S)
    except KeyboardInterrupt:
        pass
    finally:
        assembled.watch.stop()
    failure = assembled.watch.failure
    if failure is not None:
        raise failure
    return assembled


def watch_in_window(
    order: WatchOrder,
    clock: SystemClock,
    source: FrameSource,
    *,
    theme_name: str = "dark",
    begin: Callable[[], None] | None = None,
) -> int:
    """Watch in the window until it is closed; give Qt's exit status.

    ``begin`` is called as soon as the watch runs.
    """
    from console.app.desk_build import Texts, live_desk, theme_named
    from console.window.run import application, run_window

    theme = theme_named(theme_name)
    application(theme)  # Qt's own voice needs it
    with _speaking(order, in_window=True) as speech:
        assembled = assemble(order, source, clock, _listeners(None, speech))
        watch = assembled.watch
        StatusLines(print).look(watch.status(), assembled.recorder.path, time.monotonic())
        watch.start()
        try:
            if begin is not None:
                begin()
            title = order.title or "Leadmark"
            texts = Texts(order.limits_path, order.setup_path)
            desk = live_desk(
                watch, texts=texts, theme=theme, title=title, speech=speech,
                when_new=watch.when_new,
            )  # fmt: skip
            return run_window(desk.window)
        finally:
            watch.stop()


@contextmanager
def _speaking(order: WatchOrder, *, in_window: bool) -> Iterator[Speech | None]:
    """Speak, where that was asked for, until the watch has ended or could not begin."""
    if not order.speak:
        yield None
        return
    speech = speech_of(in_window=in_window)
    speech.start()
    try:
        yield speech
    finally:
        speech.stop()


def _listeners(
    first: Callable[[AnyEvent], None] | None, speech: Speech | None
) -> Callable[[AnyEvent], None] | None:
    """Join the two who may listen to events."""
    if speech is None:
        return first
    if first is None:
        return speech.on_event
    both = (first, speech.on_event)

    def on_event(event: AnyEvent) -> None:
        for listener in both:
            listener(event)

    return on_event


class Link:
    """A subscriber as the frame source of a watch."""

    def __init__(self, subscriber: Subscriber) -> None:
        self._subscriber = subscriber
        self.is_insecure = subscriber.is_insecure
        """Whether an endpoint outside the loopback range goes without keys."""

    def poll(self, timeout_s: float) -> list[Frame]:
        """Give what came, stamped with its receive time."""
        return self._subscriber.poll(timeout_s)

    def trouble(self) -> str:
        """Name every endpoint whose link is down, and why."""
        return "; ".join(
            f"link to {link.endpoint} is down: {link.why_down}"
            for link in self._subscriber.health()
            if not link.is_up
        )

    def cuts(self) -> int:
        """Count how often a link that stood was cut."""
        return sum(link.cuts for link in self._subscriber.health())

    def given_up(self) -> int:
        """Count the messages that were given up because more came than could be taken."""
        return sum(link.given_up for link in self._subscriber.health())

    def close(self) -> None:
        """Close the sockets."""
        self._subscriber.close()


def subscribe(
    endpoints: Sequence[str], clock: SystemClock, *, keys: Path | None, insecure: bool
) -> Link:
    """Open the link to publishers."""
    loaded = None if keys is None else load_keys(keys)
    return Link(Subscriber(endpoints, keys=loaded, insecure=insecure, clock=clock))
