"""What the window is handed and may ask for: the only door between it and the application."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Protocol

from console.approach.action import AnyAction
from console.approach.event import AnyEvent
from console.approach.snapshot import Snapshot
from console.envelope.limits import LimitsFile

if TYPE_CHECKING:
    from console.present.trail import Trail


@dataclass(frozen=True, slots=True)
class WatchStatus:
    """How the watch itself does: link, recording, limits. Said in the status line.

    Attributes
    ----------
    mode : str
        ``Live``, ``Replay`` or ``Demo``, with the speed where it is not 1.
    endpoint : str
        Where samples come from: endpoints or a file's name.
    samples_per_s : float or None
        Of all sources together; None before the first.
    lost : int
        Samples the counters say never came, all sources; those dropped here are not among them.
    recording : str or None
        Name of the recording, None where none is made.
    not_recording_because : str
        Why there is none, or why it is behind; empty while all is written.
    recording_moved_because : str
        Why it stands in another file than it began in, empty where it does not.
    insecure : bool
        The link leaves this machine without keys.
    overflowed : int
        Messages that came and were dropped by a full queue of this program, not judged.
    rejected : int
        Messages that did not validate.
    behind_s : float
        How much older what is shown is than what was received, s.
    unrecorded, unrecorded_rows : int
        Messages received, and rows made from them, that found no room on the way to the disk.
    link_cuts : int
        How often a link that stood was cut, all endpoints.
    link_given_up : int
        Messages that were given up unread because more came than could be taken.
    events_dropped, deeds_dropped : int
        Events, and deeds of the operator, that found no room between window and engine.
    paused : bool
        A replay stands still on purpose.
    notice : str
        One line the application wants read, such as a limits file that was refused.
    speech : str
        How spoken calls stand, empty where they were not asked for.
    is_replay : bool
        A recorded pass is shown: nothing is received and nothing recorded.
    other_limits : str
        Names the limits a replayed pass was watched under, where those in force are others.
    """

    mode: str
    endpoint: str
    samples_per_s: float | None = None
    lost: int = 0
    recording: str | None = None
    not_recording_because: str = ""
    recording_moved_because: str = ""
    limits_title: str = ""
    limits_revision: int = 0
    limits_sha256: str = ""
    insecure: bool = False
    overflowed: int = 0
    rejected: int = 0
    behind_s: float = 0.0
    unrecorded: int = 0
    unrecorded_rows: int = 0
    link_cuts: int = 0
    link_given_up: int = 0
    events_dropped: int = 0
    deeds_dropped: int = 0
    paused: bool = False
    notice: str = ""
    speech: str = ""
    is_replay: bool = False
    other_limits: str = ""


@dataclass(frozen=True, slots=True)
class Watched:
    """Everything a panel may show at one moment."""

    snapshot: Snapshot | None
    status: WatchStatus
    limits: LimitsFile
    unchanged_s: float = 0.0
    """For how long no new snapshot has come, on the window's own clock."""


class SpeechSwitch(Protocol):
    """Spoken calls as the window sees them: how they stand, and one key to mute them."""

    def toggle(self) -> str:
        """Mute or unmute; give the line that says how it stands."""
        ...

    def words(self) -> str:
        """Say how it stands."""
        ...


class WatchPort(Protocol):
    """A running watch as the window sees it; every call returns at once.

    The application implements it over its engine thread. The window asks on its own timer and
    hands back what the operator did; it never waits and never changes anything else.
    """

    @property
    def trail(self) -> Trail:
        """The past path, for the plots; only the Qt thread reads it."""
        ...

    @property
    def limits(self) -> LimitsFile:
        """The limits file in force."""
        ...

    def snapshot(self) -> Snapshot | None:
        """Give the newest snapshot, the same object until there is a newer one."""
        ...

    def take_events(self) -> list[AnyEvent]:
        """Give and forget the events found since the last call, in order."""
        ...

    def act(self, action: AnyAction) -> None:
        """Hand over what the operator did; it is recorded and fed at its time."""
        ...

    def status(self) -> WatchStatus:
        """Give how link and recording do."""
        ...
