"""The list of exceedances: standing ones first, what waits for its acknowledgement marked.

The list is cut to the rows there are, but neither a standing warning nor what is shelved is ever
left out: those that get no line of their own are packed by their short names on the last rows.
"""

from __future__ import annotations

from dataclasses import dataclass

from console.approach.snapshot import ExceedanceNow, ShelvedNow, Snapshot
from console.envelope.limits import Level
from console.present import text
from console.present.tone import Tone, mark_of, tone_of

AHEAD = "ahead   "
"""Stands in the column of times, as wide as a time, for what is still to come."""


@dataclass(frozen=True, slots=True)
class ExceedanceLine:
    """One exceedance as a line."""

    key: str
    time: str
    mark: str
    level_word: str
    words: str
    action: str
    state: str
    tone: Tone
    is_standing: bool
    is_unacknowledged: bool
    is_warning: bool
    name: str
    """Short: the limit's id, for a packed row."""
    id: str = ""
    source: str | None = None
    level: str = ""
    is_shelved: bool = False
    """Not an exceedance but a shelving, with its time left."""
    is_note: bool = False
    """Not an exceedance but an advisory about light or link ahead."""

    @property
    def blinks(self) -> bool:
        """Whether it may blink: only an unacknowledged warning does."""
        return self.is_unacknowledged and self.is_warning

    @property
    def spoken(self) -> str:
        """The line as one sentence for a screen reader."""
        parts = (self.time, self.level_word.lower(), self.words, self.action, self.state)
        return ", ".join(part.strip() for part in parts if part)


@dataclass(frozen=True, slots=True)
class ExceedancesView:
    """All lines in the order of need, and how many there are of each kind."""

    lines: tuple[ExceedanceLine, ...]
    summary: str

    @property
    def waiting(self) -> tuple[ExceedanceLine, ...]:
        """Lines that wait for an acknowledgement, worst first."""
        found = [line for line in self.lines if line.is_unacknowledged]
        return tuple(sorted(found, key=lambda line: (not line.is_warning, not line.is_standing)))


@dataclass(frozen=True, slots=True)
class Fitted:
    """What a list of limited height shows: full lines, packed names, and how many more."""

    lines: tuple[ExceedanceLine, ...]
    packed: tuple[ExceedanceLine, ...] = ()
    more: str = ""


def exceedances(snapshot: Snapshot | None) -> ExceedancesView:
    """Give the list of a snapshot; None is a watch that has no state yet."""
    if snapshot is None:
        return ExceedancesView((), "none")
    seen = [e for e in snapshot.exceedances if not (e.shelved and e.cleared is None)]
    lines = [_line(e, snapshot.t) for e in seen]
    standing = sum(line.is_standing for line in lines)
    waiting = sum(line.is_unacknowledged for line in lines)
    summary = f"{standing} standing · {waiting} unacknowledged · {len(lines) - standing} cleared"
    shelved = [_shelved(s) for s in snapshot.shelved]
    if shelved:
        summary += f" · {len(shelved)} shelved"
    lines += shelved
    lines += [_note(words) for words in snapshot.outlook_notes]
    if snapshot.outlook_notes:
        summary += f" · {text.count(len(snapshot.outlook_notes), 'advisory', 'advisories')}"
    lines.sort(key=_rank)
    return ExceedancesView(tuple(lines), summary if lines else "none")


def fit(view: ExceedancesView, full: int, chosen: str | None = None) -> Fitted:
    """Cut the list to a number of full lines.

    Parameters
    ----------
    full : int
        How many get a line of their own.
    chosen : str, optional
        Key of a line that must be among them; it takes the last place if it is not.

    Returns
    -------
    Fitted
        Those lines; the standing warnings and the shelved among the rest, to be named; and how
        many more there are of other kinds, in words.
    """
    shown = view.lines[:full]
    kept = next((line for line in view.lines[full:] if line.key == chosen), None)
    if kept is not None:
        shown = (*shown[:-1], kept)
    rest = tuple(line for line in view.lines if line not in shown)
    warnings = tuple(line for line in rest if line.is_standing and line.is_warning)
    packed = (*warnings, *(line for line in rest if line.is_shelved))
    notes = sum(line.is_note for line in rest)
    standing = sum(line.is_standing for line in rest) - len(warnings) - notes
    cleared = sum(not line.is_standing and not line.is_shelved for line in rest)
    words = [f"+{standing} more standing"] if standing else []
    if notes:
        words.append(f"+{text.count(notes, 'advisory', 'advisories')}")
    if cleared:
        words.append(f"+{cleared} cleared")
    return Fitted(shown, packed, ", ".join(words))


def _rank(line: ExceedanceLine) -> int:
    """Keep the snapshot's order: what stands, what waits, advisories, shelved, cleared."""
    if line.is_note:
        return 2
    if line.is_standing:
        return 0
    if line.is_unacknowledged:
        return 1
    return 3 if line.is_shelved else 4


def _line(e: ExceedanceNow, now: float) -> ExceedanceLine:
    standing = e.cleared is None
    waiting = e.waits and e.acknowledged_by is None and e.level is not Level.ADVISORY
    loud = standing or waiting
    return ExceedanceLine(
        key=e.key,
        time=text.clock(e.raised),
        mark=mark_of(e.level),
        level_word=e.level.word.upper(),
        words=e.words if e.source is None or e.source in e.words else f"{e.source}: {e.words}",
        action=e.action if standing else "",
        state=_state(e, now, standing=standing, waiting=waiting),
        tone=tone_of(e.level) if loud else Tone.QUIET,
        is_standing=standing,
        is_unacknowledged=waiting,
        is_warning=e.level is Level.WARNING,
        name=_name(e.id, e.source),
        id=e.id,
        source=e.source,
        level=e.level.word,
    )


def _shelved(s: ShelvedNow) -> ExceedanceLine:
    """Give the line of a shelving: what, why, who, and how long it still lasts."""
    name = _name(s.id, s.source)
    left = f"{text.duration(s.left_s, down=True)} left"
    return ExceedanceLine(
        key=f"shelved:{s.id}/{s.source}/{s.level.word}",
        time=text.clock(s.t),
        mark="",
        level_word="SHELVED",
        words=f"{s.level.word} {name}: {s.reason} ({s.initials})",
        action="",
        state=f"would stand, {left}" if s.standing else left,
        tone=Tone.PLAIN if s.standing else Tone.QUIET,
        is_standing=False,
        is_unacknowledged=False,
        is_warning=False,
        name=f"shelved {name} {left}",
        id=s.id,
        source=s.source,
        level=s.level.word,
        is_shelved=True,
    )


def _note(note: str) -> ExceedanceLine:
    """Give the line of an advisory about light or link; what avoids it stands as its action."""
    words, _, action = note.partition("; ")
    return ExceedanceLine(
        key=f"{AHEAD.strip()}:{words}",
        time=AHEAD,
        mark=mark_of(Level.ADVISORY),
        level_word=Level.ADVISORY.word.upper(),
        words=words,
        action=action,
        state="",
        tone=Tone.PLAIN,
        is_standing=True,
        is_unacknowledged=False,
        is_warning=False,
        name=words,
        level=Level.ADVISORY.word,
        is_note=True,
    )


def _name(id_: str, source: str | None) -> str:
    return id_ if source is None else f"{id_} {source}"


def _state(e: ExceedanceNow, now: float, *, standing: bool, waiting: bool) -> str:
    if not standing:
        if waiting:
            return "cleared, unacknowledged"
        return f"cleared, {e.acknowledged_by}" if e.acknowledged_by else "cleared"
    since = text.duration(now - e.raised)
    return f"unacknowledged {since}" if waiting else f"standing {since}"
