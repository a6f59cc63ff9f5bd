"""The archive of residuals: fitting, judging, reading, and the shipped file."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from console.core.errors import InputError
from console.envelope.limits import ContactLimit
from console.envelope.quantity import AT_CONTACT, Quantity
from console.envelope.setup import Setup
from console.tracking.archived import ArchivedChances
from console.tracking.contact_set import COLUMNS, ContactSet
from console.tracking.fitting import ContactValues, fit_archive, fit_bin
from console.tracking.forecast import ContactState, predict
from console.tracking.residuals import Features, ResidualArchive
from console.tracking.tracker import Tracker
from tests.fakes.changed import replace
from tests.tracking.tracking_passes import LIMITS, Passing, feed

SHIPPED = Path(__file__).parents[2] / "replay_data" / "residuals.json"


def cases(count: int, seed: int, scatter: float = 1.0):
    """Make forecasts and contacts of a vehicle that keeps 0.8 of its mean offset."""
    rng = np.random.default_rng(seed)
    out = []
    for _ in range(count):
        own = scatter * rng.uniform(0.01, 0.05)
        mean = rng.normal(0.0, 0.05, 2)
        y, z = 0.8 * mean + rng.normal(0.0, own, 2)
        angle = rng.normal(0.0, 0.5, 3)
        speed = rng.uniform(0.06, 0.11)
        features = Features(
            10.0, speed, (mean[0], 0.0, 0.0), (mean[1], 0.0, 0.0),
            (angle[0], 0.0, 0.0), (angle[1], 0.0, 0.0), (angle[2], 0.0, 0.0), own**2, 4e-6,
        )  # fmt: skip
        turned = 0.5 * angle + rng.normal(0.0, 0.2, 3)
        rates = rng.normal(0.0, 0.002, 2)
        contact = ContactValues(
            speed + rng.normal(0.0, 0.001), y, z, *rates, *turned, *rng.normal(0.0, 0.01, 3)
        )
        out.append((features, contact))
    return out


def test_fitting_finds_shrinkage_and_scatter():
    """Weights of the mean are found, and leftovers scaled by own scatter have unit variance."""
    one = fit_bin(10.0, cases(3000, 1))
    assert pytest.approx(0.8, abs=0.03) == one.lateral[0]
    assert pytest.approx(0.5, abs=0.03) == one.angle[0]
    assert pytest.approx(1.0, abs=0.1) == one.offset_scale[1]
    scaled = one.rows[:, 1:3]
    assert pytest.approx(1.0, abs=0.05) == scaled.std()


def test_archived_chances_are_calibrated_on_unseen_passes():
    """Of unseen passes told to be within by p, a share p is (calibration error under 0.05)."""
    archive = fit_archive({10.0: cases(300, 2)}, "test")
    judge = ArchivedChances(archive, LIMITS.contact_limits)
    told, met = [], []
    for features, contact in cases(3000, 3):
        told.append(judge.predict(features).chance_all)
        met.append(
            0.05 <= contact.closing <= 0.10
            and np.hypot(contact.y, contact.z) <= 0.10
            and np.hypot(contact.pitch, contact.yaw) <= 4.0
        )
    slot = np.minimum((np.array(told) * 10).astype(int), 9)
    error = sum(
        (slot == b).mean()
        * abs(np.mean(np.array(told)[slot == b]) - np.mean(np.array(met)[slot == b]))
        for b in np.unique(slot)
    )
    assert error < 0.05


def test_one_judged_contact_is_the_rule_itself():
    """For a single contact every chance is 0 or 1 by the contact limit's own rule."""
    rng = np.random.default_rng(9)
    judge = ContactSet(LIMITS.contact_limits)
    for _ in range(200):
        state = rng.normal(0.0, [0.05, 0.06, 0.06, 0.02, 0.02, 3, 2, 2, 0.1, 0.1, 0.1])
        values = {
            Quantity.CLOSING_RATE: state[0],
            Quantity.LATERAL_OFFSET: np.sqrt(state[1] ** 2 + state[2] ** 2),
            Quantity.LATERAL_RATE: np.sqrt(state[3] ** 2 + state[4] ** 2),
            Quantity.ROLL: abs(state[5]),
            Quantity.PITCH_YAW: np.sqrt(state[6] ** 2 + state[7] ** 2),
            Quantity.ROLL_RATE: abs(state[8]),
            Quantity.PITCH_YAW_RATE: np.sqrt(state[9] ** 2 + state[10] ** 2),
        }
        found = judge.predict("", state[:, None], (0, 0, 0, 0, 0), calibrated=True)
        told = {line.quantity: line.chance for line in found.quantities}
        expected = {
            one.quantity: float(one.holds(float(values[one.quantity])))
            for one in LIMITS.contact_limits
        }
        assert expected == told
        assert found.chance_all == float(all(expected.values()))
        for line in found.quantities:
            assert values[line.quantity] == pytest.approx(line.predicted.mean)


def test_closed_form_agrees_with_a_million_draws():
    """Every closed-form chance and moment, and their product, against Monte Carlo."""
    state = ContactState(
        closing=(0.095, 0.004), y=(0.04, 0.03), z=(-0.05, 0.02), y_rate=(0.0, 0.02),
        z_rate=(0.0, 0.015), roll=(2.0, 1.5), pitch=(1.0, 2.0), yaw=(-1.0, 1.5),
        roll_rate=(0.05, 0.1), pitch_rate=(0.0, 0.1), yaw_rate=(0.05, 0.08),
    )  # fmt: skip
    rng = np.random.default_rng(10)
    draws = np.array([rng.normal(*getattr(state, name), 1_000_000) for name in COLUMNS])
    brute = ContactSet(LIMITS.contact_limits).predict("", draws, (0, 0, 0, 0, 0), calibrated=False)
    closed = predict("", state, LIMITS.contact_limits)
    for a, b in zip(brute.quantities, closed.quantities, strict=True):
        assert a.chance == pytest.approx(b.chance, abs=0.002)
        assert a.predicted.mean == pytest.approx(b.predicted.mean, rel=0.05)
    assert brute.chance_all == pytest.approx(closed.chance_all, abs=0.003)
    assert closed.calibrated is False


def test_an_archive_survives_writing_and_reading():
    """What is read back is what was written, to three figures."""
    archive = fit_archive({5.0: cases(25, 4), 10.0: cases(25, 5)}, "by the test")
    again = ResidualArchive.parse(archive.to_bytes(), "test")
    assert (again.passes, again.made_by) == (25, "by the test")
    assert [one.range_m for one in again.bins] == [5.0, 10.0]
    np.testing.assert_allclose(again.bins[0].rows, archive.bins[0].rows, rtol=6e-3)
    assert archive.to_bytes() == ResidualArchive.parse(archive.to_bytes(), "test").to_bytes()


@pytest.mark.parametrize(
    "change",
    [
        lambda w: w.update(format=2),
        lambda w: w.pop("passes"),
        lambda w: w["bins"][0].pop("rows"),
        lambda w: w["bins"][0].update(range_m=-1.0),
        lambda w: w["bins"][0].update(lateral=[1.0]),
        lambda w: w["bins"][0].update(angle=["a", 0, 0]),
        lambda w: w["bins"][0].update(offset_scale=[0.1, -1.0]),
        lambda w: w["bins"][0].update(offset_scale=0.1),
        lambda w: w["bins"][0].update(rate_scale=[True, 1.0]),
        lambda w: w["bins"][0]["rows"][0].pop(),
        lambda w: w["bins"][0]["rows"][0].__setitem__(0, None),
    ],
)
def test_a_malformed_archive_is_refused(change):
    """Anything missing or mistyped is an input error that names the file."""
    whole = json.loads(fit_archive({5.0: cases(21, 4)}, "x").to_bytes())
    change(whole)
    with pytest.raises(InputError, match=r"bad\.json"):
        ResidualArchive.parse(json.dumps(whole).encode(), "bad.json")


@pytest.mark.parametrize("data", [b"", b"[]", b"{", b"\xff\xfe", b'{"format":"1"}'])
def test_what_is_no_archive_is_refused(data):
    """Bytes that are no JSON object of this format are an input error."""
    with pytest.raises(InputError):
        ResidualArchive.parse(data, "bad.json")


def test_a_range_without_cases_cannot_be_fitted():
    """An empty bin is an error, not an archive."""
    with pytest.raises(ValueError, match="no case"):
        fit_archive({5.0: []}, "x")


def test_fewer_than_twenty_passes_give_the_closed_form():
    """A small archive is not used: the prediction says uncalibrated."""
    samples = Passing(start_m=9.0, for_s=40.0).samples()
    for count, calibrated in ((19, False), (20, True)):
        archive = fit_archive({10.0: cases(count, 6)}, "x")
        one = Tracker(LIMITS, Setup(), archive)
        t = feed(one, samples)
        assert calibrated is one.at_contact(t).calibrated


def test_the_shipped_archive_serves_a_pass():
    """The shipped file is read, has passes enough, and gives a sound prediction everywhere."""
    archive = ResidualArchive.parse(SHIPPED.read_bytes(), SHIPPED.name)
    assert archive.is_enough
    assert SHIPPED.stat().st_size < 250_000
    one = Tracker(LIMITS, Setup(), archive)
    t = feed(one, Passing(start_m=9.0, for_s=60.0).samples())
    found = one.at_contact(t)
    assert found.calibrated
    assert list(AT_CONTACT) == [line.quantity for line in found.quantities]
    assert found.chance_all > 0.9
    offset = found.quantities[1].predicted
    assert 0.02 < offset.mean < 0.06
    assert found.yy_m2 * found.zz_m2 > found.yz_m2**2


def test_a_tight_limit_is_rarely_met():
    """The chance falls with the limit, and all together never exceeds any one."""
    archive = fit_archive({10.0: cases(300, 2)}, "test")
    features, _ = cases(1, 8)[0]
    last = 1.0
    for radius in (0.2, 0.1, 0.05, 0.01):
        limits = (
            replace(LIMITS.contact_limits[1], maximum=radius),
            ContactLimit(Quantity.CLOSING_RATE, 0.05, None),
        )
        found = ArchivedChances(archive, limits).predict(features)
        chances = [line.chance for line in found.quantities if line.chance is not None]
        assert found.chance_all <= min(chances)
        assert chances[1] <= last
        last = chances[1]
