"""A watch that stands still: a port for tests of the window, and a status for its line."""

from __future__ import annotations

from dataclasses import dataclass, field

from fakes.limits import fake_limits

from console.approach.action import AnyAction
from console.approach.event import AnyEvent
from console.approach.snapshot import Snapshot
from console.envelope.limits import LimitsFile
from console.present.port import WatchStatus
from console.present.trail import Trail


def fake_status(**changes: object) -> WatchStatus:
    """Give the status of a healthy live watch, then change what is named."""
    fields: dict[str, object] = {
        "mode": "Live", "endpoint": "tcp://127.0.0.1:5556", "samples_per_s": 20.0, "lost": 0,
        "recording": "2031-04-11 kittiwake.leadmark", "limits_title": "Port C final approach",
        "limits_revision": 7, "limits_sha256": fake_limits().sha256,
    }  # fmt: skip
    fields.update(changes)
    return WatchStatus(**fields)  # type: ignore[arg-type]


@dataclass
class FakePort:
    """Gives what it was handed and keeps what it was told."""

    newest: Snapshot | None = None
    limits: LimitsFile = field(default_factory=fake_limits)
    trail: Trail = field(default_factory=Trail)
    events: list[AnyEvent] = field(default_factory=list)
    actions: list[AnyAction] = field(default_factory=list)
    now: WatchStatus = field(default_factory=fake_status)

    def snapshot(self) -> Snapshot | None:
        """Give the newest snapshot."""
        return self.newest

    def take_events(self) -> list[AnyEvent]:
        """Give and forget the events."""
        taken, self.events = self.events, []
        return taken

    def act(self, action: AnyAction) -> None:
        """Keep an action."""
        self.actions.append(action)

    def status(self) -> WatchStatus:
        """Give the status."""
        return self.now
