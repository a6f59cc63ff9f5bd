"""Capture as statuses tell it: merged fields, steps seen, checks running, what is missing.

The book holds no phase: it gives evidence to the state model, which asks the table, and is told
where that led. Its watches (hooks, damping, leak) follow statuses alone; what is awaited follows
engine time as well, so that a replay finds the same thing late at the same tick.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import msgspec

from console.approach.capture_evidence import (
    HOOK_CLOSED,
    RING_HOME,
    RING_MOVED,
    against,
    open_hooks,
    shown,
)
from console.approach.capture_flags import CaptureFlags
from console.approach.capture_hooks import HookWatch
from console.approach.capture_now import DampingVerdict
from console.approach.capture_reading import readable
from console.approach.capture_standing import Standing, standing
from console.approach.capture_table import TABLE, Evidence, Sense
from console.approach.capture_wait import WaitBook
from console.approach.capture_words import damping_line, leak_line
from console.approach.contact import ContactBook
from console.approach.damping_watch import DampingWatch
from console.approach.event import AnyEvent, CaptureStep, CaptureVerdict, Phase
from console.approach.leak_watch import LeakWatch
from console.approach.phase import CHAIN
from console.approach.snapshot import CaptureNow
from console.core.ids import SourceId
from console.core.records import CaptureStatus
from console.core.units import MICROSECOND_S
from console.envelope.setup import Vestibule
from console.judging.register import Register

SOURCES_KEPT = 16
CONFIRM_S = 0.6
"""A contradiction must stand so long, longer than one status at two a second: a single bad one
declares nothing."""
SET_BACK_S = 2.0
"""A status so much older than the one before, though in order, comes by a clock set back."""
UNHEARD = "capture"
"""Stands for the source while no status was ever received; nothing is raised in its name."""

_FIELDS = tuple(
    name for name in CaptureStatus.__struct_fields__ if name not in ("source", "seq", "t")
)


@dataclass(frozen=True, slots=True)
class Heard:
    """When a source of capture statuses was last heard: by engine time, and by its own."""

    engine_s: float
    t: float


class CaptureBook:
    """What capture has shown so far.

    Parameters
    ----------
    register : Register
        Told of what is late, lags, contradicts or fails.
    vestibule : Vestibule
        What is leak-checked.
    """

    def __init__(self, register: Register, vestibule: Vestibule) -> None:
        self.merged: CaptureStatus | None = None
        self.heard: dict[SourceId, Heard] = {}
        self.flags = CaptureFlags(register)
        self.hooks = HookWatch()
        self.damping = DampingWatch()
        self.leak = LeakWatch(vestibule)
        self.waits = WaitBook()
        self._first: dict[str, float] = {}
        self._was_contact_reported = False
        self._against: dict[Evidence, Heard] = {}
        self._parted_t: float | None = None

    # ------------------------------------------------------------------ statuses

    def take(
        self, status: CaptureStatus, engine_s: float, *, is_late: bool = False
    ) -> Iterator[AnyEvent]:
        """Merge a status; give each step seen for the first time, and each verdict changed.

        Parameters
        ----------
        status : CaptureStatus
        engine_s : float
            Now, engine time.
        is_late : bool
            Its source had sent a newer one before, by its counter. Its time alone cannot tell: one
            wrong time far ahead would make every later status look late.
        """
        status = readable(status)
        self._note_clock(status, is_late=is_late)
        self._note_heard(status, engine_s)
        merged = self.merged = _merged(self.merged, status, is_late=is_late)
        self._was_contact_reported |= bool(merged.contact)
        self.hooks.take(status.hooks, engine_s)
        told = list(self._check(status, merged))
        for step, words in _steps(merged, self.damping.is_settled, self.leak.passes):
            if step not in self._first:
                self._first[step] = status.t
                yield CaptureStep(t=status.t, step=step, words=words)
        yield from told

    def _note_heard(self, status: CaptureStatus, engine_s: float) -> None:
        if status.source in self.heard or len(self.heard) < SOURCES_KEPT:
            self.heard[status.source] = Heard(engine_s, status.t)

    def _note_clock(self, status: CaptureStatus, *, is_late: bool) -> None:
        """Begin the records of damping and leak anew where their source's clock was set back."""
        heard = self.heard.get(status.source)
        if heard is not None and not is_late and status.t < heard.t - SET_BACK_S:
            self.damping.set_back()
            self.leak.set_back()

    def _check(self, status: CaptureStatus, merged: CaptureStatus) -> Iterator[AnyEvent]:
        """Hand a status to the damping and leak watches; give the verdicts that changed."""
        ring = merged.ring_extension
        is_captured = bool(merged.soft_capture)
        is_retracting = ring is not None and ring < RING_MOVED
        if self.damping.take(status, is_captured=is_captured, is_retracting=is_retracting):
            damping = self.damping.picture()
            assert damping is not None
            yield CaptureVerdict(
                t=status.t,
                check="damping",
                verdict=damping.verdict,
                words=damping_line(damping, status.t),
            )
        if (is_captured or merged.hard_capture) and self.leak.take(status):
            leak = self.leak.picture()
            assert leak is not None
            yield CaptureVerdict(
                t=status.t, check="leak", verdict=leak.state, words=leak_line(leak)
            )

    def shown(self, *, is_touching: bool) -> list[Evidence]:
        """Give the evidence along the chain, in its order."""
        return list(shown(self.merged, is_touching=is_touching, leak_passed=self.leak.passes))

    def contradictions(self, phase: Phase, t: float, engine_s: float) -> list[Evidence]:
        """Give what has contradicted the phase for long enough to be believed."""
        present = {
            evidence
            for evidence in against(
                self.merged, phase, was_contact_reported=self._was_contact_reported
            )
            if TABLE[phase, evidence].sense in (Sense.CONTRADICTS, Sense.PARTED)
        }
        _, now_t = self.clock(t, engine_s)
        self._against = {
            e: self._against.get(e, Heard(engine_s, now_t)) for e in Evidence if e in present
        }
        return [e for e in self._against if self._is_confirmed(e, engine_s)]

    def _is_confirmed(self, evidence: Evidence, engine_s: float) -> bool:
        return engine_s - self._against[evidence].engine_s >= CONFIRM_S - MICROSECOND_S

    def part(self, t: float) -> None:
        """Take in that the vehicles have parted: what was captured may be captured again."""
        self._parted_t = t
        for step in ("soft_capture", "damped", "retracting", "retracted", "ready"):
            self._first.pop(step, None)

    # ------------------------------------------------------------------ time

    def clock(self, t: float, engine_s: float) -> tuple[str, float]:
        """Give who reports capture, and now on that source's clock; ``t`` where none does."""
        if not self.heard:
            return UNHEARD, t
        heard = max(self.heard.values(), key=lambda heard: heard.engine_s)
        return next(iter(self.heard)), heard.t + engine_s - heard.engine_s

    def look(self, phase: Phase, t: float, engine_s: float) -> Iterator[AnyEvent]:
        """Find what is late, lags, contradicts or fails at a time.

        Parameters
        ----------
        phase : Phase
            The phase now; before contact nothing is looked for.
        t : float
            Now, UTC, on the clock of the source in use.
        engine_s : float
            Now, engine time.
        """
        if phase not in CHAIN:
            return
        source, now_t = self.clock(t, engine_s)
        if self.merged is not None and self.merged.soft_capture:
            self._parted_t = None
        is_damping = phase in (Phase.SOFT_CAPTURE, Phase.DAMPING)
        self.waits.follow(
            phase, self.leak.stage, now_t, engine_s,
            is_damping=is_damping and not self.damping.is_settled,
        )  # fmt: skip
        wanted = standing(self._standing(phase, now_t, engine_s))
        yield from self.flags.look(wanted, source, now_t)

    def _standing(self, phase: Phase, t: float, engine_s: float) -> Standing:
        lagging = self.lagging(phase, engine_s)
        verdict, is_over = self.damping.verdict, self.damping.is_over
        damping = self.damping.picture() if verdict is DampingVerdict.NOT_SETTLING else None
        leak = self.leak.picture() if self.leak.fails else None
        return Standing(
            t=t,
            phase=phase,
            merged=self.merged,
            contradictions={
                e: since.t for e, since in self._against.items() if self._is_confirmed(e, engine_s)
            },
            parted_t=self._parted_t,
            awaited=self.waits.awaited(engine_s),
            lagging=lagging,
            lagging_words=self.hooks.words(lagging) if lagging else "",
            not_settling="" if damping is None or is_over else damping.words,
            is_unsettled=is_over
            and verdict in (DampingVerdict.SETTLING, DampingVerdict.NOT_SETTLING),
            leak_fails="" if leak is None else leak.words,
        )

    def next_timer_s(self, phase: Phase, engine_s: float) -> float | None:
        """Give the next engine time at which time alone finds something, None if it never does."""
        confirmed = (h.engine_s + CONFIRM_S for h in self._against.values())
        timers = [m for m in confirmed if m > engine_s + MICROSECOND_S]
        waits_s = self.waits.next_timer_s(engine_s)
        hooks_s = self.hooks.next_timer_s(engine_s) if phase is Phase.HOOKS else None
        timers += [m for m in (waits_s, hooks_s) if m is not None]
        return min(timers, default=None)

    def lagging(self, phase: Phase, engine_s: float) -> tuple[int, ...]:
        """Give the numbers of the hooks that lag, while hooks are driven."""
        return self.hooks.lagging(engine_s) if phase is Phase.HOOKS else ()

    # ------------------------------------------------------------------ the picture

    def age_s(self, engine_s: float) -> float | None:
        """Give how long ago the newest status was heard; None before any."""
        newest_s = max((heard.engine_s for heard in self.heard.values()), default=None)
        return None if newest_s is None else max(engine_s - newest_s, 0.0)

    def picture(
        self, contact: ContactBook, phase: Phase, engine_s: float, lost_after_s: float
    ) -> CaptureNow | None:
        """Give capture as the snapshot shows it; None before any status or contact."""
        merged, measured = self.merged, contact.measured()
        if merged is None:
            if measured is None:
                return None
            merged = CaptureStatus(SourceId(""), 0, measured.t)
        hooks = merged.hooks
        first = self._first.get
        predicted, age_s = contact.predicted(), self.age_s(engine_s)
        return CaptureNow(
            status=merged,
            t_contact=first("contact") if measured is None else measured.t,
            t_soft_capture=first("soft_capture"),
            t_damped=first("damped"),
            t_retracted=first("retracted"),
            t_hooks_closed=first("hooks"),
            t_hard_capture=first("hard_capture"),
            hooks_closed=None if hooks is None else len(hooks) - len(open_hooks(merged)),
            hooks_total=None if hooks is None else len(hooks),
            contact=measured,
            damping=self.damping.picture(),
            leak=self.leak.picture(),
            awaited=self.waits.awaited(engine_s),
            lagging_hooks=self.lagging(phase, engine_s),
            predicted=None if predicted is None else predicted[1],
            predicted_t=None if predicted is None else predicted[0],
            age_s=age_s,
            is_silent=age_s is not None and age_s > lost_after_s + MICROSECOND_S,
        )


def _merged(
    merged: CaptureStatus | None, status: CaptureStatus, *, is_late: bool
) -> CaptureStatus:
    """Take over what a status says; one that comes late only fills in what is unknown.

    Of another source also one that is a little older is late: that one's way took longer.
    """
    if merged is None:
        return status
    if status.source != merged.source:
        is_late = is_late or merged.t - SET_BACK_S <= status.t < merged.t
    news = {name: getattr(status, name) for name in _FIELDS}
    known = {name: value for name, value in news.items() if value is not None}
    if is_late:
        unknown = {name: value for name, value in known.items() if getattr(merged, name) is None}
        return msgspec.structs.replace(merged, **unknown)
    return msgspec.structs.replace(
        merged, source=status.source, seq=status.seq, t=status.t, **known
    )


def _steps(merged: CaptureStatus, is_damped: bool, is_tight: bool) -> Iterator[tuple[str, str]]:
    """Give every step the merged status shows, in the order of capture."""
    if merged.contact:
        yield "contact", "Contact reported by the vehicle"
    if merged.soft_capture:
        yield "soft_capture", "Soft capture"
        if is_damped:
            yield "damped", "Relative motion damped"
        yield from _ring_steps(merged)
    hooks = merged.hooks or ()
    for number, hook in enumerate(hooks, start=1):
        if hook >= HOOK_CLOSED:
            yield f"hook {number}", f"Hook {number} closed"
    if hooks and all(hook >= HOOK_CLOSED for hook in hooks):
        yield "hooks", f"Hooks closed, {len(hooks)} of {len(hooks)}"
    if merged.hard_capture:
        yield "hard_capture", "Hard capture"
    if is_tight:
        yield "leak", "Leak check passed"


def _ring_steps(merged: CaptureStatus) -> Iterator[tuple[str, str]]:
    ring = merged.ring_extension
    if ring is not None and ring < RING_MOVED:
        yield "retracting", "Ring retracting"
        if ring <= RING_HOME:
            yield "retracted", "Ring retracted"
    if merged.ready_to_hook and all(merged.ready_to_hook):
        yield "ready", "Ready to hook"
