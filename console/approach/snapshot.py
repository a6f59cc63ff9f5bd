"""One immutable value that says everything a view may show.

Made by the state model on request. A number on the screen that is not in here is a defect. NaN
never stands for "unknown": an unknown value is None, an unknown verdict is ``Verdict.UNKNOWN``.
Times named ``*_s`` are seconds from ``t``; names that begin with ``t_`` or are ``t`` are UTC.

What is made anew for each snapshot, and the snapshot itself, are msgspec structs, which cost a
fraction of a frozen dataclass.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

import msgspec

from console.approach.capture_now import Awaited, DampingNow, LeakNow
from console.approach.event import Phase
from console.approach.procedure import Answer
from console.core.records import CaptureStatus, RelativeSample
from console.envelope.limits import Allow, Basis, Level
from console.envelope.quantity import Quantity
from console.tracking.outlook import (
    ContactPrediction,
    Countdown,
    Estimate,
    Motion,
    PathPoint,
    StopFigures,
)


class Verdict(StrEnum):
    """What is known of a value against its limit; unknown is a verdict of its own."""

    INSIDE = "inside"
    CAUTION = "caution"
    OUTSIDE = "outside"
    UNKNOWN = "unknown"


class LimitNow(msgspec.Struct, frozen=True, gc=False):
    """One limit of the file, judged now."""

    id: str
    quantity: Quantity
    basis: Basis
    level: Level
    allow: Allow
    value: float | None
    limit: float | None
    """None outside the curve's ranges."""
    margin: float | None
    """Distance to the limit in the quantity's unit, positive inside."""
    verdict: Verdict
    standing: bool
    violates_in_s: float | None
    """Seconds until the limit is reached at the present trend; None where it is not approached."""
    action: str


class Authority(msgspec.Struct, frozen=True, gc=False):
    """Who may call or execute an abort now, and what changes it."""

    holders: tuple[str, ...]
    passes_to: str | None
    passes_at_m: float | None


class SourceNow(msgspec.Struct, frozen=True, gc=False):
    """One source's health."""

    source: str
    in_use: bool
    age_s: float | None
    rate_hz: float | None
    received: int
    lost: int
    late: int
    duplicates: int
    invalid: int
    stale: bool
    lost_link: bool
    gap_m: float | None
    """Range difference against the source in use (signed, this minus that)."""
    agrees: bool | None
    flags: tuple[str, ...]
    """Ids of standing data exceedances, such as ``data:frozen``."""
    clock_offset_s: float | None


class ExceedanceNow(msgspec.Struct, frozen=True, gc=False):
    """One exceedance, standing or cleared."""

    key: str
    id: str
    source: str | None
    level: Level
    quantity: Quantity | None
    words: str
    action: str
    onset: float
    raised: float
    cleared: float | None
    acknowledged_by: str | None
    acknowledged_t: float | None
    value: float | None
    limit: float | None
    peak: float | None
    peak_limit: float | None
    peak_t: float | None
    waits: bool = True
    """Asks for acknowledgement; shelved ones do not."""
    shelved: bool = False
    """Its limit or data check is shelved now."""


class CallLine(msgspec.Struct, frozen=True, gc=False):
    """A line of the calls and steps list."""

    key: str
    words: str
    state: str
    """``done``, ``missed``, ``now``, ``next`` or ``later``."""
    t: float | None
    """When it was done."""
    in_s: float | None
    """When it is expected."""
    who: str = ""
    """Who does it; only steps of the procedure say so."""
    overdue_s: float | None = None
    """For how long it has been overdue; None where it is not."""


class PositionNow(msgspec.Struct, frozen=True, gc=False):
    """One position of a poll."""

    position: str
    answer: Answer
    initials: str
    t: float | None
    """When it answered; None before."""
    is_mine: bool
    """It answers from this console."""


class PollNow(msgspec.Struct, frozen=True, gc=False):
    """A go/no-go poll that is open, or was until its hold was released."""

    id: str
    words: str
    hold_m: float
    positions: tuple[PositionNow, ...]
    t_opened: float
    t_released: float | None
    released_by: str
    overdue_s: float | None
    refusal: str
    """Why the hold may not be released yet; empty where every position is go."""
    is_left: bool = False
    """The vehicle has left the hold inward without the release."""


@dataclass(frozen=True, slots=True)
class ShelvedNow:
    """A limit or data check that is put aside for a while."""

    id: str
    source: str | None
    level: Level
    initials: str
    reason: str
    t: float
    left_s: float
    standing: bool
    """Whether it would stand if it were not shelved."""


@dataclass(frozen=True, slots=True)
class MeasuredContact:
    """What was measured at contact (the valid sample nearest to range 0)."""

    t: float
    values: dict[Quantity, float | None]
    outside: tuple[Quantity, ...]


@dataclass(frozen=True, slots=True)
class CaptureNow:
    """Capture and what follows, as far as statuses have told."""

    status: CaptureStatus
    """Newest value of each field, merged over the statuses received."""
    t_contact: float | None
    t_soft_capture: float | None
    t_damped: float | None
    t_retracted: float | None
    t_hooks_closed: float | None
    t_hard_capture: float | None
    hooks_closed: int | None
    hooks_total: int | None
    contact: MeasuredContact | None
    damping: DampingNow | None = None
    leak: LeakNow | None = None
    awaited: tuple[Awaited, ...] = ()
    """Evidence that is awaited; what leads to the next phase stands first."""
    lagging_hooks: tuple[int, ...] = ()
    """Numbers, from 1, of the hooks that lag behind the others."""
    predicted: ContactPrediction | None = None
    """The last prediction made before contact, beside what was measured then."""
    predicted_t: float | None = None
    age_s: float | None = None
    """Of the newest status; None before any."""
    is_silent: bool = False
    """No status for longer than ``lost_after_s``."""


@dataclass(frozen=True, slots=True)
class Timed:
    """Something on the time strip, past or to come."""

    t: float
    kind: str
    """``mark``, ``hands_off``, ``contact``, ``hold``, ``capture``, ``call``, ``note``…"""
    label: str


class LinkGap(msgspec.Struct, frozen=True, gc=False):
    """A stretch without data; ``t_end`` None while it lasts."""

    t_start: float
    t_end: float | None


@dataclass(frozen=True, slots=True)
class LightSpan:
    """A stretch of constant light state, ``day``, ``twilight`` or ``night``."""

    t_start: float
    t_end: float
    state: str


class Counts(msgspec.Struct, frozen=True, gc=False):
    """What the wire did with messages that are no good, and what overflowed."""

    received: int
    rejected: int
    rejects_by_reason: tuple[tuple[str, int], ...]
    overflowed: int
    repeated: int = 0
    """Samples that came a second time, of all sources; dropped."""
    late: int = 0
    """Samples older than the newest of their source, or than the newest judged; not judged."""
    restarts: int = 0
    leapt: int = 0
    """Samples whose time alone leapt far ahead; not used."""


class Snapshot(msgspec.Struct, frozen=True, gc=False):
    """The whole of what is known at ``t``."""

    t: float
    """Now, on the clock of the source in use, UTC seconds."""
    phase: Phase
    phase_since: float
    source: str | None
    source_is_forced: bool
    measured: RelativeSample | None
    """Newest valid sample of the source in use."""
    values: dict[Quantity, float | None]
    """Each judged quantity as measured at that sample."""
    age_s: float | None
    stale: bool
    coasted: bool
    """The estimate has been carried forward past ``stale_after_s``."""
    withdrawn: bool
    """Coasted so long that countdowns are no longer given."""
    estimate: Estimate | None
    motion: Motion
    planned_closing_mps: float | None
    limits: tuple[LimitNow, ...]
    to_contact: Countdown
    to_hands_off: Countdown
    next_mark_m: float | None
    to_next_mark: Countdown
    at_contact: ContactPrediction | None
    if_thrust_stops: ContactPrediction | None
    stop: StopFigures | None
    path: tuple[PathPoint, ...]
    authority: Authority
    calls: tuple[CallLine, ...]
    sources: tuple[SourceNow, ...]
    sources_disagree: bool
    exceedances: tuple[ExceedanceNow, ...]
    """Standing ones first (worst, then first-out), then cleared ones, newest first; bounded."""
    capture: CaptureNow | None
    timeline: tuple[Timed, ...]
    """Past events, oldest first; what is to come is in the countdowns."""
    link_gaps: tuple[LinkGap, ...]
    light: tuple[LightSpan, ...]
    """Empty where no orbit is known."""
    counts: Counts
    contact_t: float | None
    hands_off_t: float | None
    polls: tuple[PollNow, ...] = ()
    """Open ones, and the one last released."""
    shelved: tuple[ShelvedNow, ...] = ()
    """Soonest back first."""
    outlook_notes: tuple[str, ...] = ()
    """Advisories about light and link at contact and hands-off, in sentences."""
    outlook_facts: tuple[str, ...] = ()
    """What is well about contact: daylight, link; empty where it is not, or not known."""
    planned_gaps: tuple[LinkGap, ...] = ()
    """Gaps of the link coverage plan around now; ``link_gaps`` are those that happened."""
