"""The Sun's place against printed examples and two independent libraries."""

from __future__ import annotations

import math

import erfa
import numpy as np
import pytest
from surroundings_tools import JD_1970, quiet_astropy, sun_km_gcrs

from console.core.utc import parse_utc
from console.surroundings.sun import AU_KM, centuries_since_j2000, sun_vector_au, sun_vector_km

DATES = [
    parse_utc("1990-01-01T00:00:00Z") + i * 60.0 * 365.25 * 86400.0 / 199 + 3600.0 * (i % 24)
    for i in range(200)
]


def degrees_between(a: object, b: object) -> float:
    """Give the angle between two vectors."""
    one, other = np.asarray(a, float), np.asarray(b, float)
    size = np.linalg.norm(np.cross(one, other))
    return math.degrees(math.atan2(float(size), float(one @ other)))


def test_vallado_example_5_1() -> None:
    """2006-04-02 00:00: 0.9771945, 0.1924424, 0.0834308 AU (Vallado, Example 5-1)."""
    t = parse_utc("2006-04-02T00:00:00Z")
    assert sun_vector_au(t) == pytest.approx((0.9771945, 0.1924424, 0.0834308), abs=5e-8)
    assert sun_vector_km(t) == pytest.approx((146_186_212, 28_788_976, 12_481_064), abs=1.0)


def test_vallado_example_11_6() -> None:
    """1997-04-02 01:08: 0.9765, 0.1960, 0.0850 AU to four digits (Vallado, Example 11-6)."""
    found = sun_vector_au(parse_utc("1997-04-02T01:08:00Z"))
    assert found == pytest.approx((0.9765, 0.1960, 0.0850), abs=1e-4)


def test_meeus_example_25_a() -> None:
    """1992-10-13 0h TD: true longitude 199 deg 54' 36", R 0.99766 (Meeus, Example 25.a).

    The time there is dynamical, 59 s ahead of UTC then; the model is good to 0.01 deg.
    """
    x, y, z = sun_vector_au(parse_utc("1992-10-13T00:00:00Z") - 59.0)
    tilt = math.radians(23.44023)
    longitude = math.degrees(math.atan2(y * math.cos(tilt) + z * math.sin(tilt), x)) % 360.0
    assert longitude == pytest.approx(199.0 + 54.0 / 60.0 + 36.0 / 3600.0, abs=0.01)
    assert math.sqrt(x * x + y * y + z * z) == pytest.approx(0.99766, abs=1e-4)
    ascension = math.degrees(math.atan2(y, x)) % 360.0
    assert ascension == pytest.approx(198.38083, abs=0.01)
    assert math.degrees(math.asin(z / 0.99766)) == pytest.approx(-7.78507, abs=0.01)


@pytest.mark.parametrize("t", DATES)
def test_within_a_fiftieth_of_a_degree_of_erfa(t: float) -> None:
    """200 dates of 1990-2050: ERFA's epv00, precessed to the mean equator of date (pmat06)."""
    earth = erfa.epv00(JD_1970, (t + 69.0) / 86400.0)[0]  # heliocentric; TDB is about UTC + 69 s
    sun = erfa.pmat06(JD_1970, t / 86400.0) @ -np.asarray(earth["p"])
    own = sun_vector_au(t)
    assert degrees_between(sun, own) < 0.02
    assert np.linalg.norm(own) == pytest.approx(np.linalg.norm(sun), rel=2e-4)


def test_within_a_fiftieth_of_a_degree_of_astropy() -> None:
    """The same 200 dates against astropy's get_sun, which counts aberration too."""
    download, age = quiet_astropy()
    with download, age:
        sun = sun_km_gcrs(np.array(DATES))
    worst = max(
        degrees_between(erfa.pmat06(JD_1970, t / 86400.0) @ sun[i], sun_vector_km(t))
        for i, t in enumerate(DATES)
    )
    assert worst < 0.02


def test_the_frame_is_of_date() -> None:
    """Read as J2000 the vector would be wrong by precession: a third of a degree in 2026."""
    t = parse_utc("2026-11-25T08:00:00Z")
    earth = erfa.epv00(JD_1970, t / 86400.0)[0]
    assert 0.3 < degrees_between(-np.asarray(earth["p"]), sun_vector_au(t)) < 0.45


def test_time_counts_from_j2000() -> None:
    """JD 2451545.0 is zero, a Julian century one."""
    assert centuries_since_j2000(parse_utc("2000-01-01T12:00:00Z")) == 0.0
    assert centuries_since_j2000(parse_utc("2100-01-01T12:00:00Z")) == 1.0
    assert AU_KM == 149_597_870.7
