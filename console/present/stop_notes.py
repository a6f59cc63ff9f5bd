"""Until when a called stop still helps, in words."""

from __future__ import annotations

from console.approach.event import Phase
from console.approach.snapshot import Snapshot
from console.present import text
from console.present.cell import BLANK, Note
from console.present.tone import Tone
from console.tracking.outlook import Motion, StopFigures


def stop_notes(s: Snapshot) -> tuple[Note, Note]:
    """Give the two notes under the hands-off countdown.

    Inside the hands-off range no call helps; outside it the last useful call is said, cut to
    whole seconds so that it never promises more than there is.
    """
    if s.phase is Phase.HANDS_OFF:
        return Note("only the vehicle itself may abort", Tone.PLAIN), BLANK
    if s.stop is None or s.motion is not Motion.CLOSING:
        return BLANK, BLANK
    return _calls(s.stop)


def _calls(stop: StopFigures) -> tuple[Note, Note]:
    last, safe = stop.hold_call_s, stop.hold_call_safe_s
    if last is None or last < 0.0:
        return Note("too late to stop outside hands-off", Tone.STRONG), _before_contact(stop)
    first = Note(f"a stop must be called within {text.duration(last, down=True)}", Tone.STRONG)
    if safe is None:
        return first, BLANK
    if safe < 0.0:
        return first, Note("no longer on the safe side")
    return first, Note(f"on the safe side within {text.duration(safe, down=True)}")


def _before_contact(stop: StopFigures) -> Note:
    call = stop.contact_call_s
    if call is None or call < 0.0:
        return Note("too late to stop before contact", Tone.PLAIN)
    return Note(f"before contact: within {text.duration(call, down=True)}", Tone.PLAIN)
