"""Wrong times in capture statuses: order goes by each source's counter, not by its clock."""

from __future__ import annotations

import math

from capture_cases import SOFT, Watch, status

from console.approach.capture_now import DampingVerdict, LeakState
from console.approach.engine_time import EngineTime
from console.approach.event import Phase
from console.core.records import CaptureStatus
from console.envelope.setup import Vestibule
from tests.fakes.changed import replace

HOUR_S = 3600.0


def counted(seq: int, past_s: float, shift_s: float = 0.0, **fields: object) -> CaptureStatus:
    """Give a status by its number, its time off by so much."""
    return replace(status(past_s + shift_s, **fields), seq=seq)


def test_one_time_far_ahead_does_not_freeze_capture() -> None:
    """The status after it is newer by its counter, and what it says is taken over."""
    watch = Watch(mode=EngineTime.RECEIVE)
    for n in range(60):
        shift_s = HOUR_S if n == 20 else 0.0
        fields = {} if n < 22 else {"contact": True} if n < 30 else SOFT
        watch.receive(n / 2, counted(n, n / 2, shift_s, vestibule_kpa=50.0 + n, **fields))
    capture = watch.capture
    assert capture.status.soft_capture
    assert capture.status.vestibule_kpa == 109.0
    assert capture.age_s == 0.0
    assert watch.state.snapshot().phase is Phase.SOFT_CAPTURE


def test_a_status_late_by_its_counter_only_fills_in_what_is_unknown() -> None:
    """A straggler overwrites nothing newer."""
    watch = Watch(mode=EngineTime.RECEIVE)
    watch.receive(0.0, counted(0, 0.0, contact=False))
    watch.receive(1.0, counted(2, 1.0, contact=True))
    watch.receive(1.1, counted(1, 0.5, contact=False, vestibule_kpa=1.0))
    assert watch.capture.status.contact
    assert watch.capture.status.vestibule_kpa == 1.0


def test_a_status_of_another_source_with_a_longer_way_is_late() -> None:
    """What the quicker source said meanwhile stands."""
    watch = Watch(mode=EngineTime.RECEIVE)
    watch.receive(1.0, counted(0, 1.0, contact=True))
    watch.receive(1.2, counted(0, 0.4, source="second", contact=False, hard_capture=False))
    assert watch.capture.status.contact
    assert watch.capture.status.hard_capture is False


def swinging(n: int, shift_s: float) -> CaptureStatus:
    """Give relative motion that halves every eight seconds, four statuses a second."""
    past_s = n / 4
    size = 0.02 * math.exp(-past_s * math.log(2.0) / 8.0) * abs(math.cos(past_s))
    return counted(n, past_s, shift_s, rel_rate_mps=size, **SOFT)


def test_damping_goes_on_after_the_clock_was_set_back() -> None:
    """The record begins anew instead of leaving everything out for an hour."""
    watch = Watch(mode=EngineTime.RECEIVE)
    for n in range(240):
        watch.receive(n / 4, swinging(n, 0.0 if n < 40 else -HOUR_S))
    damping = watch.capture.damping
    assert damping is not None
    assert damping.verdict is DampingVerdict.SETTLED


def held(n: int, shift_s: float) -> CaptureStatus:
    """Give a tight vestibule's pressure, once a second."""
    kpa = 101.0 + 1e-4 * ((n * 7) % 11 - 5)
    return counted(n, float(n), shift_s, vestibule_kpa=kpa, vestibule_degc=20.0, **SOFT)


def test_the_leak_check_goes_on_after_the_clock_was_set_back() -> None:
    """A tight vestibule passes all the same, later by what was watched before."""
    watch = Watch(Vestibule(), mode=EngineTime.RECEIVE)
    passed = None
    for n in range(2400):
        watch.receive(float(n), held(n, 0.0 if n < 100 else -HOUR_S))
        leak = watch.capture.leak if n % 20 == 0 else None
        if leak is not None and leak.state is LeakState.PASSES:
            passed = n
            break
    assert passed is not None
    assert passed > 100
