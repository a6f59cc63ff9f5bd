"""How the operator stands to one limit or data check: its state, what stands, what waits."""

from __future__ import annotations

from dataclasses import dataclass, field

from console.core.errors import UsageError
from console.envelope.limits import Level
from console.judging.exceedance import Exceedance, State, Trigger, advance


@dataclass(frozen=True, slots=True)
class Shelving:
    """That somebody put a limit aside for a while, and why.

    Attributes
    ----------
    id, source, level
        What is shelved; ``source`` is None for a limit.
    initials, reason : str
        Who, and why.
    t : float
        When, UTC s.
    until : float
        When it comes back by itself, UTC s.
    """

    id: str
    source: str | None
    level: Level
    initials: str
    reason: str
    t: float
    until: float


@dataclass(slots=True)
class Life:
    """One life: a limit's, or a data check's of one source at one level.

    Attributes
    ----------
    state : State
        Moved by the transition table alone.
    standing : Exceedance or None
        The record that stands.
    waiting : list of Exceedance
        Records that wait for acknowledgement, oldest first.
    shelving : Shelving or None
        Set while shelved.
    raisings : int
        How often it was raised.
    """

    state: State = State.NORMAL
    standing: Exceedance | None = None
    waiting: list[Exceedance] = field(default_factory=list)
    shelving: Shelving | None = None
    raisings: int = 0

    def raise_(self, record: Exceedance) -> None:
        """Take a record as raised; shelved, it does not wait for anybody."""
        self.state = advance(self.state, Trigger.CONDITION_TRUE)
        if self.standing is not None:
            raise UsageError(f"{record.id} stands already, as {self.standing.key}")
        self.standing = record
        self.raisings += 1
        record.waits = self.state is not State.SHELVED
        if record.waits:
            self.waiting.append(record)

    def clear(self, record: Exceedance) -> None:
        """Take the standing record as cleared."""
        self.state = advance(self.state, Trigger.CONDITION_CLEAR)
        if self.standing is not record:
            raise UsageError(f"{record.key} cleared, but it does not stand")
        self.standing = None

    def acknowledge(self, record: Exceedance, initials: str, t: float) -> None:
        """Confirm a record that waits; with the last one the life itself is acknowledged."""
        self._stop_waiting(record)
        record.acknowledged_by, record.acknowledged_t = initials, t

    def forget(self, record: Exceedance) -> None:
        """Give up waiting for a cleared record that no longer fits into the history."""
        self._stop_waiting(record)

    def shelve(self, shelving: Shelving) -> None:
        """Stop asking for attention; nothing waits any longer."""
        self.state = advance(self.state, Trigger.SHELVE)
        self.shelving = shelving
        self._wait_for_nothing()

    def release(self) -> Shelving | None:
        """End the shelving; what stands is as if new."""
        standing = self.standing
        trigger = Trigger.RELEASE_STANDING if standing else Trigger.RELEASE_CLEAR
        self.state = advance(self.state, trigger)
        shelving, self.shelving = self.shelving, None
        if standing is not None:
            standing.waits = True
            standing.acknowledged_by = standing.acknowledged_t = None
            self.waiting.append(standing)
        return shelving

    def _stop_waiting(self, record: Exceedance) -> None:
        self.waiting.remove(record)
        record.waits = False
        if not self.waiting:
            self.state = advance(self.state, Trigger.ACKNOWLEDGE)

    def _wait_for_nothing(self) -> None:
        for record in self.waiting:
            record.waits = False
        self.waiting.clear()
