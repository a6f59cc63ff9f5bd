"""The true events of a run, each with the window in which a call answers it.

Milestones (marks, hands-off, contact, soft capture) come from the truth. An exceedance is one as
the console judged it on what was received: that is what a trainee could see. Whether the true
state violated the limit too is kept beside it. All exceedances of one quantity that overlap are
one event, since one call answers them; so are all faults of the data.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from console.approach.event import AnyEvent, ExceedanceCleared, ExceedanceRaised
from console.envelope.limits import Level, LimitsFile
from console.rehearsal.calls import DATA, MARK, SEEN, STOP, subject_of, words_of
from console.rehearsal.exercise import Rules
from console.rehearsal.matching import TrueEvent
from console.rehearsal.truth import RunTruth

WARNING = Level.WARNING.word
CALLED_LEVELS = frozenset({Level.CAUTION.word, WARNING})
"""Advisories inform; nobody has to call them."""


@dataclass(frozen=True, slots=True)
class Stood:
    """An exceedance as it was judged: from its onset until it cleared (infinite: to the end)."""

    subject: str
    id: str
    level: str
    words: str
    onset: float
    raised: float
    cleared: float


def stood_of(events: Iterable[AnyEvent], limits: LimitsFile) -> tuple[Stood, ...]:
    """Give the cautions and warnings among events, of limits and of data, in order of onset."""
    subjects: dict[str, str] = {one.id: subject_of(one.quantity) for one in limits.limits}
    raised: list[ExceedanceRaised] = []
    cleared: dict[tuple[str, float], float] = {}
    for event in events:
        if isinstance(event, ExceedanceRaised):
            if event.level in CALLED_LEVELS:
                raised.append(event)
        elif isinstance(event, ExceedanceCleared):
            cleared[event.key, event.onset] = event.t
    found = []
    for event in raised:
        about = SEEN + DATA if event.id.startswith("data:") else subjects.get(event.id)
        if about is not None:
            end = cleared.get((event.key, event.onset), math.inf)
            found.append(
                Stood(about, event.id, event.level, event.words, event.onset, event.t, end)
            )
    return tuple(sorted(found, key=lambda stood: (stood.onset, stood.id)))


def true_events(
    truth: RunTruth, stood: Sequence[Stood], limits: LimitsFile, rules: Rules, t_end: float
) -> tuple[TrueEvent, ...]:
    """Give everything that ought to be called, in order of time.

    Parameters
    ----------
    truth : RunTruth
    stood : sequence of Stood
        Of the run.
    limits : LimitsFile
        In force.
    rules : Rules
        Length of the windows.
    t_end : float
        When the run ended, UTC seconds; what came later was never shown.
    """
    events = [*_milestones(truth, rules)]
    before = [s for s in stood if truth.contact is None or s.onset < truth.contact]
    for subject in dict.fromkeys(s.subject for s in before):
        events += _episodes([s for s in before if s.subject == subject], truth, limits, rules)
    due = stop_due(before, truth, rules)
    events += [] if due is None else [due]
    return tuple(sorted((e for e in events if e.t <= t_end), key=lambda e: (e.t, e.subject)))


def stop_due(stood: Sequence[Stood], truth: RunTruth, rules: Rules) -> TrueEvent | None:
    """Give the moment a stop was called for: the first warning of a limit, while a stop helps."""
    warnings = [s for s in stood if s.level == WARNING and s.subject != SEEN + DATA]
    until = truth.hold_until
    first = min(warnings, key=lambda s: s.raised, default=None)
    if first is None or until is None or first.raised > until:
        return None
    opens = first.onset - rules.early_s
    return TrueEvent(STOP, first.raised, opens, until, level=first.level, words=first.words)


def _milestones(truth: RunTruth, rules: Rules) -> Iterable[TrueEvent]:
    passed = [(f"{MARK}{range_m:g}", t) for range_m, t in truth.marks]
    for subject, t in (
        ("hands_off", truth.hands_off),
        ("contact", truth.contact),
        ("soft_capture", truth.soft_capture),
    ):
        if t is not None:
            passed.append((subject, t))
    for subject, t in passed:
        yield TrueEvent(
            subject, t, t - rules.early_s, t + rules.response_s, words=words_of(subject)
        )


def _episodes(
    stood: Sequence[Stood], truth: RunTruth, limits: LimitsFile, rules: Rules
) -> list[TrueEvent]:
    """Join what overlaps of one subject; ``stood`` is in order of onset."""
    groups: list[list[Stood]] = []
    for one in stood:
        if groups and one.onset <= max(s.cleared for s in groups[-1]):
            groups[-1].append(one)
        else:
            groups.append([one])
    return [_episode(group, truth, limits, rules) for group in groups]


def _episode(
    group: Sequence[Stood], truth: RunTruth, limits: LimitsFile, rules: Rules
) -> TrueEvent:
    onset, until = group[0].onset, max(s.cleared for s in group)
    worst = next((s for s in group if s.level == WARNING), group[0])
    closes = onset + rules.response_s
    return TrueEvent(
        subject=worst.subject,
        t=onset,
        opens=onset - rules.early_s,
        closes=closes,
        until=max(until, closes),
        level=worst.level,
        words=worst.words,
        was_true=_was_true(worst.subject, onset, until, truth, limits),
    )


def _was_true(
    subject: str, onset: float, until: float, truth: RunTruth, limits: LimitsFile
) -> bool | None:
    if truth.violations is None or subject == SEEN + DATA:
        return None
    same = {one.id for one in limits.limits if subject_of(one.quantity) == subject}
    return any(
        id_ in same and begin <= until and (math.inf if end is None else end) >= onset
        for id_, begin, end in truth.violations
    )
