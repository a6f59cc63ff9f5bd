"""Orbits: the plain circle against SGP4, every form of message alike, every fault told."""

from __future__ import annotations

import copy
import io
import json
import math
import pickle

import numpy as np
import pytest
from sgp4 import omm
from sgp4.api import WGS72, Satrec
from sgp4.exporter import export_omm
from surroundings_tools import EPOCH_S, RE_KM, orbit, satellite, tle_text

from console.core.errors import InputError
from console.core.utc import format_utc
from console.envelope.setup import Orbit
from console.surroundings.element_set import ElementSet, read_orbit
from console.surroundings.orbit import age_days, circular_orbit
from console.surroundings.orbit_text import Form, sniff

SATELLITE = satellite(EPOCH_S, 420.0, 51.6, 120.0)
FIELDS = {key: str(value) for key, value in export_omm(SATELLITE, "FARROW STATION").items()}
TLE = tle_text(SATELLITE)
CSV = ",".join(FIELDS) + "\n" + ",".join(FIELDS.values()) + "\n"
JSON = json.dumps([FIELDS])
KVN = (
    "CCSDS_OMM_VERS = 3.0\nCOMMENT invented\nCREATION_DATE = 2026-03-20T00:00:00\n"
    "ORIGINATOR = NOBODY\n\n"
    + "".join(
        f"{key:<20} = {value}{' [rev/day]' if key == 'MEAN_MOTION' else ''}\n"
        for key, value in FIELDS.items()
    )
)
METADATA = ("OBJECT_NAME", "OBJECT_ID", "CENTER_NAME", "REF_FRAME", "TIME_SYSTEM",
            "MEAN_ELEMENT_THEORY")  # fmt: skip
ELEMENTS = ("EPOCH", "MEAN_MOTION", "ECCENTRICITY", "INCLINATION", "RA_OF_ASC_NODE",
            "ARG_OF_PERICENTER", "MEAN_ANOMALY")  # fmt: skip


def _tags(keys: tuple[str, ...]) -> str:
    return "".join(f"<{key}>{FIELDS[key]}</{key}>" for key in keys)


XML = (
    '<?xml version="1.0" encoding="UTF-8"?>\n<ndm><omm id="CCSDS_OMM_VERS" version="3.0"><header/>'
    f"<body><segment><metadata>{_tags(METADATA)}</metadata><data><meanElements>{_tags(ELEMENTS)}"
    f"</meanElements><tleParameters>{_tags(tuple(set(FIELDS) - {*METADATA, *ELEMENTS}))}"
    "</tleParameters></data></segment></body></omm></ndm>"
)
FORMS = {Form.TLE: TLE, Form.CSV: CSV, Form.JSON: JSON, Form.KVN: KVN, Form.XML: XML}


@pytest.mark.parametrize("form", FORMS)
def test_every_form_gives_the_same_place(form: Form) -> None:
    """Within 20 m over a day of what the library gives from the elements themselves."""
    text = FORMS[form]
    assert sniff(text, "x") is form
    source = read_orbit(text.encode(), "station")
    for hours in (0.0, 1.0, 24.0):
        t = EPOCH_S + hours * 3600.0
        state = source.state(t)
        _, place, speed = SATELLITE.sgp4(2440587.5 + t // 86400.0, t % 86400.0 / 86400.0)
        assert state is not None
        assert math.dist(state.position_km, place) < 0.02
        assert math.dist(state.velocity_kmps, speed) < 2e-5
    assert source.epoch_s == pytest.approx(EPOCH_S, abs=1e-3)
    # what SGP4's mean motion means by altitude is off Kepler's by J2: about 2.5 km
    assert source.altitude_km == pytest.approx(420.0, abs=3.0)


@pytest.mark.parametrize(("text", "parse"), [(CSV, omm.parse_csv), (XML, omm.parse_xml)])
def test_the_library_reads_the_same(text: str, parse: object) -> None:
    """CSV and XML as ``sgp4.omm`` itself takes them: the same place to a metre."""
    fields = next(iter(parse(io.StringIO(text))))  # type: ignore[operator]
    theirs = Satrec()
    omm.initialize(theirs, fields, WGS72)
    state = read_orbit(text.encode(), "x").state(EPOCH_S + 5000.0)
    _, place, _ = theirs.sgp4(2440587.5, (EPOCH_S + 5000.0) / 86400.0)
    assert state is not None
    assert math.dist(state.position_km, place) < 1e-3


def test_the_trap_of_kvn_is_real_and_avoided() -> None:
    """Fed KVN, the library's CSV reader gives nonsense and no error; here it is read as KVN."""
    nonsense = next(iter(omm.parse_csv(io.StringIO(KVN))))
    assert "MEAN_MOTION" not in nonsense
    assert read_orbit(KVN.encode(), "x").state(EPOCH_S) is not None


def test_names_blank_lines_and_a_byte_order_mark_do_no_harm() -> None:
    """Three lines, Windows line ends, an empty line first."""
    text = "\ufeff\r\nFARROW STATION\r\n" + TLE.replace("\n", "\r\n")
    assert read_orbit(text.encode(), "x").epoch_s == pytest.approx(EPOCH_S, abs=1e-3)
    commented = "COMMENT the station's own\n" + KVN
    assert read_orbit(commented.encode(), "x").state(EPOCH_S) is not None


def test_a_six_digit_catalogue_number_is_no_obstacle() -> None:
    """It says nothing about the orbit."""
    text = JSON.replace('"90001"', '"125544"')
    assert text != JSON
    assert read_orbit(text.encode(), "x").state(EPOCH_S) is not None


def test_an_orbit_travels_by_text_and_is_shared_by_copies() -> None:
    """A checkpoint shares it; another process reads it again."""
    source = read_orbit(TLE.encode(), "station.tle")
    assert copy.deepcopy(source) is source
    sent = pickle.loads(pickle.dumps(source))
    assert isinstance(sent, ElementSet)
    assert (sent.name, sent.state(EPOCH_S)) == ("station.tle", source.state(EPOCH_S))


OTHER = satellite(EPOCH_S, 420.0, 51.6, 120.0, 90002)
MIXED = TLE.splitlines()[0] + "\n" + tle_text(OTHER).splitlines()[1]
XML_TWICE = XML.replace("</segment>", "<ECCENTRICITY>0.5</ECCENTRICITY></segment>")
XML_OWN = XML.replace("</segment>", "".join(
    f'<USER_DEFINED parameter="{name}">1</USER_DEFINED>' for name in "AB"
) + "</segment>")  # fmt: skip


def test_parameters_of_the_users_own_are_told_apart() -> None:
    """They share an element's name in XML, and each has its own."""
    assert read_orbit(XML_OWN.encode(), "x").state(EPOCH_S) is not None


def swapped(old: str, new: str) -> str:
    """Change the KVN message in one place."""
    assert old in KVN
    return KVN.replace(old, new, 1)


@pytest.mark.parametrize(
    ("text", "place", "found", "mend"),
    [
        ("", "", "is empty", "give an OMM"),
        ("hello\n", "line 1", "begins with 'hello'", "give an OMM"),
        (TLE.split("\n", maxsplit=1)[0], "", "1 element lines", "line 1 and line 2"),
        (TLE + TLE, "", "4 element lines", "of one object"),
        (TLE.replace("51.6000", "51.7000"), "line 2", "checksum", "copy the element set"),
        (TLE.replace("51.6000", "51.60"), "line 2", "67 characters", "must be 69"),
        (swapped("= TEME", "= EME2000"), "REF_FRAME", "'EME2000'", "must be TEME"),
        (swapped("= UTC", "= TAI"), "TIME_SYSTEM", "'TAI'", "must be UTC"),
        (swapped("= EARTH", "= MARS"), "CENTER_NAME", "'MARS'", "must be EARTH"),
        (swapped("= SGP4", "= DSST"), "MEAN_ELEMENT_THEORY", "'DSST'", "SGP4 or"),
        (swapped("ECCENTRICITY", "EXCENTRICITY"), "ECCENTRICITY", "missing", "from 0 to 0.99"),
        (swapped(FIELDS["ECCENTRICITY"], "nan"), "ECCENTRICITY", "nan", "from 0 to 0.99"),
        (swapped(FIELDS["INCLINATION"], "-3"), "INCLINATION", "-3", "from 0 to 180"),
        (swapped(FIELDS["MEAN_MOTION"], "0"), "MEAN_MOTION", "found 0", "from 0 to 20"),
        (swapped(FIELDS["EPOCH"], "yesterday"), "EPOCH", "'yesterday'", "a UTC time"),
        (KVN + KVN, "", "2 objects", "message alone"),
        (KVN + "BSTAR = 0\n", "line", "BSTAR stands twice", "keep one"),
        (
            CSV.replace("\n", ",ECCENTRICITY\n", 1)[:-1] + ",0.5\n",
            "ECCENTRICITY",
            "stands twice",
            "keep one",
        ),
        (
            JSON.replace("{", '{"ECCENTRICITY": 0.5, ', 1),
            "ECCENTRICITY",
            "stands twice",
            "keep one",
        ),
        (
            JSON.replace("{", '{"Eccentricity": 0.5, ', 1),
            "ECCENTRICITY",
            "stands twice",
            "keep one",
        ),
        (XML_TWICE, "ECCENTRICITY", "stands twice", "keep one"),
        (MIXED, "line 2", "object 90002 below line 1 of object 90001", "of one object"),
        (json.dumps({**FIELDS, "EPOCH": {"a": 1}}), "EPOCH", "found 'an object'", "a UTC time"),
        (KVN + "and so on\n", "line", "found 'and so on'", "KEYWORD = value"),
        ("<omm><body>", "line 1", "not XML", "give an OMM"),
        ("<oem></oem>", "", "<oem> without a <segment>", "give an OMM"),
        ('<!DOCTYPE x [<!ENTITY a "b">]><omm/>', "", "entities", "leave it out"),
        ("{", "line 1", "not JSON", "give an OMM"),
        ("[1, 2]", "", "no object", "give an OMM"),
        (json.dumps([FIELDS, FIELDS]), "", "2 objects", "message alone"),
        ("[]", "", "0 objects", "message alone"),
        (CSV + "1,2\n", "", "2 values under", "as many values"),
        (CSV.split("\n", maxsplit=1)[0] + "\n", "", "0 objects", "message alone"),
        (swapped(FIELDS["MEAN_MOTION"], "18.5"), "", "no state at its epoch", "check"),
    ],
)
def test_each_fault_is_told(text: str, place: str, found: str, mend: str) -> None:
    """What stands there and what is allowed, never a traceback."""
    with pytest.raises(InputError) as refused:
        read_orbit(text.encode(), "station.omm")
    fault = refused.value.faults[0]
    assert place in fault.place
    assert found in fault.found
    assert mend in fault.mend
    assert str(refused.value).startswith("station.omm: ")


def test_bytes_that_are_no_text_are_refused() -> None:
    """An image under the wrong name."""
    with pytest.raises(InputError, match="not UTF-8"):
        read_orbit(b"\x89PNG\r\n\xff", "station.omm")


def test_after_its_decay_there_is_no_state() -> None:
    """SGP4's own error is an unknown place, not an exception."""
    low = satellite(EPOCH_S, 150.0, 51.6, 0.0)
    text = json.dumps({**{k: str(v) for k, v in export_omm(low, "X").items()}, "BSTAR": "0.9"})
    source = read_orbit(text.encode(), "x")
    assert source.state(EPOCH_S) is not None
    assert source.state(EPOCH_S + 60.0 * 86400.0) is None


def test_a_circle_has_its_radius_speed_plane_and_place() -> None:
    """At the epoch: radius, circular speed, normal by inclination and node, arglat from node."""
    made = orbit(inclination_deg=60.0, raan_deg=30.0, arglat_deg=90.0)
    state = made.state(EPOCH_S)
    r, v = np.array(state.position_km), np.array(state.velocity_kmps)
    radius = RE_KM + 420.0
    assert np.linalg.norm(r) == pytest.approx(radius)
    assert np.linalg.norm(v) == pytest.approx(math.sqrt(398600.4418 / radius))
    assert r @ v == pytest.approx(0.0, abs=1e-9)
    normal = np.cross(r, v) / np.linalg.norm(np.cross(r, v))
    i, node = math.radians(60.0), math.radians(30.0)
    expected = (math.sin(i) * math.sin(node), -math.sin(i) * math.cos(node), math.cos(i))
    assert normal == pytest.approx(expected)
    # a quarter past the node: the northernmost point
    assert r[2] == pytest.approx(radius * math.sin(i))


@pytest.mark.parametrize("inclination_deg", [23.4, 51.6, 97.8])
def test_a_circle_drifts_as_sgp4_does(inclination_deg: float) -> None:
    """After a day the node is within 0.02 deg of SGP4's, the way along within 0.05 deg.

    The rate along the orbit is compared by what J2 adds to the Keplerian one, since SGP4's
    Keplerian mean motion belongs to a mean axis of its own.
    """
    made = satellite(EPOCH_S, 420.0, inclination_deg, 0.0)
    circle = orbit(inclination_deg=inclination_deg)
    state = circle.state(EPOCH_S + 86400.0)
    normal = np.cross(state.position_km, state.velocity_kmps)
    moved = math.degrees(math.atan2(normal[0], -normal[1]))
    assert moved == pytest.approx(math.degrees(made.nodedot * 1440.0), abs=0.02)
    own_kepler = 0.07436691613317342 * made.a**-1.5  # rad/min; xke of WGS 72, a in Earth radii
    theirs = (made.mdot + made.argpdot - own_kepler) / 60.0
    kepler = math.sqrt(398600.4418 / (RE_KM + 420.0) ** 3)
    u0, u1 = _arglat(circle.state(EPOCH_S)), _arglat(circle.state(EPOCH_S + 100.0))
    assert (u1 - u0) / 100.0 - kepler == pytest.approx(theirs, abs=0.01e-6)


def _arglat(state: object) -> float:
    r, v = np.array(state.position_km), np.array(state.velocity_kmps)  # type: ignore[attr-defined]
    normal = np.cross(r, v)
    to_node = np.cross([0.0, 0.0, 1.0], normal)
    ahead = np.cross(normal, to_node) / np.linalg.norm(normal)
    return math.atan2(float(r @ ahead), float(r @ to_node))


def test_an_altitude_alone_is_no_orbit_for_light() -> None:
    """Unknown orientation gives nothing, whichever one value is missing."""
    whole = Orbit(420.0, None, 51.6, 0.0, 0.0, EPOCH_S)
    assert circular_orbit(whole) == orbit()
    assert circular_orbit(Orbit()) is None
    assert circular_orbit(Orbit(420.0, None, None, 0.0, 0.0, EPOCH_S)) is None
    assert circular_orbit(Orbit(420.0, None, 51.6, None, 0.0, EPOCH_S)) is None
    assert circular_orbit(Orbit(420.0, None, 51.6, 0.0, None, EPOCH_S)) is None
    assert circular_orbit(Orbit(420.0, None, 51.6, 0.0, 0.0, None)) is None


def test_age_counts_either_way() -> None:
    """Half a day before is half a day."""
    assert age_days(orbit(), EPOCH_S - 43_200.0) == 0.5
    assert age_days(orbit(), EPOCH_S + 43_200.0) == 0.5
    assert format_utc(orbit().epoch_s, 0) == "2026-03-20T06:00:00Z"
