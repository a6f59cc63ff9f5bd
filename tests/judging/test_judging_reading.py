"""The judged quantities against other formulas, and the two gaps against brute force."""

from __future__ import annotations

import math
import random

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from console.core.ids import SourceId
from console.core.records import RelativeSample
from console.envelope.quantity import Quantity
from console.judging.gap import RECENT, Gaps
from console.judging.reading import Rates, estimated_values, measured_values
from console.judging.slope import SlopeWindow

T0 = 1_932_100_000.0
OPTICAL, RADIO, LASER = SourceId("optical"), SourceId("radio"), SourceId("laser")
finite = st.floats(-1e5, 1e5)


def sample(t: float = T0, range_m: float = 20.0, **fields: object) -> RelativeSample:
    """Make a sample that closes at 0.1 m/s, with any field set otherwise."""
    values: dict = {
        "source": OPTICAL,
        "seq": 1,
        "range_rate_mps": -0.1,
        "y_m": 0.0,
        "z_m": 0.0,
        "roll_deg": 0.0,
        "pitch_deg": 0.0,
        "yaw_deg": 0.0,
    }
    return RelativeSample(t=t, range_m=range_m, **(values | fields))


@settings(deadline=None)
@given(finite, finite, finite, finite, finite, finite, finite)
def test_quantities_are_those_of_numpy(
    range_m: float, y: float, z: float, rate_y: float, rate_z: float, pitch: float, yaw: float
) -> None:
    """Vector lengths to the last bit as sqrt of a sum of squares, the angle as arctan2."""
    values = measured_values(
        sample(
            range_m=range_m, y_m=y, z_m=z, y_rate_mps=rate_y, z_rate_mps=rate_z, pitch_deg=pitch,
            yaw_deg=yaw, pitch_rate_dps=yaw, yaw_rate_dps=pitch, roll_deg=y, roll_rate_dps=z,
        )
    )  # fmt: skip
    offset = np.sqrt(np.square(y) + np.square(z))
    assert values[Quantity.LATERAL_OFFSET] == offset
    assert values[Quantity.LATERAL_RATE] == np.sqrt(np.square(rate_y) + np.square(rate_z))
    assert values[Quantity.PITCH_YAW] == np.sqrt(np.square(pitch) + np.square(yaw))
    assert values[Quantity.PITCH_YAW_RATE] == np.sqrt(np.square(yaw) + np.square(pitch))
    assert values[Quantity.ROLL] == max(y, -y)
    assert values[Quantity.ROLL_RATE] == max(z, -z)
    angle = np.degrees(np.arctan2(offset, range_m))
    assert values[Quantity.CORRIDOR_ANGLE] == pytest.approx(angle, rel=1e-14)


def test_closing_rate_is_minus_range_rate() -> None:
    """Positive while approaching."""
    assert measured_values(sample(range_rate_mps=-0.25))[Quantity.CLOSING_RATE] == 0.25


def test_two_angles_of_three_degrees_exceed_four_together() -> None:
    """Pitch/yaw is a vector sum (IDSS IDD Rev E table 3.3.1.1-2): 3 and 3 make 4.2426 deg."""
    values = measured_values(sample(pitch_deg=3.0, yaw_deg=3.0))
    assert values[Quantity.PITCH_YAW] == pytest.approx(4.2426, abs=5e-5)
    assert values[Quantity.PITCH_YAW] > 4.0


def test_absent_rates_come_from_the_estimator_each_by_itself() -> None:
    """A rate the source sends is taken, one it does not send is the estimator's."""
    estimator = Rates(0.3, 0.4, 5.0, 6.0, 8.0)
    assert measured_values(sample(), estimator)[Quantity.LATERAL_RATE] == 0.5
    assert measured_values(sample(), estimator)[Quantity.PITCH_YAW_RATE] == 10.0
    assert measured_values(sample(), estimator)[Quantity.ROLL_RATE] == 5.0
    sent = sample(y_rate_mps=0.0, roll_rate_dps=-1.0)
    assert measured_values(sent, estimator)[Quantity.LATERAL_RATE] == 0.4
    assert measured_values(sent, estimator)[Quantity.ROLL_RATE] == 1.0


def test_without_estimator_an_absent_rate_is_unknown() -> None:
    """Half a vector is no vector."""
    values = measured_values(sample(y_rate_mps=0.1, pitch_rate_dps=0.1))
    for quantity in (Quantity.LATERAL_RATE, Quantity.PITCH_YAW_RATE, Quantity.ROLL_RATE):
        assert values[quantity] is None


def test_estimated_quantities_are_the_measured_ones_of_the_same_state() -> None:
    """An estimate and a sample of one state give one set of numbers; only the gaps have none."""

    class State:
        range_m, closing_rate_mps, y_m, z_m = 12.0, 0.1, 0.3, -0.4
        roll_deg, pitch_deg, yaw_deg = -1.0, 2.0, 3.0
        y_rate_mps, z_rate_mps = 0.01, 0.02
        roll_rate_dps, pitch_rate_dps, yaw_rate_dps = 0.1, -0.2, 0.3

    measured = measured_values(
        sample(
            range_m=12.0, y_m=0.3, z_m=-0.4, roll_deg=-1.0, pitch_deg=2.0, yaw_deg=3.0,
            y_rate_mps=0.01, z_rate_mps=0.02, roll_rate_dps=0.1, pitch_rate_dps=-0.2,
            yaw_rate_dps=0.3,
        )
    )  # fmt: skip
    estimated = estimated_values(State())
    assert estimated == {q: measured[q] for q in estimated}
    assert set(Quantity) - set(estimated) == {Quantity.SOURCE_GAP, Quantity.RANGE_RATE_GAP}
    assert estimated_values(None) == {}


# ---------------------------------------------------------------------------------- source gap


def test_source_gap_moves_the_other_sample_by_its_own_rate() -> None:
    """The other source, half a second older and closing 0.2 m/s, is moved 0.1 m."""
    gaps = Gaps(1.0)
    gaps.take(sample(T0, 20.3, source=RADIO, range_rate_mps=-0.2))
    here = sample(T0 + 0.5, 20.0)
    gaps.take(here)
    assert gaps.source_gap_m(here) == pytest.approx(0.2)


@pytest.mark.parametrize(
    ("age_s", "known"), [(1.0, True), (1.0 + 5e-7, True), (1.0 + 2e-6, False), (3.0, False)]
)
def test_source_gap_is_unknown_when_the_other_is_stale(age_s: float, known: bool) -> None:
    """Older than stale_after_s by more than a microsecond is stale."""
    gaps = Gaps(1.0)
    gaps.take(sample(T0, source=RADIO))
    assert known == (gaps.source_gap_m(sample(T0 + age_s)) is not None)


def test_source_gap_counts_no_invalid_and_no_later_sample() -> None:
    """An invalid sample counts for nothing; one newer than the judged one is passed over."""
    gaps = Gaps(1.0)
    assert gaps.source_gap_m(sample()) is None
    gaps.take(sample(T0 - 0.5, 21.0, source=RADIO, range_rate_mps=0.0))
    gaps.take(sample(T0 - 0.1, 99.0, source=RADIO, valid=False))
    gaps.take(sample(T0 + 0.1, 50.0, source=RADIO))
    assert gaps.source_gap_m(sample(T0, 20.0)) == 1.0


@settings(max_examples=300, deadline=None)
@given(st.integers(0, 2**62))
def test_source_gap_is_that_of_a_search_through_everything_taken(seed: int) -> None:
    """Of any number of sources, in any order of arrival, the newest not newer sample is used."""
    random_ = random.Random(seed)
    gaps, taken = Gaps(1.0), []
    t = T0
    for _ in range(60):
        t += random_.choice([0.0, 0.1, 0.4, 1.0, 1.0 + 2e-6])
        here = sample(
            t - random_.choice([0.0, 0.0, 0.0, 0.3, 2.0]),
            random_.uniform(0, 50),
            source=random_.choice([OPTICAL, RADIO, LASER]),
            range_rate_mps=random_.uniform(-0.5, 0.5),
            valid=random_.random() > 0.1,
        )
        gaps.take(here)
        taken.append(here)
        others = [o for o in taken if o.valid and o.source != here.source and o.t <= here.t]
        newest_t = max((o.t for o in others), default=-math.inf)
        gap = gaps.source_gap_m(here)
        if here.t - newest_t - 1.0 > 1e-6:
            assert gap is None
        else:
            candidates = [
                abs(here.range_m - (o.range_m + o.range_rate_mps * (here.t - o.t)))
                for o in others
                if o.t == newest_t
            ]
            assert gap in candidates


def test_source_gap_memory_is_bounded() -> None:
    """A source that sends for ever is remembered only for a while."""
    gaps = Gaps(1.0)
    for n in range(5 * RECENT):
        gaps.take(sample(T0 + n * 1e-3, 20.0, source=RADIO))
    assert len(gaps._trails[RADIO].recent) < 2 * RECENT
    assert gaps.source_gap_m(sample(T0 + 5 * RECENT * 1e-3, 20.0)) is not None


# ------------------------------------------------------------------------------ range-rate gap


def slope_by_numpy(points: list[tuple[float, float]]) -> float | None:
    """Fit the last ten seconds with numpy, from scratch."""
    newest = max(t for t, _ in points)
    recent = [(t, r) for t, r in points if newest - t - 10.0 <= 1e-6]
    times = np.array([t for t, _ in recent])
    ranges = np.array([r for _, r in recent])
    if len(recent) < 20 or 5.0 - (times.max() - times.min()) > 1e-6:
        return None
    return float(np.polynomial.polynomial.polyfit(times - times.mean(), ranges, 1)[1])


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 2**62))
def test_slope_is_the_least_squares_one_of_the_last_ten_seconds(seed: int) -> None:
    """At any rate, with gaps and late samples, the running sums give numpy's fresh fit."""
    random_ = random.Random(seed)
    period_s = random_.choice([0.05, 0.1, 0.5, 0.5])
    window, points, t = SlopeWindow(), [], T0
    for n in range(250):
        t += period_s if random_.random() > 0.01 else random_.choice([3.0, 9.9, 12.0])
        late = t - 1.0 if random_.random() < 0.02 else t
        point = (late, 200.0 - 0.4 * n * period_s + random_.gauss(0.0, 0.2))
        window.add(*point)
        points.append(point)
        expected = slope_by_numpy(points)
        got = window.slope_mps()
        if expected is None:
            assert got is None
        else:
            assert got == pytest.approx(expected, abs=1e-9)


def test_slope_does_not_drift_over_hours() -> None:
    """After 200 000 samples the running sums are as good as fresh ones."""
    random_ = random.Random(3)
    window, points = SlopeWindow(), []
    for n in range(200_000):
        points.append((T0 + n * 0.1, 200.0 * math.cos(n / 5e3) + random_.gauss(0.0, 0.1)))
        window.add(*points[-1])
    assert window.slope_mps() == pytest.approx(slope_by_numpy(points[-150:]), abs=1e-10)


@pytest.mark.parametrize(
    ("count", "step_s", "known"),
    [(19, 0.5, False), (20, 0.5, True), (21, 0.25, True), (20, 0.25, False), (50, 0.1, False)],
)
def test_range_rate_gap_needs_twenty_samples_and_five_seconds(
    count: int, step_s: float, known: bool
) -> None:
    """Twenty samples 0.25 s apart span 4.75 s: too short."""
    gaps = Gaps(1.0)
    here = sample()
    for n in range(count):
        here = sample(T0 + n * step_s, 20.0 - 0.1 * n * step_s)
        gaps.take(here)
    assert known == (gaps.range_rate_gap_mps(here) is not None)


def test_range_rate_gap_is_the_size_of_rate_less_slope_of_its_own_source() -> None:
    """A source that reports 0.13 m/s while its range shrinks by 0.10 m/s has a gap of 0.03."""
    gaps = Gaps(1.0)
    here = sample()
    for n in range(101):
        here = sample(T0 + n * 0.1, 20.0 - 0.01 * n, range_rate_mps=-0.13)
        gaps.take(here)
        gaps.take(sample(T0 + n * 0.1, 20.0 + 0.5 * n, source=RADIO))
        gaps.take(sample(T0 + n * 0.1, 7.0, valid=False))
    values = measured_values(here, None, gaps)
    assert values[Quantity.RANGE_RATE_GAP] == pytest.approx(0.03, abs=1e-9)
    assert measured_values(here)[Quantity.RANGE_RATE_GAP] is None
    assert Gaps(1.0).range_rate_gap_mps(here) is None
