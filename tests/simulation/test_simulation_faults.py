"""Every kind of fault does what it says, for as long as it says, and nothing else."""

from __future__ import annotations

import math

import numpy as np
import pytest
from simulation_cases import SHORT, flown

from console.core.ids import SourceId
from console.core.records import Heartbeat, RelativeSample
from console.simulation.faults import VEHICLE_KINDS, Channel, Fault, FaultKind
from console.simulation.scenario import Order, OrderKind
from tests.fakes.changed import replace

OPTICAL, RADIO = SourceId("optical"), SourceId("radio")
BASE = replace(SHORT, start_range_m=12.0)
START = BASE.start_t


def samples(run, source=OPTICAL):
    """Give the samples of a source as they came."""
    return [
        m.record
        for m in run.messages
        if isinstance(m.record, RelativeSample) and m.record.source == source
    ]


def with_fault(kind, **terms):
    """Fly the base scenario with one fault."""
    return flown(replace(BASE, faults=(Fault(kind, **terms),)))


def without():
    """Fly it without."""
    return flown(BASE)


def differing(run, name):
    """Give the times at which a field differs from the same pass without the fault."""
    plain = {s.seq: s for s in samples(without())}
    return [s.t for s in samples(run) if getattr(plain[s.seq], name) != getattr(s, name)]


@pytest.mark.parametrize("channel", list(Channel))
def test_a_bias_is_added_to_its_channel_for_its_time(channel):
    """The named field is off by the size between 20 and 30 s, and no other field ever."""
    run = with_fault(
        FaultKind.BIAS, at_s=20.0, for_s=10.0, size=0.5, source=OPTICAL, channel=channel
    )
    plain = {s.seq: s for s in samples(without())}
    for sample in samples(run):
        other = plain[sample.seq]
        inside = START + 20.0 <= sample.t < START + 30.0 - 1e-6
        for name in (c.value for c in Channel):
            off = getattr(sample, name) - getattr(other, name)
            expected = 0.5 if inside and name == channel.value else 0.0
            assert off == pytest.approx(expected, abs=1e-9)
    assert samples(run, RADIO) == samples(without(), RADIO)


def test_a_bias_from_a_range_on_lasts():
    """It begins when the true range first is 8 m and stands to the end."""
    run = with_fault(
        FaultKind.BIAS, at_range_m=8.0, size=0.5, source=OPTICAL, channel=Channel.RANGE
    )
    off = differing(run, "range_m")
    at_8 = run.truth.time_at_range(8.0)
    assert off[0] == pytest.approx(at_8, abs=0.2)
    assert off[-1] == samples(run)[-1].t
    (span,) = run.truth.faults
    assert span.t_start == pytest.approx(at_8, abs=0.1)
    assert span.t_end == math.inf


def test_a_fault_that_ends_at_a_range():
    """It stands between two ranges."""
    run = with_fault(
        FaultKind.BIAS, at_range_m=8.0, until_range_m=5.0, size=0.5, channel=Channel.RANGE
    )
    assert differing(run, "range_m")[-1] == pytest.approx(run.truth.time_at_range(5.0), abs=0.2)


def test_a_scale_error_grows_with_range():
    """3 % of the true range is added."""
    run = with_fault(FaultKind.SCALE, size=0.03, source=OPTICAL, channel=Channel.RANGE)
    plain = {s.seq: s for s in samples(without())}
    truth = run.truth
    for sample in samples(run)[::40]:
        true = np.interp(sample.t, truth.t, truth.range_m)
        off = sample.range_m - plain[sample.seq].range_m
        assert off == pytest.approx(0.03 * true, abs=0.011)


def test_frozen_values_while_counter_and_time_go_on():
    """Every field stands at the last one before; seq and t go on."""
    run = with_fault(FaultKind.FREEZE, at_s=20.0, for_s=5.0, source=OPTICAL)
    frozen = [s for s in samples(run) if START + 20.0 <= s.t < START + 25.0 - 1e-6]
    last = max((s for s in samples(run) if s.t < START + 20.0 - 1e-6), key=lambda s: s.t)
    assert len(frozen) == 50
    for sample in frozen:
        assert replace_time(sample, last) == last
    assert [s.seq for s in samples(run)] == [s.seq for s in samples(without())]


def replace_time(sample, other):
    """Give a sample with another's counter and time."""
    import msgspec

    return msgspec.structs.replace(sample, seq=other.seq, t=other.t)


def test_one_frozen_channel():
    """With a channel named only that one stands still."""
    run = with_fault(FaultKind.FREEZE, at_s=20.0, for_s=5.0, source=OPTICAL, channel=Channel.RANGE)
    frozen = [s for s in samples(run) if START + 20.0 <= s.t < START + 25.0 - 1e-6]
    assert len({s.range_m for s in frozen}) == 1
    assert len({s.range_rate_mps for s in frozen}) > 5


def test_a_dropout_is_a_gap_in_time_without_loss():
    """The source measures nothing: no samples, no missing numbers, heartbeats go on."""
    run = with_fault(FaultKind.DROPOUT, at_s=20.0, for_s=6.0, source=OPTICAL)
    taken = samples(run)
    assert not [s for s in taken if START + 20.0 <= s.t < START + 26.0 - 1e-6]
    assert [s.seq for s in taken] == list(range(len(taken)))
    beats = [
        m.record
        for m in run.messages
        if isinstance(m.record, Heartbeat) and m.record.source == OPTICAL
    ]
    assert len({b.last_seq for b in beats if START + 21.0 < b.t < START + 26.0}) == 1


def test_invalid_samples_are_flagged():
    """Samples come with the flag down, the values as they were."""
    run = with_fault(FaultKind.INVALID, at_s=20.0, for_s=6.0, source=OPTICAL)
    down = [s.t for s in samples(run) if not s.valid]
    assert len(down) == 60
    assert min(down) >= START + 20.0 - 1e-6
    assert not differing(run, "range_m")


def test_link_loss_loses_everything_for_its_time():
    """No message of any kind for 8 s; the lost samples' numbers are missing afterwards."""
    run = with_fault(FaultKind.LINK_LOSS, at_range_m=10.0, for_s=8.0)
    (span,) = run.truth.faults
    assert span.t_end - span.t_start == pytest.approx(8.0)
    times = [m.t_publish_s for m in run.messages]
    assert not [t for t in times if span.t_start <= t < span.t_end]
    assert max(np.diff(times)) == pytest.approx(8.0, abs=0.2)
    numbers = [s.seq for s in samples(run)]
    missing = set(range(numbers[-1] + 1)) - set(numbers)
    assert len(missing) == pytest.approx(80, abs=2)


def test_link_loss_of_one_source_leaves_the_other():
    """With a source named only its messages are lost."""
    run = with_fault(FaultKind.LINK_LOSS, at_s=10.0, for_s=8.0, source=OPTICAL)
    assert samples(run, RADIO) == samples(without(), RADIO)
    assert len(samples(run)) < len(samples(without()))


def test_outliers_hit_their_share_with_30_sigma():
    """A fifth of the range values are off by 30 sigma, either way."""
    run = with_fault(FaultKind.OUTLIERS, size=0.2, source=OPTICAL, channel=Channel.RANGE)
    plain = {s.seq: s for s in samples(without())}
    off = np.array([s.range_m - plain[s.seq].range_m for s in samples(run)])
    hit = np.abs(off) > 0.3
    assert np.mean(hit) == pytest.approx(0.2, abs=0.03)
    assert 0.3 < np.mean(off[hit] > 0) < 0.7
    assert np.abs(off[hit]).min() == pytest.approx(30 * 0.02, abs=0.1)


def test_noise_is_multiplied():
    """Five times the noise, white and coloured."""
    run = with_fault(FaultKind.NOISE, size=5.0, source=OPTICAL, channel=Channel.Y_RATE)
    spread = []
    for flight in (run, without()):
        before = [s.y_rate_mps for s in samples(flight) if s.t < flight.truth.t_contact]
        spread.append(np.subtract(*np.quantile(before, [0.75, 0.25])))
    assert 3.5 < spread[0] / spread[1] < 5.5
    assert not differing(run, "range_m")


def test_late_samples_come_after_newer_ones():
    """Samples of 20 to 22 s come 3 s late, among samples measured after them."""
    run = with_fault(FaultKind.LATE, at_s=20.0, for_s=2.0, size=3.0, source=OPTICAL)
    arrived = [s.seq for s in samples(run)]
    assert sorted(arrived) == [s.seq for s in samples(without())]
    assert arrived != sorted(arrived)
    late = [m for m in run.messages if START + 20.0 <= m.record.t < START + 22.0 - 1e-6]
    delays = [
        m.t_publish_s - m.record.t
        for m in late
        if isinstance(m.record, RelativeSample) and m.record.source == OPTICAL
    ]
    assert min(delays) > 3.0


def test_a_stuck_thruster_is_hidden_by_the_controller():
    """8 mm/s^2 along y: the vehicle stays near the axis, but fires far more."""
    run = with_fault(FaultKind.THRUSTER_STUCK, size=0.008, channel=Channel.Y)
    truth = run.truth
    before = truth.t < truth.t_contact
    assert np.abs(truth.y_m[before]).max() < 0.5
    fired = [np.abs(np.diff(r.truth.y_rate_mps)).sum() for r in (run, without())]
    assert fired[0] > 5 * fired[1]


def test_a_stuck_thruster_accelerates_where_nothing_controls():
    """Without control the same push gives a t^2/2."""
    from simulation_cases import ADRIFT

    scenario = replace(
        BASE,
        start_range_m=12.0,
        steering=ADRIFT,
        longest_s=60.0,
        start_y_m=0.0,
        faults=(Fault(FaultKind.THRUSTER_STUCK, at_s=10.0, for_s=20.0, size=0.002,
                      channel=Channel.Y),),
    )  # fmt: skip
    truth = flown(scenario).truth
    assert np.interp(START + 30.0, truth.t, truth.y_m) == pytest.approx(0.4, abs=0.005)
    assert np.interp(START + 50.0, truth.t, truth.y_m) == pytest.approx(0.4 + 0.8, abs=0.01)


def test_lateral_drift_leaves_the_axis_at_its_rate():
    """3 cm/s for 60 s is 1.8 m; then control comes back."""
    run = with_fault(FaultKind.LATERAL_DRIFT, at_s=10.0, for_s=60.0, size=0.03, channel=Channel.Y)
    truth = run.truth
    (span,) = truth.faults
    during = (truth.t >= span.t_start) & (truth.t < span.t_end)
    assert np.ptp(truth.y_m[during]) == pytest.approx(1.8, abs=0.05)
    at_contact = np.abs(truth.y_m[truth.t > truth.t_contact - 2]).max()
    assert at_contact < 0.5 * np.abs(truth.y_m).max()


def test_lateral_drift_leaves_the_other_axes_as_they_are():
    """Its axis fires nothing, and yet every other pulse has the error it always had."""
    plain = without().truth
    run = with_fault(FaultKind.LATERAL_DRIFT, at_s=10.0, size=0.0, channel=Channel.Y).truth
    rows = min(np.flatnonzero(one.t >= one.t_contact - 1.0)[0] for one in (plain, run))
    for name in ("range_m", "z_m", "range_rate_mps", "yaw_deg"):
        np.testing.assert_allclose(
            getattr(run, name)[:rows], getattr(plain, name)[:rows], rtol=0.0, atol=1e-5
        )


def test_attitude_runaway_turns_up_and_is_taken_out_again():
    """0.004 deg/s^2 for 20 s gives 0.08 deg/s; afterwards the angle comes back."""
    run = with_fault(
        FaultKind.ATTITUDE_RUNAWAY, at_s=10.0, for_s=20.0, size=0.004, channel=Channel.YAW
    )
    truth = run.truth
    before = truth.t < truth.t_contact
    assert np.abs(truth.yaw_rate_dps[before]).max() == pytest.approx(0.08, abs=0.03)
    assert np.abs(truth.yaw_deg[before]).max() > 0.8
    assert np.abs(truth.yaw_deg[before])[-1] < 0.7
    assert np.abs(truth.pitch_deg[before]).max() < 0.7


def test_fast_closing_multiplies_the_plan():
    """From 8 m on 1.6 times 0.09 m/s."""
    run = with_fault(FaultKind.FAST_CLOSING, at_range_m=8.0, size=1.6)
    assert run.truth.contact.closing_rate_mps == pytest.approx(0.144, abs=0.006)
    assert np.interp(9.0, run.truth.range_m[::-1], -run.truth.range_rate_mps[::-1]) < 0.1


def test_late_braking_keeps_its_rate_until_its_range():
    """0.17 m/s kept to 2 m, then braked as well as it goes."""
    run = with_fault(FaultKind.LATE_BRAKING, until_range_m=2.0, size=0.17)
    rate = -run.truth.range_rate_mps
    at = {r: rate[np.argmax(run.truth.range_m <= r)] for r in (4.0, 2.5, 0.1)}
    assert at[4.0] == pytest.approx(0.17, abs=0.006)
    assert at[2.5] == pytest.approx(0.17, abs=0.006)
    assert at[0.1] < 0.11


@pytest.mark.parametrize("kind", sorted(VEHICLE_KINDS))
def test_the_vehicles_faults_stand_for_whole_control_cycles(kind):
    """Told and true times agree: whole seconds from the start."""
    run = with_fault(kind, at_s=3.4, for_s=2.2, size=0.01, channel=Channel.Y)
    for span in run.truth.faults:
        assert span.t_start - START == 4.0
        assert span.t_end - START == 7.0


def test_a_fault_at_a_range_never_reached_has_no_span():
    """A pass that ends before has nothing to tell."""
    fault = Fault(FaultKind.DROPOUT, at_range_m=1.0)
    scenario = replace(BASE, longest_s=20.0, faults=(fault,))
    assert flown(scenario).truth.faults == ()


@pytest.mark.parametrize("kind", sorted(FaultKind))
def test_a_fault_that_would_begin_after_the_end_has_no_span(kind):
    """5000 s into a pass of two minutes and the mechanism's report after it."""
    run = with_fault(kind, at_s=5000.0, size=0.01, channel=Channel.Y)
    assert run.truth.faults == ()
    assert run.messages == without().messages


def test_a_link_loss_in_the_mechanisms_report_is_told():
    """After the last sample, while statuses still come."""
    run = with_fault(FaultKind.LINK_LOSS, at_s=300.0, for_s=20.0)
    assert max(s.t for s in samples(run)) < START + 300.0
    assert len(run.truth.faults) == 1
    assert len(run.messages) < len(without().messages)


BACK_AND_AGAIN = replace(
    BASE, start_range_m=20.0, orders=(Order(OrderKind.RETREAT, 8.0, 30.0, 20.0),)
)


@pytest.mark.parametrize("kind", [FaultKind.LATE_BRAKING, FaultKind.DROPOUT])
def test_an_end_at_a_range_counts_from_the_begin(kind):
    """Inside 10 m the vehicle was before, but that was long before the fault began."""
    fault = Fault(kind, at_s=250.0, until_range_m=10.0, size=0.2 * (kind in VEHICLE_KINDS))
    plain = flown(BACK_AND_AGAIN)
    run = flown(replace(BACK_AND_AGAIN, faults=(fault,)))
    (span,) = run.truth.faults
    truth = run.truth
    assert truth.range_m[truth.t < span.t_start].min() < 10.0
    assert span.t_start == START + 250.0
    at_end = np.interp(span.t_end, truth.t, truth.range_m)
    assert at_end == pytest.approx(10.0, abs=0.25)
    if kind is FaultKind.LATE_BRAKING:
        rows = min(len(truth.t), len(plain.truth.t))
        moved = truth.range_m[:rows] != plain.truth.range_m[:rows]
        first_s = truth.t[:rows][moved][0]
        assert span.t_start <= first_s < span.t_end


@pytest.mark.parametrize(
    ("kind", "size", "channel", "name"),
    [
        (FaultKind.THRUSTER_STUCK, 0.0005, Channel.Y, "y_m"),
        (FaultKind.LATERAL_DRIFT, 0.01, Channel.Y, "y_m"),
        (FaultKind.ATTITUDE_RUNAWAY, 0.001, Channel.YAW, "yaw_deg"),
        (FaultKind.FAST_CLOSING, 1.3, None, "range_m"),
        (FaultKind.LATE_BRAKING, 0.12, None, "range_m"),
    ],
)
def test_a_second_fault_of_one_kind_acts_beside_the_first(kind, size, channel, name):
    """What the truth lists was flown: from the second's begin on the vehicle goes elsewhere."""
    one = Fault(kind, at_s=10.0, for_s=60.0, size=size, channel=channel)
    two = Fault(kind, at_s=20.0, for_s=60.0, size=1.5 * size, channel=channel)
    alone, both = (flown(replace(BASE, faults=faults)).truth for faults in ((one,), (one, two)))
    assert [span.t_start - START for span in both.faults] == [10.0, 20.0]
    rows = min(len(alone.t), len(both.t))
    moved = getattr(alone, name)[:rows] != getattr(both, name)[:rows]
    assert 20.0 <= alone.t[:rows][moved][0] - START < 30.0


def test_two_stuck_thrusters_push_together():
    """As one of both their strength would."""
    stuck = {"kind": FaultKind.THRUSTER_STUCK, "channel": Channel.Y, "at_s": 10.0}
    both = (Fault(size=0.0005, **stuck), Fault(size=0.0002, **stuck))
    one = flown(replace(BASE, faults=(Fault(size=0.0005 + 0.0002, **stuck),))).truth
    np.testing.assert_array_equal(one.y_m, flown(replace(BASE, faults=both)).truth.y_m)


def test_faults_compose():
    """Several at once each act, in any order, and leave the truth as it was."""
    one = Fault(FaultKind.BIAS, at_s=10.0, size=0.2, source=OPTICAL, channel=Channel.RANGE)
    two = Fault(FaultKind.DROPOUT, at_s=20.0, for_s=3.0, source=RADIO)
    runs = [flown(replace(BASE, faults=faults)) for faults in ((one, two), (two, one))]
    assert runs[0].messages == runs[1].messages
    np.testing.assert_array_equal(runs[0].truth.range_m, without().truth.range_m)
    assert len(runs[0].truth.faults) == 2
