"""What the entry line tells of what the state model answered to the operator."""

from __future__ import annotations

from console.approach.event import AnyEvent, HoldReleased, Refused, Unshelved
from console.present import text


def message_of(event: AnyEvent) -> str | None:
    """Give the line an event is worth, None for none; a refusal begins with ``!``."""
    match event:
        case Refused():
            return f"! {event.words}"
        case HoldReleased():
            where = f"{text.number(event.range_m, 0)} m"
            return f"the {where} hold is released: recorded, nothing was commanded"
        case Unshelved(initials=""):
            stands = ", and stands" if event.standing else ""
            return f"{event.level} {event.id} is back from the shelf: time is up{stands}"
    return None
