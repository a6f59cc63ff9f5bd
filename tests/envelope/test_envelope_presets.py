"""The shipped limits files: they are read, they hang together, and they say what was published."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pytest

from console.envelope.limits import Allow, Basis, Level, Limit, LimitsFile
from console.envelope.quantity import AT_CONTACT, MEASURED_ONLY, Quantity
from console.envelope.reading import parse_limits
from console.envelope.setup import SourceNoise

FOLDER = Path(__file__).parents[2] / "replay_data" / "limits"
FILES = sorted(FOLDER.glob("*.toml"))
APPROACH = "port_c_final_approach.toml"
CONTACT = "docking_contact_conditions.toml"


def preset(name: str) -> LimitsFile:
    """Read a shipped file."""
    return parse_limits((FOLDER / name).read_bytes(), name)


@pytest.fixture(scope="module", name="approach")
def approach_fixture() -> LimitsFile:
    """Give the final-approach file."""
    return preset(APPROACH)


def pairs(file: LimitsFile) -> list[tuple[Limit, Limit]]:
    """Give each caution with the warning on the same side of the same quantity."""
    return [
        (caution, warning)
        for caution in file.limits
        for warning in file.limits
        if caution.level is Level.CAUTION
        and warning.level is Level.WARNING
        and (caution.quantity, caution.allow) == (warning.quantity, warning.allow)
    ]


def common_ranges(a: Limit, b: Limit) -> np.ndarray:
    """Give closely spaced ranges that both curves cover, their points among them."""
    low = max(a.curve.ranges_m[0], b.curve.ranges_m[0])
    high = min(a.curve.ranges_m[-1], b.curve.ranges_m[-1])
    points = [r for r in (*a.curve.ranges_m, *b.curve.ranges_m) if low <= r <= high]
    return np.union1d(np.linspace(low, high, 2001), points)


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_every_shipped_file_is_read(path: Path) -> None:
    """No fault, a title, a reason, and words for what was chosen."""
    file = parse_limits(path.read_bytes(), path.name)
    assert file.title
    assert file.reason
    assert "#" in file.text


def test_both_presets_are_shipped() -> None:
    """One for the approach, one for contact alone."""
    assert {path.name for path in FILES} >= {APPROACH, CONTACT}


PUBLISHED = {
    # International Docking System Standard IDD revision E, table 3.3.1.1-2
    Quantity.CLOSING_RATE: (0.05, 0.10),
    Quantity.LATERAL_OFFSET: (None, 0.10),
    Quantity.LATERAL_RATE: (None, 0.04),
    Quantity.PITCH_YAW: (None, 4.0),
    Quantity.ROLL: (None, 4.0),
    Quantity.PITCH_YAW_RATE: (None, 0.20),
    Quantity.ROLL_RATE: (None, 0.20),
}


@pytest.mark.parametrize("name", [APPROACH, CONTACT])
def test_contact_limits_are_the_published_conditions(name: str) -> None:
    """Seven quantities, to the digit."""
    limits = preset(name).contact_limits
    assert {c.quantity: (c.minimum, c.maximum) for c in limits} == PUBLISHED
    assert set(PUBLISHED) == set(AT_CONTACT)


@pytest.mark.parametrize(
    ("quantity", "value", "holds"),
    [
        # The ends belong to the band, a hair beyond does not (the same table).
        (Quantity.CLOSING_RATE, 0.05, True),
        (Quantity.CLOSING_RATE, 0.10, True),
        (Quantity.CLOSING_RATE, 0.0499, False),
        (Quantity.CLOSING_RATE, 0.1001, False),
        (Quantity.PITCH_YAW, 4.2426, False),
        (Quantity.LATERAL_RATE, 0.0424, False),
        (Quantity.ROLL, float("nan"), False),
    ],
)
def test_contact_limits_hold_as_published(quantity: Quantity, value: float, holds: bool) -> None:
    """Too slow fails as too fast does, a vector sum over its limit too; unknown is not inside."""
    (limit,) = (c for c in preset(CONTACT).contact_limits if c.quantity is quantity)
    assert limit.holds(value) is holds


def test_the_contact_preset_judges_nothing_before_contact() -> None:
    """It holds no limit over range."""
    assert preset(CONTACT).limits == ()


def test_glide_slope_lies_inside_the_closing_envelope(approach: LimitsFile) -> None:
    """A vehicle exactly on plan is inside every closing limit by its deadband, at every range."""
    plan = approach.glide_slope.curve
    closing = [x for x in approach.limits if x.quantity is Quantity.CLOSING_RATE]
    assert len(closing) == 4
    for limit in closing:
        for r in np.linspace(limit.curve.ranges_m[0], limit.curve.ranges_m[-1], 1001):
            planned, edge = plan.at(float(r)), limit.curve.at(float(r))
            assert planned is not None
            assert edge is not None
            room = edge - planned if limit.allow is Allow.BELOW else planned - edge
            assert room >= limit.deadband


def test_the_envelope_at_range_zero_lies_inside_the_contact_limits(approach: LimitsFile) -> None:
    """What is inside every limit at touch is inside the contact conditions."""
    contact = {c.quantity: c for c in approach.contact_limits}
    for quantity, limit in contact.items():
        edges = [
            x.curve.at(0.0) for x in approach.limits if x.quantity is quantity and x.curve.at(0.0)
        ]
        assert edges, quantity
        assert all(limit.holds(edge) for edge in edges if edge is not None)


def test_a_caution_never_comes_after_its_warning(approach: LimitsFile) -> None:
    """Same values, a tighter curve wherever both apply, no longer a delay, covering as much."""
    assert len(pairs(approach)) >= 7
    for caution, warning in pairs(approach):
        assert caution.basis is warning.basis
        assert caution.on_delay_s <= warning.on_delay_s
        assert caution.curve.ranges_m[0] <= warning.curve.ranges_m[0]
        assert caution.curve.ranges_m[-1] >= warning.curve.ranges_m[-1]
        sign = 1.0 if caution.allow is Allow.BELOW else -1.0
        for r in common_ranges(caution, warning):
            early, late = caution.curve.at(float(r)), warning.curve.at(float(r))
            assert early is not None
            assert late is not None
            assert sign * early < sign * late


def test_a_deadband_is_no_wider_than_the_gap_between_caution_and_warning(
    approach: LimitsFile,
) -> None:
    """A warning that clears leaves its caution standing, not both at once."""
    for caution, warning in pairs(approach):
        for r in common_ranges(caution, warning):
            early, late = caution.curve.at(float(r)), warning.curve.at(float(r))
            assert early is not None
            assert late is not None
            gap = abs(late - early)
            assert caution.deadband <= gap + 1e-12


def test_deadbands_are_twice_the_noise_that_is_judged(approach: LimitsFile) -> None:
    """Near contact: a tenth of a second's noise as measured, a quarter of it once estimated.

    The filter averages about a second and a half of a 10 Hz sensor, so its noise is about 1/4 of
    one sample's.
    """
    noise = SourceNoise()
    single = {
        Quantity.CLOSING_RATE: noise.range_rate_mps.at(0.0),
        Quantity.LATERAL_OFFSET: noise.lateral_m.at(0.0),
        Quantity.LATERAL_RATE: noise.lateral_rate_mps.at(0.0),
        Quantity.PITCH_YAW: noise.angle_deg.at(0.0),
        Quantity.ROLL: noise.angle_deg.at(0.0),
        Quantity.PITCH_YAW_RATE: noise.angle_rate_dps.at(0.0),
        Quantity.ROLL_RATE: noise.angle_rate_dps.at(0.0),
        Quantity.CORRIDOR_ANGLE: np.degrees(noise.lateral_m.at(5.0) / 5.0),
        Quantity.SOURCE_GAP: float(np.hypot(1.0, 2.0)) * noise.range_m.at(0.0),
        Quantity.RANGE_RATE_GAP: noise.range_rate_mps.at(0.0),
    }
    for limit in approach.limits:
        sigma = single[limit.quantity] * (0.25 if limit.basis is Basis.ESTIMATED else 1.0)
        assert limit.deadband >= 2.0 * sigma, limit.id


def test_every_quantity_is_judged_and_the_gaps_as_measured(approach: LimitsFile) -> None:
    """The example shows all ten quantities."""
    assert {limit.quantity for limit in approach.limits} == set(Quantity)
    for limit in approach.limits:
        assert limit.action
        assert (limit.quantity in MEASURED_ONLY) <= (limit.basis is Basis.MEASURED)


def test_every_limit_gives_its_reason(approach: LimitsFile) -> None:
    """A comment stands above the limit, or beside its id."""
    blocks = re.findall(
        r"((?:^#[^\n]*\n)*)\[\[limit\]\]\n(id = [^\n]*)", approach.text, re.MULTILINE
    )
    assert len(blocks) == len(approach.limits)
    for above, beside in blocks:
        assert above.strip("#- \n") or "#" in beside


def test_delays_leave_time_to_act(approach: LimitsFile) -> None:
    """A warning is out within 2 s: seen, decided, called and acted on long before contact."""
    hands_off = approach.hands_off
    final_rate_mps = approach.glide_slope.final_rate_mps
    chain_s = hands_off.link_delay_s + hands_off.reaction_s + final_rate_mps / 0.01
    for limit in approach.limits:
        if limit.level is Level.WARNING:
            assert limit.on_delay_s + chain_s < hands_off.range_m / final_rate_mps
