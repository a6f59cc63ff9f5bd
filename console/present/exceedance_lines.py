"""The list of exceedances: standing ones first, what waits for its acknowledgement marked.

The list is cut to the rows there are, but a standing warning is never left out: those that get
no line of their own are packed by their short names on the last rows.
"""

from __future__ import annotations

from dataclasses import dataclass

from console.approach.snapshot import ExceedanceNow, Snapshot
from console.envelope.limits import Level
from console.present import text
from console.present.tone import Tone, mark_of, tone_of


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

    @property
    def blinks(self) -> bool:
        """Whether it may blink: only an unacknowledged warning does."""
        return self.is_unacknowledged and self.is_warning

    @property
    def spoken(self) -> str:
        """The line as one sentence for a screen reader."""
        parts = (self.time, self.level_word.lower(), self.words, self.action, self.state)
        return ", ".join(part for part in parts if part)


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
    lines = [_line(e, snapshot.t) for e in snapshot.exceedances]
    lines.sort(key=_rank)
    standing = sum(line.is_standing for line in lines)
    waiting = sum(line.is_unacknowledged for line in lines)
    summary = f"{standing} standing · {waiting} unacknowledged · {len(lines) - standing} cleared"
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
        Those lines; the standing warnings among the rest, to be named; and how many more there
        are of other kinds, in words.
    """
    shown = view.lines[:full]
    kept = next((line for line in view.lines[full:] if line.key == chosen), None)
    if kept is not None:
        shown = (*shown[:-1], kept)
    rest = tuple(line for line in view.lines if line not in shown)
    packed = tuple(line for line in rest if line.is_standing and line.is_warning)
    standing = sum(line.is_standing for line in rest) - len(packed)
    cleared = sum(not line.is_standing for line in rest)
    words = [f"+{standing} more standing"] if standing else []
    if cleared:
        words.append(f"+{cleared} cleared")
    return Fitted(shown, packed, ", ".join(words))


def _rank(line: ExceedanceLine) -> int:
    """Keep the snapshot's order, but lift what waits above what is cleared and acknowledged."""
    if line.is_standing:
        return 0
    return 1 if line.is_unacknowledged else 2


def _line(e: ExceedanceNow, now: float) -> ExceedanceLine:
    standing = e.cleared is None
    waiting = e.acknowledged_by is None and e.level is not Level.ADVISORY
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
        name=e.id if e.source is None else f"{e.id} {e.source}",
    )


def _state(e: ExceedanceNow, now: float, *, standing: bool, waiting: bool) -> str:
    if not standing:
        if waiting:
            return "cleared, unacknowledged"
        return f"cleared, {e.acknowledged_by}" if e.acknowledged_by else "cleared"
    since = text.duration(now - e.raised)
    return f"unacknowledged {since}" if waiting else f"standing {since}"
