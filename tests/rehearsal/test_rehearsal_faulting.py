"""Faults played into a recorded pass: each does what it says and touches nothing else."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from console.core.ids import SourceId
from console.core.records import CaptureStatus, Heartbeat, RelativeSample
from console.envelope.setup import Setup
from console.rehearsal.faulting import refusal_for_pass, spoil, with_faults
from console.simulation.faults import VEHICLE_KINDS, Channel, Fault, FaultKind
from console.simulation.scenario import Scenario
from console.simulation.simulate import Published
from console.wire.sequence import ArrivalKind, SequenceBook
from tests.fakes.changed import replace

T0 = 1_933_580_100.0
OPTICAL, RADIO = SourceId("optical"), SourceId("radio")
K = FaultKind


def the_pass() -> list[Published]:
    """Give 20 s of two sources closing from 10 m, a heartbeat a second, one status."""
    sent = []
    for i in range(100):
        s = i / 5.0
        sent.append(Published(T0 + s + 0.1, sample(OPTICAL, i, s)))
        if i % 5 == 0:
            sent.append(Published(T0 + s + 0.15, sample(RADIO, i // 5, s)))
            sent.append(Published(T0 + s + 0.19, Heartbeat(OPTICAL, T0 + s, i)))
    sent.append(Published(T0 + 19.95, CaptureStatus(SourceId("mechanism"), 0, T0 + 19.9)))
    return sorted(sent, key=lambda message: message.t_publish_s)


def sample(source: SourceId, seq: int, s: float) -> RelativeSample:
    """Give a sample whose every value tells its time."""
    return RelativeSample(
        source, seq, T0 + s, 10.0 - 0.1 * s, -0.1, 0.01 * s, 0.02 * s, 0.1 * s, 0.2 * s, 0.3 * s,
        pitch_rate_dps=0.2,
    )  # fmt: skip


def played(*faults: Fault, seed: int = 1) -> list[Published]:
    """Play faults into the pass."""
    return spoil(the_pass(), faults, Setup(), np.random.default_rng(seed))[0]


def samples(messages: Sequence[Published], source: SourceId) -> list[RelativeSample]:
    """Give one source's samples as they are delivered."""
    records = [m.record for m in messages]
    return [r for r in records if isinstance(r, RelativeSample) and r.source == source]


def at(messages: Sequence[Published], source: SourceId, s: float) -> RelativeSample:
    """Give the sample measured at a time."""
    return next(r for r in samples(messages, source) if r.t == T0 + s)


def span(kind: K, **more: object) -> Fault:
    """Give a fault of the optical source from 5 to 10 s."""
    fields: dict = {"at_s": 5.0, "for_s": 5.0, "source": OPTICAL, **more}
    return Fault(kind, **fields)


def test_no_fault_changes_nothing() -> None:
    """Without faults the pass comes out as it went in."""
    assert the_pass() == played()


def test_a_drop_out_leaves_no_gap_in_the_counter() -> None:
    """Nothing is measured for the time; the counter goes on where it was, heartbeats agree."""
    messages = played(span(K.DROPOUT))
    mine = samples(messages, OPTICAL)
    assert not [r for r in mine if T0 + 5.0 <= r.t < T0 + 10.0]
    assert list(range(75)) == [r.seq for r in mine]
    assert samples(the_pass(), RADIO) == samples(messages, RADIO)
    beats = [m.record for m in messages if isinstance(m.record, Heartbeat)]
    assert max(r.seq for r in mine) >= beats[-1].last_seq == 95 - 25


def test_a_fault_after_the_pass_is_over_has_no_span() -> None:
    """It never came."""
    late = replace(span(K.DROPOUT), at_s=500.0)
    assert spoil(the_pass(), [late], Setup(), np.random.default_rng(1))[1] == ()


def test_an_end_at_a_range_counts_from_the_begin() -> None:
    """The vehicle was inside 9 m before, backed out, and the fault came then."""
    out_and_in = [
        *np.linspace(10.0, 8.0, 20),
        *np.linspace(8.0, 10.0, 20),
        *np.linspace(10, 7, 31),
    ]
    messages = [
        Published(T0 + i, replace(sample(OPTICAL, i, float(i)), range_m=float(x)))
        for i, x in enumerate(out_and_in)
    ]
    fault = Fault(K.INVALID, at_s=42.0, until_range_m=9.0)
    (told,) = spoil(messages, [fault], Setup(), np.random.default_rng(1))[1]
    assert (told.t_start, told.t_end) == (T0 + 42.0, T0 + 50.0)


def test_after_a_restart_the_counter_begins_anew() -> None:
    """What was not measured in the run before is none of the new run's business."""
    again = [
        Published(T0 + 30.0 + i / 5.0, sample(OPTICAL, i, 30.0 + i / 5.0)) for i in range(100)
    ]
    again.append(Published(T0 + 35.05, Heartbeat(OPTICAL, T0 + 35.05, 25)))
    again.sort(key=lambda message: message.t_publish_s)
    messages, _ = spoil(
        [*the_pass(), *again], [span(K.DROPOUT)], Setup(), np.random.default_rng(1)
    )
    assert messages[-len(again) :] == again
    book = SequenceBook()
    kinds = [book.accept(r).kind for r in samples(messages, OPTICAL)]
    assert kinds.count(ArrivalKind.RESTART) == 1
    assert ArrivalKind.DUPLICATE not in kinds


def test_a_sample_that_comes_after_its_time_keeps_its_number() -> None:
    """Measured before the drop-out, delivered within it: nothing before it is missing."""
    late, rest = [], []
    for message in the_pass():
        mine = isinstance(message.record, RelativeSample) and message.record.source == OPTICAL
        (late if mine and message.record.seq == 24 else rest).append(message)
    (one,) = late
    delayed = sorted([*rest, Published(T0 + 7.0, one.record)], key=lambda m: m.t_publish_s)
    messages, _ = spoil(delayed, [span(K.DROPOUT)], Setup(), np.random.default_rng(1))
    assert one.record in samples(messages, OPTICAL)
    assert sorted(r.seq for r in samples(messages, OPTICAL)) == list(range(75))


def test_a_bias_adds_to_one_value_alone() -> None:
    """The size is added from the begin on, the end not included; the other source is left."""
    messages = played(span(K.BIAS, size=0.5, channel=Channel.RANGE))
    for s, expected in ((4.8, 9.52), (5.0, 10.0), (9.8, 9.52), (10.0, 9.0)):
        assert at(messages, OPTICAL, s).range_m == pytest.approx(expected)
        assert at(messages, OPTICAL, s).pitch_deg == pytest.approx(0.2 * s)
    assert samples(the_pass(), RADIO) == samples(messages, RADIO)


def test_a_value_that_is_not_sent_stays_absent() -> None:
    """A bias on a rate the source does not send makes none up."""
    messages = played(span(K.BIAS, size=0.5, channel=Channel.ROLL_RATE))
    assert at(messages, OPTICAL, 6.0).roll_rate_dps is None


def test_a_scale_error_multiplies() -> None:
    """1 + size times the value."""
    messages = played(span(K.SCALE, size=0.1, channel=Channel.PITCH))
    assert at(messages, OPTICAL, 6.0).pitch_deg == pytest.approx(1.1 * 1.2)


def test_frozen_values_stand_while_counter_and_time_go_on() -> None:
    """Every value is that of the last sample before; numbers and times are the pass's own."""
    messages = played(span(K.FREEZE))
    last = at(messages, OPTICAL, 4.8)
    for s in (5.0, 7.4, 9.8):
        here = at(messages, OPTICAL, s)
        assert last.range_m == here.range_m
        assert last.yaw_deg == here.yaw_deg
        assert round(s * 5) == here.seq
    assert at(messages, OPTICAL, 10.0).range_m == pytest.approx(9.0)


def test_one_value_may_freeze_alone() -> None:
    """The others go on."""
    messages = played(span(K.FREEZE, channel=Channel.RANGE))
    assert at(messages, OPTICAL, 7.0).range_m == at(messages, OPTICAL, 4.8).range_m
    assert at(messages, OPTICAL, 7.0).pitch_deg == pytest.approx(1.4)


def test_late_samples_come_later_and_are_the_same() -> None:
    """Each is delivered ``size`` seconds after its usual time; nothing else of it changes."""
    messages = played(span(K.LATE, size=1.3))
    due = {m.record.seq: m.t_publish_s for m in messages if m.record in samples([m], OPTICAL)}
    assert due[24] == pytest.approx(T0 + 4.9)
    assert due[25] == pytest.approx(T0 + 5.0 + 0.1 + 1.3)
    assert due[50] == pytest.approx(T0 + 10.1)
    assert [m.t_publish_s for m in messages] == sorted(m.t_publish_s for m in messages)
    assert samples(the_pass(), OPTICAL) == sorted(samples(messages, OPTICAL), key=lambda r: r.t)


def test_link_loss_swallows_everything_delivered_meanwhile() -> None:
    """Of all sources, heartbeats and statuses too; the counters show it."""
    messages = played(Fault(K.LINK_LOSS, at_s=5.0, for_s=16.0))
    begin = the_pass()[0].t_publish_s
    assert not [m for m in messages if begin + 5.0 <= m.t_publish_s]
    assert samples(the_pass(), OPTICAL)[:20] == samples(messages, OPTICAL)[:20]
    back = played(Fault(K.LINK_LOSS, at_s=5.0, for_s=2.0))
    gaps = np.diff([r.seq for r in samples(back, OPTICAL)])
    assert sum(gaps - 1) == 10


def test_invalid_samples_come_flagged() -> None:
    """Their values are as measured."""
    messages = played(span(K.INVALID))
    here = at(messages, OPTICAL, 6.0)
    assert not here.valid
    assert here.range_m == pytest.approx(9.4)
    assert at(messages, OPTICAL, 10.0).valid


def test_outliers_hit_about_their_share_by_thirty_sigma_and_are_seeded() -> None:
    """A share of 0.3 hits 3 to 13 of 25 ranges, each by 30 sigma of the setup's noise."""
    fault = span(K.OUTLIERS, size=0.3, channel=Channel.RANGE)
    messages = played(fault)
    sigma_m = Setup().noise(OPTICAL).range_m
    hit = 0
    for here, before in zip(samples(messages, OPTICAL), samples(the_pass(), OPTICAL), strict=True):
        off_m = abs(here.range_m - before.range_m)
        if off_m:
            hit += 1
            assert off_m == pytest.approx(30.0 * sigma_m.at(before.range_m))
    assert 3 <= hit <= 13
    assert messages == played(fault)
    assert messages != played(fault, seed=2)


def test_a_fault_begins_at_a_range_and_ends_at_another() -> None:
    """From the first valid sample at 9.5 m, 5 s, until the first at 9.3 m, 7 s."""
    fault = Fault(K.DROPOUT, at_range_m=9.5, until_range_m=9.3, source=OPTICAL)
    _, spans = spoil(the_pass(), [fault], Setup(), np.random.default_rng(1))
    assert [(one.t_start, one.t_end) for one in spans] == [(T0 + 5.0, T0 + 7.0)]


def test_a_range_never_reached_gives_no_fault() -> None:
    """The vehicle stays outside 8 m: nothing happens, and nothing is said to have happened."""
    fault = Fault(K.DROPOUT, at_range_m=3.0, source=OPTICAL)
    messages, spans = spoil(the_pass(), [fault], Setup(), np.random.default_rng(1))
    assert ((), the_pass()) == (spans, messages)


@settings(max_examples=30)
@given(st.lists(st.sampled_from([K.BIAS, K.DROPOUT, K.FREEZE, K.LATE, K.INVALID]), max_size=4))
def test_faults_together_keep_order_and_make_up_no_message(kinds: list[K]) -> None:
    """Whatever is combined: in order of delivery, none more than went in, counters rising."""
    faults = [
        Fault(kind, at_s=2.0 * n, for_s=4.0, size=0.5 if kind in (K.BIAS, K.LATE) else 0.0,
              channel=Channel.RANGE if kind is K.BIAS else None)
        for n, kind in enumerate(kinds)
    ]  # fmt: skip
    messages = played(*faults)
    times = [m.t_publish_s for m in messages]
    assert sorted(times) == times
    assert len(messages) <= len(the_pass())
    mine = sorted(samples(messages, OPTICAL), key=lambda r: r.t)
    assert list(range(len(mine))) == [r.seq for r in mine]


@pytest.mark.parametrize("kind", FaultKind)
def test_the_vehicles_own_faults_need_a_simulated_vehicle(kind: FaultKind) -> None:
    """They are refused for a recorded pass by name, the sensors' and the link's are not."""
    refusal = refusal_for_pass(Fault(kind))
    assert (kind in VEHICLE_KINDS or kind is K.NOISE) == bool(refusal)
    assert not refusal or kind.value in refusal


def test_a_scenario_keeps_its_own_faults() -> None:
    """Those of the exercise come behind them."""
    own, more = Fault(K.DROPOUT, at_s=1.0), Fault(K.THRUSTER_STUCK, size=0.01, channel=Channel.Z)
    assert (own, more) == with_faults(Scenario(faults=(own,)), [more]).faults
