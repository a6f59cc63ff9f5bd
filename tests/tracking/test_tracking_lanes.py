"""The estimator over many passes at once, held to the estimator itself."""

from __future__ import annotations

import numpy as np
import pytest

from console.app.input_file import load_limits
from console.core.records import RelativeSample
from console.envelope.setup import Setup
from console.simulation.population import Population, population
from console.simulation.scenario import Capture, Hold, Scenario
from console.simulation.simulate import observe
from console.tracking.agreement import Agreement
from console.tracking.filter import RelativeFilter
from console.tracking.joint import Joint
from console.tracking.lane_state import LaneState
from console.tracking.lanes import LaneFilter
from console.tracking.plain import SourceHistory, may_warn
from console.tracking.plan import ClosingPlan
from console.tracking.track import SourceTrack
from tests.fakes.changed import replace

LIMITS = load_limits(None)
SETUP = Setup()
PLAN = ClosingPlan.of(LIMITS.glide_slope)
BASE = Scenario(holds=(Hold(4.0, 8.0),), capture=Capture(samples_s=0.0, vestibule_s=0.0))
SENSORS = BASE.sensors
BEGIN_S = 3.0


def samples_of(measured) -> list[tuple[RelativeSample, int, int]]:
    """Give the samples of both sources in order of time, with source and place."""
    found = []
    for i, (sensor, one) in enumerate(zip(SENSORS, measured, strict=True)):
        for k, v in enumerate(one.values.tolist()):
            body = v[9:] if sensor.sends_body_rates else [None] * 3
            sample = RelativeSample(
                sensor.name, k, float(one.t[k]), v[0], v[3], v[1], v[2], *v[6:9], v[4], v[5], *body
            )
            found.append((sample, i, k))
    return sorted(found, key=lambda item: (item[0].t, item[0].source))


def followed(joint: Joint, pairs: list[Agreement], sample: RelativeSample) -> None:
    """Take a sample as the tracker does."""
    track = joint.tracks.get(sample.source)
    if track is None:
        track = SourceTrack(sample.source, SETUP.noise(sample.source), PLAN)
        pairs += [Agreement(other, track) for other in joint.tracks.values()]
        joint.add(track)
    track.take(sample)
    joint.take(track, sample)
    for pair in pairs:
        pair.take(track, sample.t)


def state_of(one: RelativeFilter) -> list[float]:
    """Give everything a filter's estimate is made of."""
    axes = (one.along.axis, one.y, one.z, one.roll, one.pitch, one.yaw)
    return [value for x in axes for value in (x.p, x.v, x.a, x.b, x.c)]


def lane_states(state: LaneState, column: int, lane: int) -> list[float]:
    """Give the same of one lane's filter."""
    rows = (state.p, state.v, state.a, state.b, state.c)
    return [float(array[row, column, lane]) for row in range(6) for array in rows]


def test_lanes_agree_with_the_estimator_to_the_last_bit() -> None:
    """Three passes side by side, one of them with samples missing: every filter, every sample."""
    members = population(Population.WIDE, 3, 11, replace(BASE, start_range_m=7.0))
    passes = []
    for number, member in enumerate(members):
        scenario = replace(member.scenario, start_range_m=7.0, sensors=SENSORS, holds=BASE.holds)
        measured = observe(scenario, LIMITS, SETUP, member.seed).measured
        gone = np.arange(len(measured[0].t)) % 97 != 50 if number == 1 else None
        passes.append([(measured[0], gone), (measured[1], None)])
    events: dict[tuple[float, int], list[tuple[int, RelativeSample, np.ndarray]]] = {}
    joints, begin = [], BASE.start_t + BEGIN_S
    for lane, sources in enumerate(passes):
        joint, pairs = Joint(1.0), []
        joints.append((joint, pairs))
        for sample, i, k in samples_of([one for one, _ in sources]):
            gone = sources[i][1]
            if gone is not None and not gone[k] and sample.t >= begin:
                continue
            if sample.t < begin:
                followed(joint, pairs, sample)
            else:
                row = (lane, sample, sources[i][0].values[k])
                events.setdefault((sample.t, i), []).append(row)
    state = LaneState.loaded([joint for joint, _ in joints])
    lanes = LaneFilter(
        PLAN,
        (SETUP.noise(SENSORS[0].name), SETUP.noise(SENSORS[1].name)),
        ((True, True), (True, False)),
        1.0,
    )
    compared = 0
    for (t, i), rows in sorted(events.items(), key=lambda item: item[0]):
        here = np.array([lane for lane, _, _ in rows])
        some = state.select(here)
        lanes.take(some, i, t, np.column_stack([values for _, _, values in rows]))
        state.assign(here, some)
        for lane, sample, _ in rows:
            joint, pairs = joints[lane]
            followed(joint, pairs, sample)
            assert all(track.is_trusted for track in joint.tracks.values())
            assert joint.filter is not None
            assert lane_states(state, 1, lane) == state_of(joint.filter)
            own = joint.tracks[sample.source]
            assert lane_states(state, 2 * i, lane) == state_of(own.filter)
            assert float(state.interval_s[i, lane]) == own.noise.interval_s
            compared += 1
    assert compared > 2500


FAULTS = [
    "none", "step", "small step", "rate", "frozen", "frozen range", "lateral step", "noise",
    "short dash",
]  # fmt: skip


@pytest.mark.parametrize("source", [0, 1])
@pytest.mark.parametrize("fault", FAULTS)
def test_no_pass_with_a_warning_is_called_plain(fault: str, source: int) -> None:
    """Wherever the checks warn, "maybe" is said; of healthy passes most are told to be plain."""
    plain = warned = 0
    for member in population(Population.NOMINAL, 2, 3, replace(BASE, start_range_m=6.0)):
        scenario = replace(member.scenario, start_range_m=6.0, sensors=SENSORS, holds=BASE.holds)
        one = observe(scenario, LIMITS, SETUP, member.seed).measured[source]
        values = one.values.copy()
        spoil(
            values,
            fault,
            12 if SENSORS[source].sends_body_rates else 9,
            float(one.t[1] - one.t[0]),
        )
        noise = SETUP.noise(SENSORS[source].name)
        warns, history = by_checks(source, one.t, values, noise)
        told = may_warn(history)
        assert told or not warns
        plain += not told
        warned += warns
    if fault == "none":
        assert plain == 2
    elif fault in ("step", "frozen", "frozen range"):
        assert warned == 2


def spoil(values: np.ndarray, fault: str, sent: int, step_s: float) -> None:
    """Plant a fault half-way through; what is not sent goes on as it was.

    A short dash is one in which range and its rate agree: 0.9 m/s nearer for eight samples.
    """
    half = len(values) // 2
    rows = slice(half, half + 60)
    match fault:
        case "step":
            values[half:, 0] += 3.0
        case "small step":
            values[half:, 0] += 0.12
        case "lateral step":
            values[half:, 1] += 0.5
        case "rate":
            values[half:, 3] -= 0.03
        case "frozen":
            values[rows, :sent] = values[half, :sent]
        case "frozen range":
            values[rows, 0] = values[half, 0]
        case "short dash":
            dash = np.zeros(len(values))
            dash[half : half + 8] = -0.9
            values[:, 3] += dash
            values[:, 0] += np.cumsum(dash) * step_s
        case "noise":
            values[rows, 0] += np.where(np.arange(60) % 2, 0.2, -0.2)[: len(values[rows])]


def by_checks(source: int, t: np.ndarray, values: np.ndarray, noise) -> tuple[bool, SourceHistory]:
    """Follow the samples by the checks themselves; tell whether they ever warn."""
    track = SourceTrack(SENSORS[source].name, noise, PLAN)
    warns, intervals, factors = False, [], []
    sensor = SENSORS[source]
    for k, v in enumerate(values.tolist()):
        body = v[9:] if sensor.sends_body_rates else [None] * 3
        track.take(
            RelativeSample(
                sensor.name, k, float(t[k]), v[0], v[3], v[1], v[2], *v[6:9], v[4], v[5], *body
            )
        )
        warns |= track.checks.has_warning
        n = track.noise
        intervals.append(n.interval_s)
        factors.append(
            [n.range.factor, n.range_rate.factor, n.lateral.factor, n.lateral_rate.factor]
        )
    history = SourceHistory(t, values, np.array(intervals), np.array(factors), noise, True)
    return warns, history
