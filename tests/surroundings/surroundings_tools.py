"""Orbits and an independent reference for light, for the tests of this room."""

from __future__ import annotations

import math
from typing import Any

import erfa
import numpy as np
from numpy.typing import NDArray
from sgp4.api import WGS72, Satrec
from sgp4.exporter import export_tle

from console.core.utc import parse_utc
from console.surroundings.orbit import CircularOrbit

EPOCH_S = parse_utc("2026-03-20T06:00:00Z")
RE_KM = 6378.137
JD_1970 = 2440587.5
DAY_S = 86400.0

Array = NDArray[np.float64]


def orbit(**changes: float) -> CircularOrbit:
    """Give a circular orbit, 420 km and 51.6 deg unless told otherwise."""
    fields = {
        "altitude_km": 420.0,
        "inclination_deg": 51.6,
        "raan_deg": 0.0,
        "arglat_deg": 0.0,
        "epoch_s": EPOCH_S,
    } | changes
    return CircularOrbit(**fields)


def satellite(
    epoch_s: float,
    altitude_km: float,
    inclination_deg: float,
    raan_deg: float,
    number: int = 90001,
) -> Satrec:
    """Give mean elements as the library itself holds them."""
    made = Satrec()
    n_rad_per_min = math.sqrt(398600.4418 / (RE_KM + altitude_km) ** 3) * 60.0
    made.sgp4init(
        WGS72, "i", number, epoch_s / DAY_S + 7306.0, 1e-5, 0.0, 0.0, 0.001,
        math.radians(40.0), math.radians(inclination_deg), math.radians(10.0), n_rad_per_min,
        math.radians(raan_deg),
    )  # fmt: skip
    made.classification = "U"
    made.intldesg = "26001A"
    made.elnum, made.revnum, made.ephtype = 1, 1, 0
    return made


def tle_text(made: Satrec) -> str:
    """Write mean elements as the library writes them."""
    return "\n".join(export_tle(made)) + "\n"


def sun_km_gcrs(t_s: Array) -> Array:
    """Give the Sun from astropy, geocentric, km, shape (n, 3)."""
    import astropy.units as u
    from astropy.coordinates import get_sun
    from astropy.time import Time

    # dynamical time is 69.184 s ahead of UTC since 2017; in a leap second the Sun moves 1e-5 deg
    days = (np.asarray(t_s) + 69.184) / DAY_S
    sun = get_sun(Time(JD_1970, days, format="jd", scale="tdb"))
    return np.asarray(sun.cartesian.xyz.to_value(u.km)).T


def gcrs_from_teme(t_s: Array, teme_km: Array) -> Array:
    """Turn positions from TEME to GCRS with astropy's own frames, shape (n, 3)."""
    import astropy.units as u
    from astropy.coordinates import GCRS, TEME, CartesianRepresentation
    from astropy.time import Time

    when = Time(JD_1970, np.asarray(t_s) / DAY_S, format="jd", scale="utc")
    there = TEME(CartesianRepresentation(teme_km.T * u.km), obstime=when)
    moved = there.transform_to(GCRS(obstime=when))
    return np.asarray(moved.cartesian.xyz.to_value(u.km)).T


def gcrs_from_mod(t_s: Array, mod_km: Array) -> Array:
    """Turn positions from the mean equator of date to GCRS with ERFA's precession, (n, 3)."""
    out = np.empty_like(mod_km)
    for i, t in enumerate(t_s):
        out[i] = erfa.pmat06(JD_1970, t / DAY_S).T @ mod_km[i]
    return out


def circular_km(made: CircularOrbit, t_s: Array) -> Array:
    """Place a circular orbit by rotation matrices, node and place drifting with J2."""
    a = RE_KM + made.altitude_km
    n = math.sqrt(398600.4418 / a**3)
    i = math.radians(made.inclination_deg)
    k = 1.5 * 1.08262668e-3 * (RE_KM / a) ** 2 * n
    out = np.empty((len(t_s), 3))
    for j, t in enumerate(t_s):
        dt = t - made.epoch_s
        node = math.radians(made.raan_deg) - k * math.cos(i) * dt
        # node + mean anomaly + perigee of the usual secular rates
        perigee = 0.5 * k * (4.0 - 5.0 * math.sin(i) ** 2)
        anomaly = k * (1.0 - 1.5 * math.sin(i) ** 2)
        u = math.radians(made.arglat_deg) + (n + perigee + anomaly) * dt
        out[j] = _z(node) @ _x(i) @ _z(u) @ np.array([a, 0.0, 0.0])
    return out


def _z(angle: float) -> Array:
    c, s = math.cos(angle), math.sin(angle)
    return np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]])


def _x(angle: float) -> Array:
    c, s = math.cos(angle), math.sin(angle)
    return np.array([[1.0, 0.0, 0.0], [0.0, c, -s], [0.0, s, c]])


def limb_crossings(t_s: Array, place_km: Array, sun_km: Array) -> list[tuple[float, bool]]:
    """Give when the Sun's centre crosses the limb, and whether it rises, from dense samples.

    The height of the Sun's centre over the limb is read linearly between samples; the limb is
    where the line to the Sun touches the sphere: sin(zenith angle) r = Re, on the night side.
    """
    to_sun = sun_km - place_km
    r = np.linalg.norm(place_km, axis=1)
    cosine = np.einsum("ij,ij->i", place_km, to_sun) / (r * np.linalg.norm(to_sun, axis=1))
    zenith = np.arccos(np.clip(cosine, -1.0, 1.0))
    over = (np.pi - zenith) - np.arcsin(RE_KM / r)
    found = []
    for i in np.nonzero((over[:-1] < 0) != (over[1:] < 0))[0]:
        share = over[i] / (over[i] - over[i + 1])
        found.append((float(t_s[i] + share * (t_s[i + 1] - t_s[i])), bool(over[i + 1] > 0)))
    return found


def quiet_astropy() -> Any:
    """Keep astropy off the network, and content with the tables it came with."""
    from astropy.utils import iers

    return iers.conf.set_temp("auto_download", False), iers.conf.set_temp("auto_max_age", None)
