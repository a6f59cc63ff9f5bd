"""What is well about contact, in words on the time strip: daylight, link coverage.

They stand in the row of the link, beyond the line of contact, where a good pass leaves room; what
is not well is an advisory among the exceedances instead.
"""

from __future__ import annotations

from collections.abc import Sequence

from console.approach.snapshot import Snapshot
from console.present.plot_scene import Box, Meter
from console.present.time_strip_events import CONTACT, StripEvent

_GAP_PX = 5.0


def fact_wordings(snapshot: Snapshot) -> tuple[str, ...]:
    """Give wordings of what is well about contact, the longest first; none where nothing is."""
    facts = snapshot.outlook_facts
    if not facts:
        return ()
    short = [_first_clause(fact) for fact in facts]
    return tuple(dict.fromkeys((_joined(facts, "; "), _joined(short, ", "))))


def _first_clause(fact: str) -> str:
    return fact.split(",", maxsplit=1)[0].split(" (", maxsplit=1)[0]


def _joined(facts: Sequence[str], between: str) -> str:
    """Join sentences about contact, naming it once."""
    said, *more = facts
    subject = f"{CONTACT.capitalize()} "
    rest = (fact.removeprefix(subject) for fact in more)
    return between.join([said[:1].lower() + said[1:], *rest])


def fact_slots(
    wordings: Sequence[str], row: Box, from_px: float, meter: Meter
) -> list[tuple[Box, str]]:
    """Give the places that would do with their words, the best first.

    Parameters
    ----------
    from_px : float
        The line of contact, or of now where contact lies out of sight.
    """
    places: list[tuple[Box, str]] = []
    for words in wordings:
        width = meter.width(words)
        lefts = (from_px + _GAP_PX, row.right - width - _GAP_PX)
        boxes = (Box(left, row.top, width, row.height) for left in lefts if left >= from_px)
        places += [(box, words) for box in boxes]
    return places


def contact_ahead(shown: Sequence[StripEvent]) -> StripEvent | None:
    """Give contact among the events in sight, if it is still to come."""
    return next((e for e in shown if e.key == CONTACT and e.at_s > 0.0), None)
