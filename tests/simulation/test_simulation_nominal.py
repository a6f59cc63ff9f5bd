"""The nominal approach against the published contact conditions and facts of common practice."""

import itertools

import numpy as np
import pytest
from simulation_cases import LIMITS, SETUP, nominal, nominal_truth

from console.core.records import CaptureStatus, Heartbeat, RelativeSample
from console.core.utc import format_utc
from console.envelope.quantity import Quantity
from console.simulation.scenario import Scenario
from console.simulation.simulate import simulate
from console.wire.decode import decode
from console.wire.encode import encode

SEEDS = range(24)
# IDSS IDD Rev E, Table 3.3.1.1-2, initial contact conditions.
IDSS = {
    Quantity.CLOSING_RATE: (0.05, 0.10),
    Quantity.LATERAL_OFFSET: (0.0, 0.10),
    Quantity.LATERAL_RATE: (0.0, 0.04),
    Quantity.PITCH_YAW: (0.0, 4.0),
    Quantity.ROLL: (0.0, 4.0),
    Quantity.PITCH_YAW_RATE: (0.0, 0.20),
    Quantity.ROLL_RATE: (0.0, 0.20),
}


@pytest.mark.parametrize("seed", SEEDS)
def test_true_contact_is_within_the_published_conditions(seed):
    """Every quantity at true contact lies in the published box, from the 200 m and 20 m hold."""
    for start in (None, 20.0):
        contact = nominal_truth(seed, start).contact
        assert contact is not None
        for quantity, (least, most) in IDSS.items():
            assert least <= contact.values[quantity] <= most, (quantity, seed)


@pytest.mark.parametrize("seed", SEEDS)
def test_facts_of_common_practice(seed):
    """A little under 0.1 m/s inside 20 m, hands-off 17 to 23 s and 10 m 95 to 120 s before."""
    truth = nominal_truth(seed)
    contact_t = truth.t_contact
    assert 17.0 <= contact_t - truth.time_at_range(LIMITS.hands_off.range_m) <= 23.0
    assert 95.0 <= contact_t - truth.time_at_range(10.0) <= 120.0
    released = truth.holds[-1].t_end
    under_way = (truth.t > released + 15.0) & (truth.t < contact_t)
    closing = -truth.range_rate_mps[under_way]
    assert closing.min() > 0.08
    assert closing.max() < 0.10
    from_20 = contact_t - truth.time_at_range(LIMITS.hands_off.range_m) - (contact_t - released)
    assert 170.0 <= -from_20 <= 230.0  # about 3 min from 20 m to the hands-off point


def test_the_vehicle_stands_at_both_holds_as_long_as_it_should():
    """45 s at 200 m and 60 s at 20 m, a little outside the range mark."""
    truth = nominal(3).truth
    assert [round(hold.range_m) for hold in truth.holds] == [201, 20]
    for hold, wanted in zip(truth.holds, (45.0, 60.0), strict=True):
        assert hold.t_end - hold.t_start == pytest.approx(wanted, abs=1.0)
        there = (truth.t > hold.t_start + 5) & (truth.t < hold.t_end)
        assert np.abs(truth.range_m[there] - hold.range_m).max() < 0.35
        assert truth.range_m[there].min() > hold.range_m - 0.5
        assert np.abs(truth.range_rate_mps[there]).max() < 0.03


def test_the_glide_slope_is_flown():
    """Between 180 and 25 m the closing rate stays near the planned one."""
    truth = nominal(2).truth
    under_way = (truth.range_m < 150) & (truth.range_m > 30) & (truth.t < truth.t_contact)
    planned = 0.09 + (0.55 - 0.09) / 180 * (truth.range_m[under_way] - 20)
    assert np.abs(-truth.range_rate_mps[under_way] - planned).max() < 0.012


def test_same_seed_same_messages_another_seed_others():
    """All randomness comes from the seed."""
    again = simulate(Scenario(), LIMITS, SETUP, 3)
    assert again.messages == nominal(3).messages
    assert nominal(4).messages != nominal(3).messages


def test_the_truth_does_not_depend_on_who_looks():
    """Without sources the vehicle flies the same."""
    seen, unseen = nominal(3).truth, nominal_truth(3)
    np.testing.assert_array_equal(seen.columns(), unseen.columns())
    assert seen.contact == unseen.contact


def test_messages_come_in_order_and_after_their_measurement():
    """Publication times never fall; each record is published after it was measured."""
    messages = nominal(3).messages
    times = [message.t_publish_s for message in messages]
    assert sorted(times) == times
    for message in messages:
        delay = message.t_publish_s - message.record.t
        if not isinstance(message.record, Heartbeat):
            assert 0.05 < delay < 0.5
    assert format_utc(times[0]).startswith("2031-")
    assert format_utc(times[-1]).startswith("2031-")


@pytest.mark.parametrize(
    ("source", "hz", "delay"), [("optical", 10.0, 0.12), ("radio", 2.0, 0.35)]
)
def test_each_source_has_its_rate_and_delay(source, hz, delay):
    """Optical 10 Hz and radio 2 Hz, one after another without a gap, each with its own delay."""
    sent = [
        message
        for message in nominal(3).messages
        if isinstance(message.record, RelativeSample) and message.record.source == source
    ]
    assert [message.record.seq for message in sent] == list(range(len(sent)))
    steps = np.diff([message.record.t for message in sent])
    assert np.allclose(steps, 1 / hz, atol=2e-6)
    delays = [message.t_publish_s - message.record.t for message in sent]
    assert delay - 1e-6 <= min(delays) <= max(delays) <= delay + 0.06


def test_the_sample_by_which_contact_is_seen():
    """After contact range goes a little below 0: two successive optical samples show it."""
    for seed in range(12):
        run = nominal(seed, 12.0)
        contact_t = run.truth.t_contact
        optical = [
            m.record
            for m in run.messages
            if isinstance(m.record, RelativeSample) and m.record.source == "optical"
        ]
        seen = [
            later.t
            for first, later in itertools.pairwise(optical)
            if first.range_m <= 0.0 and later.range_m <= 0.0
        ]
        assert seen
        assert -1.0 < seen[0] - contact_t < 2.0
        assert optical[-1].t - contact_t > 5.0


def test_heartbeats_tell_the_last_number_of_each_source():
    """About once a second each, to the end, with the highest number published by then."""
    run = nominal(3)
    for source in ("optical", "radio", "mechanism"):
        highest, beats = -1, []
        for message in run.messages:
            record = message.record
            if record.source != source:
                continue
            if isinstance(record, Heartbeat):
                assert record.last_seq == highest
                beats.append(record.t)
            else:
                highest = max(highest, record.seq)
        assert np.allclose(np.diff(beats), 1.0)
        assert run.messages[-1].t_publish_s - beats[-1] < 1.5


def test_every_message_passes_the_wire():
    """Each record encodes and decodes to itself: nothing the wire would refuse is made."""
    for message in nominal(3).messages[::7]:
        assert decode(*encode(message.record)) == message.record


def test_starting_nearer_leaves_the_outer_hold_out():
    """From 20 m the vehicle starts at rest in the 20 m hold; from 12 m it is under way."""
    at_hold = nominal(3, 20.0).truth
    assert len(at_hold.holds) == 1
    assert at_hold.range_m[0] == pytest.approx(20.2, abs=0.1)
    assert at_hold.range_rate_mps[0] == pytest.approx(0.0, abs=0.005)
    under_way = nominal(3, 12.0).truth
    assert under_way.holds == ()
    assert under_way.range_m[0] == pytest.approx(12.0)
    assert under_way.range_rate_mps[0] == pytest.approx(-0.09, abs=0.006)


def test_capture_statuses_come_only_after_contact():
    """No status before contact; the first one says contact at its very time."""
    run = nominal(3)
    statuses = [m.record for m in run.messages if isinstance(m.record, CaptureStatus)]
    assert statuses[0].t == pytest.approx(run.truth.t_contact, abs=1e-5)
    assert statuses[0].contact
    assert not statuses[0].soft_capture
