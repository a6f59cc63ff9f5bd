"""What a trainee does not see: the watch as it is, less the parts the exercise hides.

The engine, the recording and the judging know nothing of it. Hidden figures read as not known;
the foot of the rehearsal names the hidden parts, so that nobody takes them for quiet.
"""

from __future__ import annotations

from dataclasses import replace

from msgspec import structs

from console.approach.action import AnyAction
from console.approach.event import (
    AnyEvent,
    ContactMade,
    ExceedanceCleared,
    ExceedanceRaised,
    HandsOffPassed,
    MarkPassed,
    OutlookNoted,
)
from console.approach.snapshot import LimitNow, Snapshot, SourceNow, Verdict
from console.envelope.limits import LimitsFile
from console.present.port import WatchPort, WatchStatus
from console.present.trail import Trail
from console.rehearsal.exercise import Hidden
from console.tracking.outlook import Countdown

MODE = "Rehearsal"
TOLD_BY = {
    Hidden.EXCEEDANCES: (ExceedanceRaised, ExceedanceCleared, OutlookNoted),
    Hidden.CALLS: (MarkPassed, HandsOffPassed, ContactMade),
}
CALL_KEYS = ("mark:", "hands_off", "contact")
TIMED_KINDS = frozenset({"mark", "hands_off", "contact"})
HIDDEN_WORDS = {
    Hidden.EXCEEDANCES: "exceedances and flags",
    Hidden.MARGINS: "margins and limits",
    Hidden.CALLS: "calls to make and range marks",
    Hidden.TIME_TO_CONTACT: "time to contact",
    Hidden.STOP: "last useful stop call",
    Hidden.PREDICTION: "prediction at contact",
}


def hidden_words(hidden: frozenset[Hidden]) -> str:
    """Name the hidden parts in one line; empty where nothing is hidden."""
    return ", ".join(HIDDEN_WORDS[part] for part in Hidden if part in hidden)


def masked(s: Snapshot, hidden: frozenset[Hidden]) -> Snapshot:
    """Give a snapshot without what is hidden."""
    if Hidden.EXCEEDANCES in hidden:
        s = structs.replace(
            s,
            exceedances=(),
            shelved=(),
            sources_disagree=False,
            sources=tuple(_without_flags(source) for source in s.sources),
            limits=tuple(structs.replace(n, standing=False) for n in s.limits),
            outlook_notes=(),
        )
    if Hidden.MARGINS in hidden:
        s = structs.replace(s, limits=tuple(_without_margin(n) for n in s.limits))
    if Hidden.CALLS in hidden:
        s = _without_calls(s)
    if Hidden.TIME_TO_CONTACT in hidden:
        s = structs.replace(s, to_contact=Countdown(), to_hands_off=Countdown())
    if Hidden.STOP in hidden:
        s = structs.replace(s, stop=None)
    if Hidden.PREDICTION in hidden:
        s = structs.replace(s, at_contact=None, if_thrust_stops=None, path=())
    return s


def masked_limits(limits: LimitsFile, hidden: frozenset[Hidden]) -> LimitsFile:
    """Give the limits that may be drawn: no bands without margins, no marks without calls."""
    if Hidden.MARGINS in hidden:
        limits = replace(limits, limits=())
    if Hidden.CALLS in hidden:
        limits = replace(limits, marks_m=())
    return limits


def shows(event: AnyEvent, hidden: frozenset[Hidden]) -> bool:
    """Tell whether an event may be told to the trainee."""
    return not any(isinstance(event, TOLD_BY[part]) for part in hidden if part in TOLD_BY)


def _without_flags(source: SourceNow) -> SourceNow:
    return structs.replace(source, flags=(), agrees=None)


def _without_margin(n: LimitNow) -> LimitNow:
    return structs.replace(
        n, limit=None, margin=None, verdict=Verdict.UNKNOWN, standing=False, violates_in_s=None
    )


def _without_calls(s: Snapshot) -> Snapshot:
    return structs.replace(
        s,
        calls=tuple(line for line in s.calls if not line.key.startswith(CALL_KEYS)),
        next_mark_m=None,
        to_next_mark=Countdown(),
        timeline=tuple(timed for timed in s.timeline if timed.kind not in TIMED_KINDS),
        hands_off_t=None,
    )


class MaskedPort:
    """A watch as the trainee's window sees it.

    Parameters
    ----------
    port : WatchPort
        The running watch.
    hidden : frozenset of Hidden
    """

    def __init__(self, port: WatchPort, hidden: frozenset[Hidden]) -> None:
        self._port = port
        self._hidden = hidden
        self._limits = masked_limits(port.limits, hidden)
        self._whole: Snapshot | None = None
        self._shown: Snapshot | None = None

    @property
    def trail(self) -> Trail:
        """The past path, which is never hidden."""
        return self._port.trail

    @property
    def limits(self) -> LimitsFile:
        """The limits that may be drawn."""
        return self._limits

    def snapshot(self) -> Snapshot | None:
        """Give the newest snapshot masked, the same object until there is a newer one."""
        newest = self._port.snapshot()
        if newest is not self._whole:
            self._whole = newest
            self._shown = None if newest is None else masked(newest, self._hidden)
        return self._shown

    def take_events(self) -> list[AnyEvent]:
        """Give the events that may be told."""
        return [event for event in self._port.take_events() if shows(event, self._hidden)]

    def act(self, action: AnyAction) -> None:
        """Hand over what the trainee did."""
        self._port.act(action)

    def status(self) -> WatchStatus:
        """Give how recording does; where the data come from is not told."""
        return replace(self._port.status(), endpoint="an exercise")
