"""The setup file: everything may be left out, nothing may be misspelt."""

from __future__ import annotations

import hashlib

import pytest

from console.core.errors import InputError
from console.core.ids import SourceId
from console.envelope.setup import Camera, LinearSigma, PortAxis, Setup, SourceNoise
from console.envelope.setup_reading import parse_setup

FULL = """\
[orbit]
altitude_km = 400
[port]
axis = "R-"
offset_m = [1, -2.5, 15]
[keep_out]
radius_m = 150
[holds]
ranges_m = [150, 20.5]
[retreat]
rate_mps = 0.3
to_m = 30
[source.optical]
sigma = 2
bias = 0.5
["source"."star tracker"]
[source."star tracker".sigma]
range_m = 0.1
lateral_m = [0.01, 0.002]
[source."star tracker".bias]
range_m = 0.05
lateral_rate_mps = 0
[vestibule]
volume_m3 = 2.5
leak_limit_pa_per_h = 15
sensor_lag_s = 300
[authority]
ground = false
[time_to_contact]
withdraw_s = 25
"""


def setup_of(text: str) -> Setup:
    """Read a text."""
    return parse_setup(text.encode(), "setup.toml")


@pytest.mark.parametrize(
    "text",
    [
        "[port]\noffset_m = [1e300, 0, 0]",
        "[keep_out]\nradius_m = 1e200",
        "[holds]\nranges_m = [1e9]",
        "[retreat]\nrate_mps = 1e-300",
        "[retreat]\nto_m = 1e9",
        "[source.a]\nsigma = 1e200",
        "[source.a]\nsigma = 1e-200",
        "[source.a]\nbias = 1e200",
        "[source.a.sigma]\nrange_m = 1e200",
        "[source.a.sigma]\nrange_m = [1e-200, 0]",
        "[source.a.sigma]\nrange_m = [1e200, 0]",
        "[source.a.sigma]\nrange_m = [1, 1e200]",
        "[source.a.bias]\nrange_m = 1e200",
        "[vestibule]\nvolume_m3 = 1e300",
        "[vestibule]\nleak_limit_pa_per_h = 1e300",
        "[vestibule]\nsensor_lag_s = 1e9",
        "[time_to_contact]\nwithdraw_s = 1e300",
    ],
)
def test_a_number_beyond_all_reason_is_refused(text: str) -> None:
    """In its line, with what is allowed."""
    with pytest.raises(InputError) as refused:
        setup_of(text)
    (fault,) = refused.value.faults
    assert fault.place.startswith("line 2, ")
    assert "must be" in fault.mend
    assert "at most" in fault.mend


def test_an_empty_file_gives_the_documented_defaults() -> None:
    """420 km, V+, 200 m keep-out, holds at 200 and 20 m, retreat at 0.2 m/s to 20 m, 20 s."""
    setup = setup_of("")
    assert (setup.orbit.altitude_km, setup.orbit.omm_file) == (420.0, None)
    assert (setup.port.axis, setup.port.offset_m) == (PortAxis.V_PLUS, (0.0, 0.0))
    assert (setup.keep_out_radius_m, setup.holds_m) == (200.0, (200.0, 20.0))
    assert (setup.retreat.rate_mps, setup.retreat.to_m) == (0.2, 20.0)
    assert (setup.ground_holds_authority, setup.withdraw_s) == (True, 20.0)
    assert setup.noise(SourceId("any")) == SourceNoise()
    assert setup.sha256 == hashlib.sha256(b"").hexdigest()


def test_a_full_file_is_read_whole() -> None:
    """Every value stands where the file says."""
    setup = setup_of(FULL)
    assert setup.orbit.altitude_km == 400.0
    assert setup.port.axis is PortAxis.R_MINUS
    assert setup.port.offset_m == (1.0, 15.0)
    assert setup.port.offset_across_m == -2.5
    assert (setup.keep_out_radius_m, setup.holds_m) == (150.0, (150.0, 20.5))
    assert (setup.retreat.rate_mps, setup.retreat.to_m) == (0.3, 30.0)
    vestibule = setup.vestibule
    assert (vestibule.volume_m3, vestibule.leak_limit_pa_per_h, vestibule.sensor_lag_s) == (
        2.5, 15.0, 300.0
    )  # fmt: skip
    assert (setup.ground_holds_authority, setup.withdraw_s) == (False, 25.0)
    assert set(setup.sources) == {"optical", "star tracker"}
    assert setup.text == FULL


def test_a_number_multiplies_the_default_sensor() -> None:
    """Twice the default's noise at every range, half its bias."""
    noise, default = setup_of(FULL).noise(SourceId("optical")), SourceNoise()
    for field in (
        "range_m", "lateral_m", "range_rate_mps", "lateral_rate_mps", "angle_deg", "angle_rate_dps"
    ):  # fmt: skip
        assert getattr(noise, field).at(50.0) == pytest.approx(
            2 * getattr(default, field).at(50.0)
        )
    for field in (
        "range_bias_m", "lateral_bias_m", "range_rate_bias_mps", "lateral_rate_bias_mps"
    ):  # fmt: skip
        assert getattr(noise, field) == pytest.approx(0.5 * getattr(default, field))


def test_a_table_sets_single_values_and_leaves_the_others() -> None:
    """A number holds at all ranges, a pair grows with range."""
    noise, default = setup_of(FULL).noise(SourceId("star tracker")), SourceNoise()
    assert noise.range_m == LinearSigma(0.1, 0.0)
    assert noise.lateral_m == LinearSigma(0.01, 0.002)
    assert noise.angle_deg == default.angle_deg
    assert (noise.range_bias_m, noise.lateral_rate_bias_mps) == (0.05, 0.0)
    assert noise.lateral_bias_m == default.lateral_bias_m


def test_an_orbit_message_stands_for_the_altitude() -> None:
    """The text of the key is handed on; reading the file is not done here."""
    assert setup_of('[orbit]\nomm = "station.omm"\n').orbit.omm_file == "station.omm"


ORIENTED = """\
[orbit]
altitude_km = 400
inclination_deg = 51.6
raan_deg = -120
arglat_deg = 10
epoch = "2031-04-10T09:35:00Z"
"""


def test_an_orbit_may_say_how_it_lies_in_space() -> None:
    """All four are read; without them none is guessed."""
    orbit = setup_of(ORIENTED).orbit
    assert (orbit.inclination_deg, orbit.raan_deg, orbit.arglat_deg) == (51.6, -120.0, 10.0)
    assert orbit.epoch_s == 1933580100.0
    plain = setup_of("[orbit]\naltitude_km = 400\n").orbit
    assert (plain.inclination_deg, plain.raan_deg, plain.arglat_deg, plain.epoch_s) == (None,) * 4


def test_a_part_of_the_orientation_is_refused() -> None:
    """Each missing one is named with the whole list."""
    with pytest.raises(InputError) as refused:
        setup_of("[orbit]\ninclination_deg = 51.6\n")
    assert [fault.place for fault in refused.value.faults] == [
        "line 1, orbit.raan_deg", "line 1, orbit.arglat_deg", "line 1, orbit.epoch"
    ]  # fmt: skip
    assert "inclination_deg, raan_deg, arglat_deg, epoch" in refused.value.faults[0].mend


def test_the_camera_has_defaults_of_its_own() -> None:
    """20 deg half field and 10 deg of margin, each replaceable."""
    assert setup_of("").camera == Camera(20.0, 10.0)
    assert setup_of("[camera]\nhalf_field_deg = 30\n").camera == Camera(30.0, 10.0)
    assert setup_of("[camera]\nbaffle_deg = 0\n").camera == Camera(20.0, 0.0)


@pytest.mark.parametrize(
    ("text", "place", "found", "mend"),
    [
        (ORIENTED.replace("51.6", "181"), "line 3, orbit.inclination_deg", "181", "most 180"),
        (ORIENTED.replace("-120", "400"), "line 4, orbit.raan_deg", "400", "at most 360"),
        (ORIENTED.replace("00Z", "00"), "line 6, orbit.epoch", "no Z", "a UTC time"),
        (ORIENTED.replace('"2031-04-10T09:35:00Z"', "3"), "line 6, orbit.epoch", "3", "a text"),
        (ORIENTED.replace('"2031-04-10T09:35:00Z"', '""'), "line 6, orbit.epoch", "''", "UTC"),
        ('[orbit]\nraan_deg = 1\nomm = "x"\n', "line 3, orbit.omm", "beside raan", "one of"),
        ("[camera]\nhalf_field_deg = 91\n", "line 2, camera.half_field_deg", "91", "most 90"),
        ("[camera]\nbaffle_deg = -1\n", "line 2, camera.baffle_deg", "-1", "at least 0"),
        ("[orbits]\n", "line 1, orbits", "unknown key", 'did you mean "orbit"?'),
        ("[orbit]\naltitude_km = 50\n", "line 2, orbit.altitude_km", "found 50", "above 100"),
        ('[orbit]\naltitude_km = 400\nomm = "x"\n', "line 3, orbit.omm", "beside", "one of"),
        ('[orbit]\nomm = ""\n', "line 2, orbit.omm", 'found ""', "not empty"),
        ('[port]\naxis = "X+"\n', "line 2, port.axis", 'found "X+"', "allowed: V+, V-, R+, R-"),
        ("[port]\noffset_m = [0, 0]\n", "line 2, port.offset_m", "found 2", "3 numbers"),
        ("[port]\noffset_m = [0, 0, nan]\n", "line 2, port.offset_m[3]", "nan", "finite"),
        ("[keep_out]\nradius_m = 0\n", "line 2, keep_out.radius_m", "found 0", "above 0"),
        ("[holds]\nranges_m = [200, -1]\n", "line 2, holds.ranges_m[2]", "found -1", "above 0"),
        ("[retreat]\nrate = 1\n", "line 2, retreat.rate", "unknown", 'did you mean "rate_mps"?'),
        ("[source.a]\nsigma = 0\n", "line 2, source.a.sigma", "found 0", "at least 0.0001"),
        ("[source.a]\nsigma = [1, 2]\n", "line 2, source.a.sigma", "[1, 2]", "a number"),
        ("[source.a]\nbias = -1\n", "line 2, source.a.bias", "found -1", "at least 0"),
        ("[source.a]\nnoise = 1\n", "line 2, source.a.noise", "unknown key", "bias, sigma"),
        ("[source.a.sigma]\nangel_deg = 1\n", "line 2, source.a.sigma.angel_deg", "unknown",
         'did you mean "angle_deg"?'),
        ("[source.a.sigma]\nrange_m = [0, 0.1]\n", "line 2, source.a.sigma.range_m[1]", "0 at",
         "at least 1e-06"),
        ("[source.a.sigma]\nrange_m = [1]\n", "line 2, source.a.sigma.range_m", "found 1",
         "2 numbers"),
        ("[source.a.bias]\nangle_deg = 1\n", "line 2, source.a.bias.angle_deg", "unknown",
         "allowed"),
        ("source = 3\n", "line 1, source", "found 3", "[source]"),
        ("[source]\na = 3\n", "line 2, source.a", "found 3", "[source.a]"),
        ("[vestibule]\nsensor_lag_s = -1\n", "line 2, vestibule.sensor_lag_s", "-1", "least 0"),
        ("[vestibule]\nsensor_lag_s = 3601\n", "line 2, vestibule.sensor_lag_s", "3601",
         "at most 3600"),
        ("[vestibule]\nleak_limit_pa_per_h = 1e200\n", "line 2, vestibule.leak_limit_pa_per_h",
         "1e+200", "at most 1e+06"),
        ("[vestibule]\nvolume_m3 = 1e7\n", "line 2, vestibule.volume_m3", "10000000",
         "at most 1e+06"),
        ("[authority]\nground = 1\n", "line 2, authority.ground", "found 1", "true or false"),
        ("[time_to_contact]\nwithdraw_s = 0\n", "line 2, time_to_contact.withdraw_s", "0",
         "above 0"),
    ],
)  # fmt: skip
def test_each_fault_is_told_in_its_place(text: str, place: str, found: str, mend: str) -> None:
    """One fault, with line, key path, what was found and what is allowed."""
    with pytest.raises(InputError) as refused:
        setup_of(text)
    (fault,) = refused.value.faults
    assert fault.place == place
    assert found in fault.found
    assert mend in fault.mend
