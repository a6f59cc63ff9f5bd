"""The tracker whole: starts, gaps, clocks, missing rates, coasting, faults, purity."""

from __future__ import annotations

import copy
import math
from itertools import pairwise

import msgspec
import numpy as np
import pytest

from console.core.ids import SourceId
from console.core.records import RelativeSample
from console.envelope.limits import Level
from console.envelope.setup import Setup
from console.tracking.along import Along
from console.tracking.outlook import Motion
from console.tracking.tracker import Tracker
from tests.tracking.tracking_passes import LIMITS, OPTICAL, RADIO, T0, Passing, feed, merged


def tracker() -> Tracker:
    """Make one with the default setup."""
    return Tracker(LIMITS, Setup())


def test_nothing_is_known_before_five_samples():
    """The first four samples give no estimate; the fifth does."""
    one = tracker()
    samples = Passing().samples()
    for sample in samples[:4]:
        one.update(sample)
        assert one.estimate(sample.t) is None
        assert one.motion(sample.t) is Motion.UNKNOWN
        assert one.to_contact(sample.t).best_s is None
        assert one.at_contact(sample.t) is None
        assert one.stop(sample.t, 0.0) is None
        assert one.path(sample.t) == ()
    one.update(samples[4])
    assert one.estimate(samples[4].t).range_m == pytest.approx(14.96, abs=0.1)


@pytest.mark.parametrize("bad", range(5))
def test_an_outlier_among_the_first_samples_does_no_harm(bad):
    """The start is the median: whichever of the first five is wild."""
    samples = Passing().samples()[:10]
    samples[bad] = msgspec.structs.replace(samples[bad], range_m=900.0, range_rate_mps=-9.0)
    one = tracker()
    t = feed(one, samples)
    assert one.estimate(t).range_m == pytest.approx(14.9, abs=0.15)
    assert one.estimate(t).closing_rate_mps == pytest.approx(0.09, abs=0.01)


@pytest.mark.parametrize("step_s", [0.005, 0.02, 0.1, 0.5, 1.0, 5.0])
def test_steps_from_five_milliseconds_to_five_seconds(step_s):
    """At any sample rate the estimate is right within its own sigma, and closing is seen."""
    one = tracker()
    for_s = min(max(20.0, 12 * step_s), 60.0) if step_s > 0.01 else 8.0
    samples = Passing(step_s=step_s, for_s=for_s).samples()
    t = feed(one, samples)
    found = one.estimate(t)
    true_m = 15.0 - 0.09 * (t - T0)
    assert abs(found.range_m - true_m) < 3 * found.range_sigma_m
    assert abs(found.closing_rate_mps - 0.09) < 3 * found.closing_sigma_mps
    assert one.motion(t) is Motion.CLOSING


def test_a_repeated_or_older_time_changes_nothing():
    """A sample not newer than its source's newest is dropped."""
    one = tracker()
    samples = Passing(for_s=5.0).samples()
    t = feed(one, samples)
    before = one.estimate(t)
    one.update(samples[-1])
    one.update(msgspec.structs.replace(samples[-3], range_m=99.0))
    assert before == one.estimate(t)


def test_an_invalid_sample_changes_nothing():
    """The sensor's own flag keeps a sample out of everything."""
    one = tracker()
    samples = Passing(for_s=5.0).samples()
    t = feed(one, samples)
    before = one.estimate(t), one.findings(t)
    one.update(msgspec.structs.replace(samples[-1], t=t + 0.1, range_m=99.0, valid=False))
    assert before == (one.estimate(t), one.findings(t))


def test_more_than_a_minute_starts_afresh():
    """After 61 s without data the state begins from the new samples alone."""
    one = tracker()
    samples = Passing(for_s=120.0).samples()
    t = feed(one, samples[:100])
    later = [s for s in samples if s.t > t + 61.0]
    one.update(later[0])
    assert one.estimate(later[0].t) is None
    t = feed(one, later[1:6])
    assert one.estimate(t).range_m == pytest.approx(15 - 0.09 * (t - T0), abs=0.1)


def test_coasting_goes_on_and_its_doubt_grows():
    """Without samples range runs on at the estimated rate while every sigma grows."""
    one = tracker()
    t = feed(one, Passing(for_s=40.0).samples())
    now, later, latest = (one.estimate(t + s) for s in (0.0, 5.0, 20.0))
    assert now.range_m - 0.09 * 20.0 == pytest.approx(latest.range_m, abs=0.05)
    sigmas = ("range_sigma_m", "closing_sigma_mps", "lateral_sigma_m", "angle_sigma_deg")
    for name in sigmas:
        assert getattr(now, name) < getattr(later, name) < getattr(latest, name)
    narrow, wide = one.to_contact(t), one.to_contact(t + 20.0)
    assert narrow.best_s - 20.0 == pytest.approx(wide.best_s, abs=0.5)
    assert narrow.high_s - narrow.low_s < wide.high_s - wide.low_s


@pytest.mark.parametrize("leap_s", [3600.0, 1e6, 1e9, 2e11])
def test_a_clock_that_leaps_by_years_costs_an_hours_steps_at_most(monkeypatch, leap_s):
    """Estimates, motion and countdown far ahead: finite, in a bounded number of steps."""
    one = tracker()
    t = feed(one, Passing(for_s=10.0).samples())
    steps, real = [], Along.step

    def counted(self, dt):
        steps.append(dt)
        assert len(steps) <= 40_000
        real(self, dt)

    monkeypatch.setattr(Along, "step", counted)
    found = one.estimate(t + leap_s)
    one.motion(t + leap_s)
    one.to_contact(t + leap_s)
    leapt = Passing(for_s=10.0, clock_s=leap_s).samples()
    for sample in leapt:
        one.update(sample)
        one.estimate(sample.t)
    assert math.isfinite(found.range_m)
    assert found.range_sigma_m > one.estimate(leapt[-1].t).range_sigma_m
    assert max(steps) <= 1.0


def test_coasting_back_is_not_done():
    """Asked for a time before the newest sample, the newest state is given."""
    one = tracker()
    t = feed(one, Passing(for_s=10.0).samples())
    assert one.estimate(t) == one.estimate(t - 3.0)


def test_rates_that_are_not_sent_come_from_the_estimator():
    """Lateral and body rates are estimated from positions alone."""

    def drift(t, values):
        return values | {
            "y_m": values["y_m"] + 0.01 * t,
            "roll_deg": values["roll_deg"] + 0.05 * t,
        }

    one = tracker()
    t = feed(one, Passing(with_rates=False, for_s=60.0, alter=drift).samples())
    found = one.estimate(t)
    assert pytest.approx(0.01, abs=0.003) == found.y_rate_mps
    assert pytest.approx(0.05, abs=0.03) == found.roll_rate_dps


def test_angles_wrap():
    """A roll that turns through 180 deg is followed without a jump of the rate."""

    def turn(t, values):
        roll = (170.0 + 0.5 * t + 180.0) % 360.0 - 180.0
        return values | {"roll_deg": roll, "roll_rate_dps": 0.5}

    one = tracker()
    t = feed(one, Passing(for_s=50.0, alter=turn).samples())
    found = one.estimate(t)
    assert pytest.approx(170.0 + 0.5 * (t - T0) - 360.0, abs=0.3) == found.roll_deg
    assert pytest.approx(0.5, abs=0.02) == found.roll_rate_dps


def test_hold_and_retreat_have_no_countdown():
    """Standing still is not closing; backing out is opening; neither has a number."""
    for rate, motion in ((0.0, Motion.NOT_CLOSING), (-0.05, Motion.OPENING)):
        one = tracker()
        t = feed(one, Passing(closing_mps=rate, for_s=30.0).samples())
        assert motion is one.motion(t)
        assert one.to_contact(t).best_s is None
        assert one.path(t) == ()
        assert one.stop(t, 0.1).hold_call_s is None


def test_no_wild_number_in_a_long_hold():
    """In ten minutes of hold no sample is called closing."""
    one = tracker()
    for sample in Passing(closing_mps=0.0, for_s=600.0).samples():
        one.update(sample)
        if sample.t > T0 + 5.0:
            assert one.motion(sample.t) is Motion.NOT_CLOSING


def test_a_second_source_sharpens_the_estimate():
    """Two healthy sources together are surer than one."""
    alone, both = tracker(), tracker()
    t = feed(alone, Passing().samples())
    feed(both, merged(Passing(), Passing(source=RADIO, seed=7)))
    assert both.estimate(t).closing_sigma_mps < alone.estimate(t).closing_sigma_mps
    assert abs(both.estimate(t).range_m - (15.0 - 0.09 * (t - T0))) < 0.05


def test_samples_that_come_late_still_count():
    """A slower link's samples, each a third of a second behind, are taken into the joint state."""
    one = tracker()
    late = Passing(source=RADIO, seed=7, clock_s=-0.33, alter=lambda t, v: v)
    true_shift = 0.09 * 0.33
    samples = merged(Passing(), late)
    t = feed(one, samples)
    # The late source measured 0.33 s earlier, at a range greater by 3 cm; stamped so, it agrees.
    assert abs(one.estimate(t).range_m - (15.0 - 0.09 * (t - T0))) < 0.05 + true_shift
    assert one.estimate(t).closing_sigma_mps < 0.002


@pytest.mark.parametrize("skew_s", [-3600.0, -5.0, 5.0, 3600.0])
def test_a_source_with_a_wrong_clock_does_not_carry_the_state_away(skew_s):
    """A second source seconds or hours off takes no part; its own estimate goes on."""
    one = tracker()
    feed(one, merged(Passing(), Passing(source=RADIO, seed=7, step_s=0.5, clock_s=skew_s)))
    t = T0 + 59.9
    assert one.estimate(t).range_m == pytest.approx(15.0 - 0.09 * 59.9, abs=0.06)
    own = one.source_estimate(RADIO, T0 + 59.5 + skew_s)
    assert own.range_m == pytest.approx(15.0 - 0.09 * 59.5, abs=0.1)


def test_the_preferred_sources_clock_is_the_states():
    """After a change of source the combined state lives on the new one's clock."""
    one = tracker()
    samples = merged(Passing(), Passing(source=RADIO, seed=7, clock_s=100.0))
    feed(one, samples[:600])
    one.prefer(RADIO)
    feed(one, samples[600:])
    assert one.estimate(T0 + 159.9).range_m == pytest.approx(15.0 - 0.09 * 59.9, abs=0.06)


def test_asking_changes_nothing():
    """A tracker asked everything at every sample finds the same as one never asked."""
    quiet, asked = tracker(), tracker()
    for sample in merged(Passing(for_s=30.0), Passing(source=RADIO, seed=7, for_s=30.0)):
        quiet.update(sample)
        asked.update(sample)
        for t in (sample.t, sample.t + 0.37):
            ask_everything(asked, t)
    assert ask_everything(quiet, sample.t) == ask_everything(asked, sample.t)


def ask_everything(one: Tracker, t: float) -> list[object]:
    """Give all answers."""
    return [
        one.estimate(t), one.source_estimate(RADIO, t), one.motion(t), one.to_contact(t),
        one.to_range(t, 1.8), one.at_contact(t), one.if_thrust_stops(t), one.stop(t, 0.2),
        one.path(t), one.findings(t),
    ]  # fmt: skip


def test_a_copy_goes_its_own_way():
    """A deep copy answers alike, and feeding one leaves the other alone."""
    samples = merged(Passing(for_s=40.0), Passing(source=RADIO, seed=7, for_s=40.0))
    one = tracker()
    t = feed(one, samples[:500])
    twin = copy.deepcopy(one)
    assert ask_everything(one, t) == ask_everything(twin, t)
    before = ask_everything(one, t)
    end = feed(twin, samples[500:])
    assert before == ask_everything(one, t)
    feed(one, samples[500:])
    assert ask_everything(one, end) == ask_everything(twin, end)


@pytest.mark.parametrize("step_s", [0.1, 0.5, 2.0])
def test_one_wild_rate_is_no_manoeuvre(step_s):
    """A single outlier of range rate, even from a slow source, leaves the doubt as it was."""
    samples = Passing(step_s=step_s, for_s=80.0).samples()
    wild = msgspec.structs.replace(samples[-1], range_rate_mps=0.3)
    one, other = tracker(), tracker()
    t = feed(one, samples)
    feed(other, [*samples[:-1], wild])
    usual = one.estimate(t + 1.0).closing_sigma_mps
    assert other.estimate(t + 1.0).closing_sigma_mps < 1.5 * usual


def braking(at_s: float, for_s: float):
    """Give an alteration that brings the vehicle to rest: range stands from then on."""

    def alter(t: float, values: dict[str, float]) -> dict[str, float]:
        gone = min(max(t - at_s, 0.0), for_s)
        rest = max(t - at_s - for_s, 0.0)
        values["range_rate_mps"] += 0.09 * gone / for_s
        values["range_m"] += 0.045 * gone * gone / for_s + 0.09 * rest
        return values

    return alter


def test_a_manoeuvre_that_one_source_sees_opens_the_others():
    """A slow source alone has not seen it yet; until then it owes the other nothing."""
    stop = braking(60.0, 4.0)
    radio = Passing(source=RADIO, seed=5, step_s=1.0, noise=3.0, for_s=62.0, alter=stop)
    both, alone = tracker(), tracker()
    quiet = T0 + 50.0
    samples = merged(Passing(for_s=62.0, alter=stop), radio)
    feed(both, [s for s in samples if s.t < quiet])
    feed(alone, [s for s in radio.samples() if s.t < quiet])
    assert both.source_estimate(RADIO, quiet) == alone.source_estimate(RADIO, quiet)
    t = feed(both, [s for s in samples if s.t >= quiet])
    feed(alone, [s for s in radio.samples() if s.t >= quiet])
    told, lone = both.source_estimate(RADIO, t), alone.source_estimate(RADIO, t)
    assert told.closing_sigma_mps > 2.0 * lone.closing_sigma_mps


def test_a_source_lost_in_a_manoeuvre_no_longer_speaks_of_it():
    """The other one's doubt shrinks again although the lost one's last word was a manoeuvre."""
    optical = Passing(for_s=62.0, alter=braking(60.0, 4.0))
    radio = Passing(
        source=RADIO, seed=5, step_s=0.5, noise=2.0, for_s=110.0, alter=braking(60.0, 4.0)
    )
    one, alone = tracker(), tracker()
    t = feed(one, merged(optical, radio))
    feed(alone, radio.samples())
    lone = alone.source_estimate(RADIO, t).closing_sigma_mps
    assert one.source_estimate(RADIO, t).closing_sigma_mps < 1.1 * lone


def test_a_combined_state_begun_in_a_manoeuvre_settles_after_it():
    """The lead changed while it was stopping: half a minute later nothing of that is left."""
    stop = braking(60.0, 4.0)
    radio = Passing(source=RADIO, seed=5, step_s=0.5, noise=2.0, for_s=100.0, alter=stop)
    samples = merged(Passing(for_s=100.0, alter=stop), radio)
    one, other = tracker(), tracker()
    for sample in samples:
        one.update(sample)
        other.update(sample)
        if T0 + 61.0 < sample.t < T0 + 63.0:
            one.prefer(sample.source)
    usual = other.estimate(samples[-1].t).closing_sigma_mps
    assert one.estimate(samples[-1].t).closing_sigma_mps < 1.1 * usual


def test_the_cheap_answers_are_the_full_ones():
    """Seconds to a range and a source's range alone equal what the full answers say."""
    one = tracker()
    t = feed(one, merged(Passing(for_s=30.0), Passing(source=RADIO, seed=7, for_s=30.0)))
    for later in (0.0, 0.4):
        assert one.seconds_to(t + later, 2.0) == copy.deepcopy(one).to_range(t + later, 2.0).best_s
        whole = one.source_estimate(RADIO, t + later)
        assert one.source_range_m(RADIO, t + later) == whole.range_m
    assert one.seconds_to(t, 99.0) is None
    assert one.source_range_m(SourceId("none"), t) is None


def test_no_answer_holds_a_nan():
    """Unknown is None: no figure of any answer is NaN or infinite."""

    def numbers(value):
        if isinstance(value, float):
            yield value
        elif isinstance(value, (list, tuple)):
            for one in value:
                yield from numbers(one)
        elif hasattr(value, "__dataclass_fields__") or hasattr(value, "__struct_fields__"):
            for name in type(value).__annotations__:
                yield from numbers(getattr(value, name))

    one = tracker()
    for sample in Passing(start_m=1.0, for_s=14.0).samples():
        one.update(sample)
        found = list(numbers(ask_everything(one, sample.t)))
        assert all(math.isfinite(value) for value in found)
    assert one.estimate(sample.t).range_m < 0.0
    assert one.to_contact(sample.t).best_s is None


def test_the_path_runs_from_here_to_contact():
    """Two dozen points from the present range to 0 along the closing law, doubt growing."""
    one = tracker()
    t = feed(one, Passing(start_m=60.0, closing_mps=0.25, for_s=30.0).samples())
    path = one.path(t)
    assert len(path) == 24
    assert one.estimate(t).range_m == path[0].range_m
    assert path[-1].range_m == 0.0
    for before, after in pairwise(path):
        assert before.range_m > after.range_m
        assert before.in_s < after.in_s
    assert one.to_contact(t).best_s == pytest.approx(path[-1].in_s)
    assert all(point.closing_sigma_mps > 0.0 for point in path)
    assert all(0.0 < point.lateral_sigma_m < 0.1 for point in path)


# ---------------------------------------------------------------- faults


def shifted(at_s: float, **by: float):
    """Make a fault that shifts channels from a time on."""

    def alter(t: float, values: dict[str, float]) -> dict[str, float]:
        if t < at_s:
            return values
        return values | {name: values[name] + size for name, size in by.items()}

    return alter


def first_finding(one: Tracker, samples: list[RelativeSample], id_: str):
    """Feed until a finding of an id stands; give it, or None."""
    for sample in samples:
        one.update(sample)
        for finding in one.findings(sample.t):
            if finding.id.value == id_:
                return finding
    return None


def test_a_range_step_is_a_jump_and_the_healthy_source_is_followed():
    """Half a metre on the better source: flagged in 2 s, the joint state stays with the other."""
    one = tracker()
    samples = merged(
        Passing(alter=shifted(30.0, range_m=0.5)), Passing(source=RADIO, seed=7, step_s=0.2)
    )
    cut = next(i for i, s in enumerate(samples) if s.t >= T0 + 33.0)
    finding = first_finding(one, samples[:cut], "data:jump")
    assert finding is not None
    assert (finding.source, finding.level) == (OPTICAL, Level.WARNING)
    assert finding.since < T0 + 32.5
    assert "m against its own rate over" in finding.evidence
    t = feed(one, samples[cut:])
    assert one.estimate(t).range_m == pytest.approx(15.0 - 0.09 * (t - T0), abs=0.06)
    # While the two still disagree the warning stands, and the disagreement is the jumper's.
    standing = {(f.id.value, f.source) for f in one.findings(t)}
    assert {("data:jump", OPTICAL), ("data:disagree", OPTICAL)} <= standing


def test_a_source_that_agrees_again_is_trusted_again():
    """When the step is taken back and the finding has cleared, both take part again."""

    def alter(t, values):
        return values | {"range_m": values["range_m"] + 0.5} if 20.0 <= t < 40.0 else values

    one = tracker()
    samples = merged(
        Passing(start_m=25.0, for_s=120.0, alter=alter),
        Passing(start_m=25.0, for_s=120.0, source=RADIO, seed=7),
    )
    t = feed(one, samples)
    assert one.findings(t) == ()
    assert all(track.is_trusted for track in one._joint.tracks.values())


def test_a_frozen_source_is_dropped_within_a_second_and_a_half():
    """All values still: a warning after half a second, the state follows the other source."""
    still: dict[str, float] = {}

    def freeze(t, values):
        if t >= 30.0:
            return still.setdefault("values", values)
        return values

    one = tracker()
    samples = merged(Passing(alter=freeze), Passing(source=RADIO, seed=7))
    finding = first_finding(one, samples, "data:frozen")
    assert (finding.source, finding.level) == (OPTICAL, Level.WARNING)
    assert finding.since - (T0 + 30.0) < 1.5
    t = feed(one, samples)
    assert one.estimate(t).range_m == pytest.approx(15.0 - 0.09 * (t - T0), abs=0.06)


def test_a_frozen_source_alone_coasts_and_is_not_believed_after_a_gap():
    """A gap and then frozen values: the state coasts on instead of standing still."""
    still: dict[str, float] = {}

    def freeze(t, values):
        if 29.0 <= t < 31.0:
            return None
        if t >= 31.0:
            return still["values"]
        still["values"] = values
        return values

    one = tracker()
    t = feed(one, Passing(for_s=50.0, alter=freeze).samples())
    assert {"data:frozen"} == {f.id.value for f in one.findings(t)}
    assert one.estimate(t).range_m == pytest.approx(15.0 - 0.09 * (t - T0), abs=0.25)
    assert one.motion(t) is Motion.CLOSING


@pytest.mark.parametrize("size", [0.02, -0.02])
def test_a_wrong_rate_of_a_lone_source_is_found_and_left_out(size):
    """2 cm/s on range rate: a warning within 30 s, then the countdown is range's own."""
    one = tracker()
    samples = Passing(
        start_m=25.0, for_s=150.0, alter=shifted(60.0, range_rate_mps=size)
    ).samples()
    finding = first_finding(one, samples, "data:rate")
    assert Level.WARNING is finding.level
    assert finding.since - (T0 + 60.0) < 30.0
    assert ("less" if size > 0 else "more") in finding.evidence
    t = feed(one, samples)
    true_s = 25.0 / 0.09 - (t - T0)
    shown = one.to_contact(t)
    assert shown.low_s < true_s < shown.high_s
    assert shown.best_s == pytest.approx(true_s, rel=0.06)


def test_sources_that_differ_from_the_start_disagree_and_the_bounds_cover_both():
    """Nobody can say which of two is wrong: a caution, the earlier time, the union's bounds."""
    one = tracker()
    samples = merged(Passing(for_s=80.0), Passing(source=RADIO, seed=7, for_s=80.0, start_m=15.8))
    finding = first_finding(one, samples, "data:disagree")
    assert (finding.source, finding.level) == (RADIO, Level.CAUTION)
    assert finding.evidence.startswith("range 0.799 m above that of optical")
    t = feed(one, samples)
    optical_s, radio_s = 15.0 / 0.09 - (t - T0), 15.8 / 0.09 - (t - T0)
    shown = one.to_contact(t)
    assert shown.low_s < optical_s < radio_s < shown.high_s
    assert shown.best_s == pytest.approx(optical_s, abs=2.0)


def test_a_noisier_source_than_declared_raises_no_alarm():
    """Twice the declared noise is learned from the samples' own scatter, and trusted less."""
    one = tracker()
    samples = merged(
        Passing(start_m=25.0, for_s=200.0),
        Passing(start_m=25.0, for_s=200.0, source=RADIO, seed=7, step_s=0.5, noise=2.5),
    )
    t = feed(one, samples)
    assert one.findings(t) == ()
    assert one._joint.tracks[RADIO].noise.range.factor > 1.7
    assert one._joint.best.source == OPTICAL


def test_three_sources_are_compared_in_pairs():
    """One of three that is off disagrees with both others."""
    third = Passing(source=RADIO, seed=9, alter=shifted(0.0, range_m=0.8))
    one = tracker()
    samples = merged(Passing(), Passing(source=SourceId("lidar"), seed=5), third)
    t = feed(one, samples)
    found = [f for f in one.findings(t) if f.id.value == "data:disagree"]
    assert len(found) == 2


def test_a_healthy_pass_is_free_of_findings():
    """Two noisy but healthy sources raise nothing in five minutes."""
    one = tracker()
    for sample in merged(
        Passing(start_m=30.0, for_s=300.0),
        Passing(start_m=30.0, for_s=300.0, source=RADIO, seed=3),
    ):
        one.update(sample)
        assert one.findings(sample.t) == ()


def test_estimates_are_plain_floats():
    """No numpy scalar gets into a snapshot."""
    one = tracker()
    t = feed(one, Passing(for_s=20.0).samples())
    estimate = one.estimate(t)
    for name in estimate.__struct_fields__:
        assert type(getattr(estimate, name)) is float
    for prediction in (one.at_contact(t), one.if_thrust_stops(t)):
        for name in ("y_m", "z_m", "yy_m2", "yz_m2", "zz_m2", "chance_all"):
            assert not isinstance(getattr(prediction, name), np.generic)
