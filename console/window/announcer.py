"""Says new exceedances and calls to a screen reader, warnings so that they interrupt."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import QObject
from PySide6.QtGui import QAccessible, QAccessibleAnnouncementEvent

from console.approach.event import (
    AnyEvent,
    ContactMade,
    ExceedanceRaised,
    HandsOffPassed,
    MarkPassed,
)
from console.envelope.limits import Level

SPOKEN_CALLS = (MarkPassed, HandsOffPassed, ContactMade)


def announcements(events: Sequence[AnyEvent]) -> list[tuple[str, bool]]:
    """Give what is to be said, warnings first, and whether it interrupts."""
    raised = [e for e in events if isinstance(e, ExceedanceRaised) and not e.shelved]
    said = [(f"{e.level}: {e.words}", e.level == Level.WARNING.word) for e in raised]
    said.sort(key=lambda pair: not pair[1])
    said += [(e.words, False) for e in events if isinstance(e, SPOKEN_CALLS)]
    return said


def announce(source: QObject, events: Sequence[AnyEvent]) -> None:
    """Hand what is to be said to the screen reader, if there is one."""
    if not QAccessible.isActive():
        return
    for words, interrupts in announcements(events):
        event = QAccessibleAnnouncementEvent(source, words)
        politeness = QAccessible.AnnouncementPoliteness
        event.setPoliteness(politeness.Assertive if interrupts else politeness.Polite)
        QAccessible.updateAccessibility(event)
