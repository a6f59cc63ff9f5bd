"""Whether a condition of the procedure holds now, and when it will.

Time that has passed is engine time, so that a replay finds a step due at the same tick; only a
time of day is asked of the clock of the source in use. Unknown never fulfils anything: a range
without data, a field that was never sent.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field

import msgspec

from console.approach.event import Phase
from console.approach.phase import CHAIN
from console.approach.procedure import Condition
from console.core.records import CaptureStatus
from console.core.units import MICROSECOND_S

ALWAYS_S = -math.inf
CONTACT = Phase.CONTACT


class Situation(msgspec.Struct, frozen=True, gc=False):
    """What conditions are asked about, at one moment.

    Attributes
    ----------
    engine_s : float
        Engine time, s.
    t : float
        The same moment on the clock of the source in use, UTC s.
    range_m : float or None
        Estimated; 0 from contact on, None without data.
    capture : CaptureStatus or None
        The newest value of each field.
    """

    engine_s: float
    t: float
    phase: Phase
    range_m: float | None
    capture: CaptureStatus | None


@dataclass(slots=True)
class Past:
    """What has happened, in engine time: phases entered (the last time), steps done."""

    entered: dict[Phase, float] = field(default_factory=dict)
    done: dict[str, float] = field(default_factory=dict)
    _phase: Phase | None = None

    def note_phase(self, phase: Phase, engine_s: float) -> None:
        """Note the phase now; those of the chain that were passed on the way count too."""
        if phase is self._phase:
            return
        self._phase = phase
        if phase in CHAIN:
            for link in CHAIN[: CHAIN.index(phase)]:
                self.entered.setdefault(link, engine_s)
        self.entered[phase] = engine_s


def holds(condition: Condition, now: Situation, past: Past) -> bool:
    """Tell whether every part of a condition holds."""
    # what is cheap and settles most of them comes first
    below_m, range_m = condition.range_below_m, now.range_m
    if below_m is not None and (range_m is None or range_m > below_m):
        return False
    above_m = condition.range_above_m
    if above_m is not None and (range_m is None or range_m <= above_m):
        return False
    phases = condition.phases
    if phases and now.phase not in phases:
        return False
    if condition.data and not _data_complies(condition, now.capture):
        return False
    moment_s = due_moment_s(condition, now, past)
    return moment_s is not None and moment_s <= now.engine_s + MICROSECOND_S


def may_hold(condition: Condition, now: Situation, past: Past) -> bool:
    """Tell whether range and time alone can still make a condition hold.

    What this answers changes only with the phase, the capture status and the steps done.
    """
    return (
        (not condition.phases or now.phase in condition.phases)
        and (not condition.data or _data_complies(condition, now.capture))
        and due_moment_s(condition, now, past) is not None
    )


def due_moment_s(condition: Condition, now: Situation, past: Past) -> float | None:
    """Give the engine time at which the parts that ask for time are fulfilled.

    Returns
    -------
    float or None
        Minus infinity where no part asks for time; None where what time is counted from has not
        happened.
    """
    asks_since = condition.after is not None or condition.after_step
    if not asks_since and condition.at_t is None:
        return ALWAYS_S
    moments = [ALWAYS_S]
    if asks_since:
        since_s = (
            past.done.get(condition.after_step)
            if condition.after is None
            else past.entered.get(condition.after)
        )
        if since_s is None:
            return None
        moments.append(since_s + condition.after_s)
    if condition.at_t is not None:
        moments.append(condition.at_t - now.t + now.engine_s)
    return max(moments)


def seconds_until(
    condition: Condition,
    now: Situation,
    past: Past,
    to_range_s: Callable[[float], float | None],
) -> float | None:
    """Give in how many seconds a condition is expected to hold; None where nothing tells.

    Parameters
    ----------
    to_range_s : callable
        Gives the seconds until a range is reached, None where the vehicle does not close.
    """
    range_m, below_m, above_m = now.range_m, condition.range_below_m, condition.range_above_m
    if above_m is not None and not (range_m is not None and range_m > above_m):
        return None
    phases = condition.phases
    if phases and now.phase not in phases:
        return None
    if condition.data and not _data_complies(condition, now.capture):
        return None
    wait_s = _time_wait_s(condition, now, past, to_range_s)
    if wait_s is None or below_m is None or (range_m is not None and range_m <= below_m):
        return wait_s
    near_s = to_range_s(below_m)
    return None if near_s is None else max(wait_s, near_s)


def _time_wait_s(
    condition: Condition,
    now: Situation,
    past: Past,
    to_range_s: Callable[[float], float | None],
) -> float | None:
    moment_s = due_moment_s(condition, now, past)
    if moment_s is not None:
        return max(moment_s - now.engine_s, 0.0)
    if condition.after is not CONTACT:
        return None
    contact_s = to_range_s(0.0)
    return None if contact_s is None else max(contact_s + condition.after_s, 0.0)


def _data_complies(condition: Condition, capture: CaptureStatus | None) -> bool:
    return capture is not None and all(
        test.holds(getattr(capture, test.field.value)) for test in condition.data
    )
