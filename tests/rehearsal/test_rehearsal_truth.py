"""The truth of a run: closed-form passes, simulated flights, and until when a stop helped."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import pytest
from fakes.rehearsals import SOFT_CAPTURE_S, T0, write_worked
from hypothesis import given
from hypothesis import strategies as st

from console.app.feed import messages_of
from console.app.input_file import demo_setup, load_limits, load_scenario, load_setup
from console.archive.passes import read_pass
from console.core.records import RelativeSample
from console.envelope.limits import HandsOff
from console.rehearsal.truth import (
    hold_until,
    stop_spare_s,
    truth_of_flight,
    truth_of_pass,
)
from console.simulation.faults import Fault, FaultKind
from console.simulation.simulate import Published, SimulatedPass, simulate
from tests.fakes.changed import replace

RULE = HandsOff(range_m=1.8, link_delay_s=1.5, reaction_s=4.0, braking_mps2=0.01)


@pytest.fixture(scope="module")
def worked(tmp_path_factory: pytest.TempPathFactory) -> tuple[list[Published], Path]:
    """Give the messages of the pass worked by hand, and its limits."""
    folder = tmp_path_factory.mktemp("worked")
    limits, _ = write_worked(folder)
    return list(messages_of(read_pass(folder / "worked.csv"))), limits


def test_a_pass_worked_by_hand(worked: tuple[list[Published], Path]) -> None:
    """From 12 m at 0.1 m/s: 10, 5, 2 m at 20, 70, 100 s; 1.8 m at 102 s; contact at 120 s."""
    messages, limits = worked
    truth = truth_of_pass(messages, (), load_limits(limits))
    assert [m for m, _ in truth.marks] == [10, 5, 2]
    assert pytest.approx([t - T0 for _, t in truth.marks], abs=1e-3) == [20, 70, 100]
    assert truth.hands_off == pytest.approx(T0 + 102, abs=1e-3)
    assert truth.contact == pytest.approx(T0 + 120, abs=1e-3)
    assert truth.soft_capture == pytest.approx(T0 + SOFT_CAPTURE_S, abs=1e-3)
    assert truth.hold_until == pytest.approx(T0 + 91.5, abs=1e-3)
    assert pytest.approx(truth.at(T0 + 21.5), abs=1e-6) == (9.85, 0.1)
    assert truth.at(T0 - 1.0) is None
    assert truth.violations is None


def test_a_single_outlier_moves_neither_mark_nor_path(
    worked: tuple[list[Published], Path],
) -> None:
    """One range of 4 m at 50 s (7 m in truth) passes no mark and bends no path."""
    messages, limits = worked
    hit = [
        replace_range(m, 4.0) if m.record.t == T0 + 50.0 else m
        for m in messages
    ]  # fmt: skip
    truth = truth_of_pass(hit, (), load_limits(limits))
    assert truth_of_pass(messages, (), load_limits(limits)).marks == truth.marks
    assert pytest.approx(truth.at(T0 + 50.0), abs=0.02) == (7.0, 0.1)


def replace_range(message: Published, range_m: float) -> Published:
    """Give a message with another range, where it is a sample."""
    if not isinstance(message.record, RelativeSample):
        return message
    fields = {name: getattr(message.record, name) for name in message.record.__struct_fields__}
    return Published(message.t_publish_s, RelativeSample(**{**fields, "range_m": range_m}))


@given(st.floats(0.02, 0.6), st.floats(5.0, 100.0), st.floats(0.1, 0.9))
def test_the_last_useful_stop_of_a_constant_rate(v: float, start_m: float, part: float) -> None:
    """It is where the way left equals delays and braking: x = 1.8 + 5.5 v + v^2/0.02."""
    at_m = 1.8 + 5.5 * v + v * v / 0.02
    path = [(i * 1.0, start_m - v * i) for i in range(int(start_m / v) + 1)]
    rows = [(t, x, v) for t, x in path if x > 0.0]
    until = hold_until(rows, RULE)
    if start_m < at_m:
        assert until is None
    elif rows[-1][1] < at_m:
        assert until == pytest.approx((start_m - at_m) / v, abs=1e-6)
    x = at_m + part * 3.0
    spare_s = stop_spare_s(x, v, RULE)
    assert spare_s == pytest.approx(part * 3.0 / v, rel=1e-9)


def test_a_vehicle_that_stands_can_be_held_at_any_time() -> None:
    """While it holds a stop helps; after it closes again the last useful call follows."""
    stands = [(float(t), 5.0, 0.0) for t in range(10)]
    closes = [(10.0 + t, 5.0 - 0.1 * t, 0.1) for t in range(50)]
    assert hold_until(stands, RULE) == 9.0
    assert pytest.approx(hold_until(stands + closes, RULE)) == 10.0 + (5.0 - 2.85) / 0.1
    assert hold_until([(0.0, 1.0, 0.1)], RULE) is None
    assert stop_spare_s(5.0, 0.0, RULE) is None


@cache
def flown(*faults: Fault) -> SimulatedPass:
    """Fly the nominal scenario from 15 m with faults."""
    scenario = replace(load_scenario("nominal"), faults=faults)
    return simulate(scenario, load_limits(None), load_setup(demo_setup()), 3, 15.0)


def test_marks_of_a_flight_are_where_the_true_range_crosses() -> None:
    """Each mark's time is that of the simulation's own search, and its range that of the path."""
    truth = truth_of_flight(flown(), load_limits(None))
    assert [m for m, _ in truth.marks] == [10, 5, 4, 3, 2, 1]
    for mark_m, t in truth.marks:
        assert t == pytest.approx(flown().truth.time_at_range(mark_m), abs=1e-6)
        here = truth.at(t)
        assert here is not None
        assert here[0] == pytest.approx(mark_m, abs=2e-3)
    assert truth.contact == flown().truth.t_contact
    assert truth.violations is not None
    assert "closing-fast" not in {id_ for id_, _, _ in truth.violations}


def test_a_sensors_fault_leaves_the_truth_as_it_was() -> None:
    """A biased, then silent source changes nothing that really happened."""
    spoiled = flown(
        Fault(FaultKind.LINK_LOSS, at_range_m=9.0, for_s=20.0),
        Fault(FaultKind.DROPOUT, at_range_m=4.0, for_s=9.0),
    )
    truth, clean = (truth_of_flight(one, load_limits(None)) for one in (spoiled, flown()))
    assert (clean.marks, clean.path, clean.hold_until) == (
        truth.marks, truth.path, truth.hold_until,
    )  # fmt: skip
    assert [fault.words for fault in truth.faults] == ["link loss", "drop-out"]


def test_a_vehicles_fault_shows_in_the_truth() -> None:
    """Closing 1.7 times too fast from 9 m breaks the true limit, and leaves less time to stop."""
    fast = flown(Fault(FaultKind.FAST_CLOSING, at_range_m=9.0, size=1.7))
    truth = truth_of_flight(fast, load_limits(None))
    assert truth.violations is not None
    assert "closing-fast" in {id_ for id_, _, _ in truth.violations}
    clean = truth_of_flight(flown(), load_limits(None))
    assert truth.hold_until is not None
    assert clean.hold_until is not None
    assert truth.hold_until < clean.hold_until - 10.0
