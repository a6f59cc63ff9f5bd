"""From samples to exceedances: quantities and judge together, on random and simulated passes."""

from __future__ import annotations

import math
import random
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from judging_oracle import Moment, Rule, exceedances

from console.core.ids import LimitId, SourceId
from console.core.records import CaptureStatus, RelativeSample
from console.envelope.limits import Allow, Basis, Curve, Level, Limit, LimitsFile
from console.envelope.quantity import Quantity
from console.envelope.reading import parse_limits
from console.envelope.setup import Setup
from console.judging.exceedance import Exceedance
from console.judging.gap import Gaps
from console.judging.judge import Judge
from console.judging.reading import Reading, estimated_values, measured_values
from console.simulation.reading import parse_scenario
from console.simulation.simulate import simulate
from console.tracking.tracker import Tracker
from tests.fakes.changed import replace

T0 = 1_932_100_000.0
DATA = Path(__file__).parents[2] / "replay_data"
OPTICAL, RADIO = SourceId("optical"), SourceId("radio")


@pytest.fixture(scope="module", name="preset")
def preset_fixture() -> LimitsFile:
    """Give the shipped final-approach file."""
    path = DATA / "limits" / "port_c_final_approach.toml"
    return parse_limits(path.read_bytes(), path.name)


# ------------------------------------------------------------------- random samples, naive oracle


def vector(a: float, b: float) -> float:
    """Give sqrt(a*a + b*b)."""
    return math.sqrt(a * a + b * b)


def naive_values(taken: list[RelativeSample], sample: RelativeSample) -> dict[str, float | None]:
    """Compute the ten quantities of a sample from everything taken so far, this one included."""
    valid = [s for s in taken if s.valid]
    own = [s for s in valid if s.source == sample.source and sample.t - s.t <= 10.0 + 1e-6]
    other = [s for s in valid if s.source != sample.source and s.t <= sample.t]
    gap = slope_gap = None
    if other:
        newest = max(other, key=lambda s: s.t)
        if sample.t - newest.t - 1.0 <= 1e-6:
            moved = newest.range_m + newest.range_rate_mps * (sample.t - newest.t)
            gap = abs(sample.range_m - moved)
    if len(own) >= 20 and 5.0 - (own[-1].t - own[0].t) <= 1e-6:
        times = np.array([s.t for s in own])
        slope = np.polyfit(times - times.mean(), [s.range_m for s in own], 1)[0]
        slope_gap = abs(sample.range_rate_mps - slope)
    offset = vector(sample.y_m, sample.z_m)
    return {
        "closing_rate": -sample.range_rate_mps,
        "lateral_offset": offset,
        "lateral_rate": vector(sample.y_rate_mps, sample.z_rate_mps),
        "pitch_yaw": vector(sample.pitch_deg, sample.yaw_deg),
        "roll": abs(sample.roll_deg),
        "pitch_yaw_rate": vector(sample.pitch_rate_dps, sample.yaw_rate_dps),
        "roll_rate": abs(sample.roll_rate_dps),
        "corridor_angle": math.degrees(math.atan2(offset, sample.range_m)),
        "source_gap": gap,
        "range_rate_gap": slope_gap,
    }


TYPICAL = {
    "closing_rate": 0.1, "lateral_offset": 0.5, "lateral_rate": 0.05, "pitch_yaw": 2.0,
    "roll": 1.0, "pitch_yaw_rate": 0.1, "roll_rate": 0.05, "corridor_angle": 5.0,
    "source_gap": 0.3, "range_rate_gap": 0.03,
}  # fmt: skip


def random_samples(random_: random.Random, count: int) -> list[RelativeSample]:
    """Make two sources' samples in order of time: noise that wanders, gaps, invalid ones."""
    samples, t, level = [], T0, 1.0
    start_m = random_.uniform(3.0, 12.0)
    for n in range(count):
        t += random_.choice([0.1, 0.1, 0.1, 0.1, 0.3, 1.0]) if random_.random() > 0.01 else 4.0
        if random_.random() < 0.05:
            level = random_.choice([0.5, 1.0, 2.0])

        def around(size: float, level: float = level) -> float:
            return random_.gauss(0.0, 0.7) * size * level

        samples.append(
            RelativeSample(
                OPTICAL if random_.random() < 0.7 else RADIO, n, t,
                start_m - 0.08 * (t - T0) + around(0.1), -0.1 * level + around(0.02), around(0.4),
                around(0.4), around(1.0), around(1.5), around(1.5), around(0.04), around(0.04),
                around(0.05), around(0.08), around(0.08), valid=random_.random() > 0.04,
            )
        )  # fmt: skip
    return samples


@settings(max_examples=150, deadline=None)
@given(st.integers(0, 2**62))
def test_samples_to_exceedances_agree_with_a_naive_reading(seed: int) -> None:
    """All ten quantities, as measured, over passes of two sources with one in use."""
    random_ = random.Random(seed)
    samples = random_samples(random_, random_.randint(20, 160))
    rules = [
        Rule(
            name,
            "warning",
            random_.choice(["below", "below", "above"]),
            [(0.0, size * random_.uniform(0.5, 1.2)), (9.0, size * random_.uniform(0.8, 1.5))],
            random_.choice([0.0, 0.3 * size]),
            random_.choice([0.0, 0.2, 0.5]),
            random_.choice([0.0, 0.2, 1.0]),
        )
        for name, size in TYPICAL.items()
    ]
    records = judged_as_measured(rules, samples)
    for rule in rules:
        moments = [
            Moment(s.t, s.range_m, s.range_m, naive_values(samples[: n + 1], s)[rule.id])
            for n, s in enumerate(samples)
            if s.source == OPTICAL and s.valid
        ]
        expected = exceedances(rule, moments, 1.0)
        got = [r for r in records if r.id == rule.id]
        assert [(e["onset"], e["raised"], e["cleared"], e["peak_t"]) for e in expected] == [
            (r.onset, r.raised, r.cleared, r.peak_t) for r in got
        ]
        exact = rule.id not in ("range_rate_gap", "source_gap")
        for e, r in zip(expected, got, strict=True):
            assert r.peak == (e["peak"] if exact else pytest.approx(e["peak"], abs=1e-9))
            assert r.peak_limit == e["peak_limit"]


def judged_as_measured(rules: list[Rule], samples: list[RelativeSample]) -> list[Exceedance]:
    """Run optical's samples through quantities and judge, radio's through the gaps alone."""
    path = DATA / "limits" / "docking_contact_conditions.toml"
    file = parse_limits(path.read_bytes(), path.name)
    limits = tuple(
        Limit(
            LimitId(rule.id), Quantity(rule.id), Basis.MEASURED, Level.WARNING, Allow(rule.allow),
            Curve(*zip(*rule.points, strict=True)), rule.deadband, rule.on_delay_s,
            rule.off_delay_s,
        )
        for rule in rules
    )  # fmt: skip
    judge, gaps, records = Judge(replace(file, limits=limits)), Gaps(1.0), []
    for sample in samples:
        gaps.take(sample)
        if sample.source == OPTICAL and sample.valid:
            values = measured_values(sample, None, gaps)
            changes = judge.feed(Reading(sample.t, sample.range_m, None, values, {}))
            records += [change.exceedance for change in changes if change.raised]
    return records


# ------------------------------------------------------------------------------- simulated passes


def simulated_exceedances(
    preset: LimitsFile, scenario: str, seed: int, from_m: float
) -> list[Exceedance]:
    """Judge the optical source of a simulated pass against the shipped limits, up to contact."""
    path = DATA / "scenarios" / f"{scenario}.toml"
    flown = simulate(parse_scenario(path.read_bytes(), path.name), preset, Setup(), seed, from_m)
    tracker, judge, gaps, records = Tracker(preset, Setup()), Judge(preset), Gaps(1.0), []
    for message in flown.messages:
        sample = message.record
        if isinstance(sample, CaptureStatus) and sample.contact:
            break
        if not isinstance(sample, RelativeSample):
            continue
        tracker.update(sample)
        gaps.take(sample)
        if sample.source == OPTICAL and sample.valid:
            state = tracker.estimate(sample.t)
            reading = Reading(
                sample.t,
                sample.range_m,
                None if state is None else state.range_m,
                measured_values(sample, state, gaps),
                estimated_values(state),
            )
            records += [c.exceedance for c in judge.feed(reading) if c.raised]
    return records


@pytest.mark.parametrize("seed", [0, 3, 11])
def test_a_nominal_pass_raises_nothing(preset: LimitsFile, seed: int) -> None:
    """Sensor noise, outliers, dropouts and a 20 m hold are no reason to speak."""
    assert [e.id for e in simulated_exceedances(preset, "nominal", seed, 25.0)] == []


def test_closing_too_fast_is_a_caution_first_and_then_a_warning(preset: LimitsFile) -> None:
    """The warning comes while a stop call still helps: more than 5 m outside hands-off."""
    records = simulated_exceedances(preset, "fast_closing", 1, 25.0)
    assert [e.id for e in records[:2]] == ["closing-fast-caution", "closing-fast"]
    first, second = records[:2]
    assert first.raised < second.raised
    assert first.onset <= second.onset


def test_attitude_running_away_is_seen_in_the_rate_before_the_angle(preset: LimitsFile) -> None:
    """A rate limit earns its keep."""
    raised = {e.id: e.raised for e in simulated_exceedances(preset, "attitude_buildup", 1, 40.0)}
    assert raised["pitch-yaw-rate-caution"] < raised["pitch-yaw-caution"] < raised["pitch-yaw"]
