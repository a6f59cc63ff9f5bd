"""Every exceedance of a watch, limits' and data checks' alike: what stands, waits, was.

What stands is never dropped and never shelved out of the record. Cleared records are kept up to a
number; those beyond it are counted. Time is an argument of everything.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator
from itertools import islice
from typing import TypeAlias

from console.core.errors import InputError, UsageError
from console.envelope.limits import Level, LimitsFile
from console.judging.exceedance import Exceedance, LifeChange, State
from console.judging.life import Life, Shelving

CAPACITY = 1000
LONGEST_SHELVING_S = 1800.0
"""Half an hour: longer than the last two hundred metres, shorter than a watch."""
LINK_CHECK = "data:link"
NORMAL, SHELVED = State.NORMAL, State.SHELVED

LifeKey: TypeAlias = tuple[str, str | None, Level]
"""Id, source (None for a limit) and level: whose life it is."""


class Register:
    """The exceedances of one watch.

    Parameters
    ----------
    never_shelve : collection of str
        Ids whose shelving is refused.
    capacity : int
        Cleared records kept.

    Attributes
    ----------
    dropped : int
        Cleared records that no longer fitted.
    """

    def __init__(self, never_shelve: Collection[str] = (), capacity: int = CAPACITY) -> None:
        self._never_shelve = frozenset(never_shelve)
        self._capacity = capacity
        self._lives: dict[LifeKey, Life] = {}
        self._records: dict[str, Exceedance] = {}  # all kept ones, in the order raised
        self._standing: dict[str, Exceedance] = {}  # in the order raised
        self._cleared: dict[str, Exceedance] = {}  # in the order cleared
        self.dropped = 0

    @classmethod
    def of(cls, limits: LimitsFile, capacity: int = CAPACITY) -> Register:
        """Make the register of a limits file; a silent link can never be shelved either."""
        fixed = {limit.id for limit in limits.limits if limit.never_shelve}
        return cls(fixed | {LINK_CHECK}, capacity)

    # -- the judges' side ------------------------------------------------------------------

    def raise_(self, record: Exceedance) -> Exceedance:
        """Take in an exceedance that was just raised.

        Raises
        ------
        UsageError
            One of the same id, source and level stands already, or the key was used before.
        """
        if record.key in self._records:
            raise UsageError(f"the key {record.key} was used before")
        self._life(record).raise_(record)
        self._records[record.key] = self._standing[record.key] = record
        return record

    def take(self, change: LifeChange) -> None:
        """Take in what the judge says: an exceedance raised, or cleared."""
        if change.raised:
            self.raise_(change.exceedance)
        else:
            self.clear(change.exceedance)

    def raise_data(
        self,
        id_: str,
        source: str,
        level: Level,
        onset: float,
        raised: float,
        words: str,
        action: str = "",
    ) -> Exceedance:
        """Make and take in a data check's exceedance; its key is given here."""
        count = self._lives.get((id_, source, level), Life()).raisings + 1
        key = f"{id_}/{source}/{level.word}#{count}"
        return self.raise_(
            Exceedance(key, id_, level, onset, raised, source=source, action=action, words=words)
        )

    def clear(self, record: Exceedance) -> None:
        """Take in that a standing exceedance has cleared, at the time it says."""
        self._life(record).clear(record)
        del self._standing[record.key]
        self._cleared[record.key] = record
        if len(self._cleared) > self._capacity:
            self._drop_one()

    def clear_data(self, record: Exceedance, t: float) -> None:
        """Clear a data check's exceedance."""
        record.cleared = t
        self.clear(record)

    def standing(self, life: LifeKey) -> Exceedance | None:
        """Give what stands of a limit or data check."""
        found = self._lives.get(life)
        return found.standing if found else None

    # -- the operator's side ---------------------------------------------------------------

    def acknowledge(self, key: str, initials: str, t: float) -> Exceedance | None:
        """Confirm having recognised an exceedance.

        Returns
        -------
        Exceedance or None
            None where the key is unknown or does not wait: two hands may press at once.
        """
        record = self._records.get(key)
        if record is None or not record.waits:
            return None
        self._life(record).acknowledge(record, initials, t)
        return record

    def acknowledge_all(self, initials: str, t: float) -> tuple[Exceedance, ...]:
        """Confirm everything that waits, in the order it was raised."""
        waiting = self.unacknowledged()
        for record in waiting:
            self.acknowledge(record.key, initials, t)
        return waiting

    def unacknowledged(self) -> tuple[Exceedance, ...]:
        """Give what waits for acknowledgement, in the order it was raised."""
        return tuple(record for record in self._records.values() if record.waits)

    def shelve(self, key: LifeKey, initials: str, reason: str, t: float, for_s: float) -> Shelving:
        """Put a limit or data check aside for a while; it is still judged and recorded.

        Parameters
        ----------
        key : tuple
            Id, source (None for a limit) and level; it need not stand.
        initials, reason : str
            Who, and why.
        t, for_s : float
            Now, and for how many seconds.

        Raises
        ------
        InputError
            It may never be shelved, is shelved already, a name or reason is missing, or the
            time is not within what is allowed.
        """
        id_text, source, level = key
        life = self._lives.setdefault(key, Life())
        place, mend = _refusal(initials, reason, for_s)
        if id_text in self._never_shelve:
            place, mend = "never_shelve", "this one always asks for attention"
        elif life.state is State.SHELVED:
            place, mend = "shelved already", "release it first"
        if place:
            raise InputError.of("shelve", id_text, place, mend)
        shelving = Shelving(id_text, source, level, initials, reason, t, t + for_s)
        life.shelve(shelving)
        return shelving

    def release(self, key: LifeKey) -> Shelving | None:
        """End a shelving by hand; None where nothing is shelved."""
        life = self._lives.get(key)
        return life.release() if life and life.state is State.SHELVED else None

    def expire(self, t: float) -> tuple[Shelving, ...]:
        """End every shelving whose time is up; give them in the order they were due."""
        due = sorted(
            (shelving for shelving in self.shelvings() if shelving.until <= t),
            key=lambda shelving: (shelving.until, shelving.id, shelving.source or ""),
        )
        for shelving in due:
            self.release((shelving.id, shelving.source, shelving.level))
        return tuple(due)

    # -- what there is ---------------------------------------------------------------------

    def listed(self, cleared_most: int | None = None) -> tuple[Exceedance, ...]:
        """Give what stands, then what has cleared.

        Standing ones come worst level first, then first-out (in the order raised), those
        shelved last; cleared ones newest first, no more than asked for.
        """
        standing = sorted(
            self._standing.values(), key=lambda record: (self.is_shelved(record), -record.level)
        )
        return (*standing, *islice(reversed(self._cleared.values()), cleared_most))

    def shelvings(self) -> tuple[Shelving, ...]:
        """Give what is shelved now."""
        return tuple([life.shelving for life in self._lives.values() if life.shelving])

    def is_shelved(self, record: Exceedance) -> bool:
        """Tell whether the limit or data check of a record is shelved now."""
        return self.state((record.id, record.source, record.level)) is SHELVED

    def state(self, key: LifeKey) -> State:
        """Give the state of a limit or data check."""
        life = self._lives.get(key)
        return life.state if life else NORMAL

    def worst_standing(self) -> Level | None:
        """Give the worst level that stands and is not shelved."""
        levels = (r.level for r in self._standing.values() if not self.is_shelved(r))
        return max(levels, default=None)

    def __iter__(self) -> Iterator[Exceedance]:
        """Go through all kept records in the order raised."""
        return iter(self._records.values())

    def _life(self, record: Exceedance) -> Life:
        return self._lives.setdefault((record.id, record.source, record.level), Life())

    def _drop_one(self) -> None:
        """Drop the oldest cleared record that waits for nobody, or else the oldest."""
        idle = (record for record in self._cleared.values() if not record.waits)
        record = next(idle, None) or next(iter(self._cleared.values()))
        del self._records[record.key], self._cleared[record.key]
        if record.waits:
            self._life(record).forget(record)
        self.dropped += 1


def _refusal(initials: str, reason: str, for_s: float) -> tuple[str, str]:
    if not initials.strip():
        return "no initials", "say who shelves it"
    if not reason.strip():
        return "no reason", "say why it is shelved"
    if not 0.0 < for_s <= LONGEST_SHELVING_S:
        return f"for {for_s:g} s", f"allowed: above 0, at most {LONGEST_SHELVING_S:g} s"
    return "", ""
