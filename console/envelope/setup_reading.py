"""Read a setup file: as strict as the limits file, but every key may be left out."""

from __future__ import annotations

import math
from dataclasses import replace

from console.core.ids import SourceId
from console.core.utc import parse_utc
from console.envelope.physical import (
    DISTANCE_M,
    DURATION_S,
    MULTIPLE,
    PLACE,
    SIGMA,
    SIZE,
    SPEED_MPS,
)
from console.envelope.setup import (
    Camera,
    LinearSigma,
    Orbit,
    Port,
    PortAxis,
    Retreat,
    Setup,
    SourceNoise,
    Vestibule,
)
from console.envelope.strict import Reader
from console.envelope.strict_table import Table, words_of
from console.envelope.strict_value import Bounds

ALTITUDE_KM = Bounds(above=100.0, most=50_000.0)
"""Below about 100 km nothing orbits; above 50 000 km the near-circular model says nothing."""

INCLINATION_DEG = Bounds(least=0.0, most=180.0)
TURN_DEG = Bounds(least=-360.0, most=360.0)
HALF_FIELD_DEG = Bounds(above=0.0, most=90.0)
BAFFLE_DEG = Bounds(least=0.0, most=90.0)
VOLUME_M3 = Bounds(above=0.0, most=1e6)
LEAK_LIMIT_PA_PER_H = Bounds(above=0.0, most=1e6)
"""Ten bar an hour: beyond it nothing is left to be checked."""
SENSOR_LAG_S = Bounds(least=0.0, most=3600.0)
"""Through a sensor slower than an hour no check of hours sees the gas (no source)."""
_ORIENTATION = ("inclination_deg", "raan_deg", "arglat_deg", "epoch")

_BIAS_FIELDS = {
    "range_m": "range_bias_m",
    "lateral_m": "lateral_bias_m",
    "range_rate_mps": "range_rate_bias_mps",
    "lateral_rate_mps": "lateral_rate_bias_mps",
}


def parse_setup(data: bytes, name: str) -> Setup:
    """Read and check a setup file.

    Parameters
    ----------
    data : bytes
        The file; an empty one gives the defaults.
    name : str
        What errors call it.

    Returns
    -------
    Setup
        With the text and the sha256 of ``data``.

    Raises
    ------
    InputError
        With every fault found, each with its line where known.
    """
    reader = Reader(data, name)
    root = reader.root
    default = Setup()
    keep_out = root.table("keep_out", required=False)
    holds = root.table("holds", required=False)
    authority = root.table("authority", required=False)
    countdown = root.table("time_to_contact", required=False)
    setup = Setup(
        orbit=_orbit(root.table("orbit", required=False)),
        port=_port(root.table("port", required=False)),
        keep_out_radius_m=keep_out.number("radius_m", default.keep_out_radius_m, DISTANCE_M),
        holds_m=holds.numbers("ranges_m", default.holds_m, DISTANCE_M),
        retreat=_retreat(root.table("retreat", required=False)),
        sources={
            SourceId(source): _source(table)
            for source, table in root.named_tables("source").items()
        },
        vestibule=_vestibule(root.table("vestibule", required=False)),
        ground_holds_authority=authority.flag("ground", default.ground_holds_authority),
        withdraw_s=countdown.number("withdraw_s", default.withdraw_s, DURATION_S),
        sha256=reader.sha256,
        text=reader.text,
        camera=_camera(root.table("camera", required=False)),
    )
    reader.finish()
    return setup


def _orbit(table: Table) -> Orbit:
    altitude_km = table.number("altitude_km", Orbit().altitude_km, ALTITUDE_KM)
    given = [key for key in _ORIENTATION if table.has(key)]
    if table.has("omm"):
        beside = (["altitude_km"] if table.has("altitude_km") else []) + given
        if beside:
            table.refuse("omm", f"stands beside {beside[0]}", "give one of the two")
        return Orbit(altitude_km, table.text("omm", may_be_empty=False))
    if not given:
        return Orbit(altitude_km)
    for key in _ORIENTATION:
        if key not in given:
            table.refuse(key, "missing", f"give all of {', '.join(_ORIENTATION)}, or none")
    return Orbit(
        altitude_km,
        inclination_deg=table.number_or_none("inclination_deg", INCLINATION_DEG),
        raan_deg=table.number_or_none("raan_deg", TURN_DEG),
        arglat_deg=table.number_or_none("arglat_deg", TURN_DEG),
        epoch_s=_utc(table, "epoch"),
    )


def _utc(table: Table, key: str) -> float | None:
    text = table.text(key, "")
    if not text and (table.was_refused(key) or not table.has(key)):
        return None
    try:
        return parse_utc(text)
    except ValueError as error:
        table.refuse(key, str(error), "must be a UTC time such as 2031-04-10T09:35:00Z")
        return None


def _camera(table: Table) -> Camera:
    default = Camera()
    return Camera(
        half_field_deg=table.number("half_field_deg", default.half_field_deg, HALF_FIELD_DEG),
        baffle_deg=table.number("baffle_deg", default.baffle_deg, BAFFLE_DEG),
    )


def _port(table: Table) -> Port:
    axis = table.choice("axis", words_of(PortAxis), PortAxis.V_PLUS)
    along_v_m, across_m, along_r_m = table.numbers("offset_m", (0.0, 0.0, 0.0), PLACE, count=3)
    return Port(axis, (along_v_m, along_r_m), across_m)


def _retreat(table: Table) -> Retreat:
    default = Retreat()
    return Retreat(
        rate_mps=table.number("rate_mps", default.rate_mps, SPEED_MPS),
        to_m=table.number("to_m", default.to_m, DISTANCE_M),
    )


def _vestibule(table: Table) -> Vestibule:
    default = Vestibule()
    return Vestibule(
        volume_m3=table.number("volume_m3", default.volume_m3, VOLUME_M3),
        leak_limit_pa_per_h=table.number(
            "leak_limit_pa_per_h", default.leak_limit_pa_per_h, LEAK_LIMIT_PA_PER_H
        ),
        sensor_lag_s=table.number("sensor_lag_s", default.sensor_lag_s, SENSOR_LAG_S),
    )


def _source(table: Table) -> SourceNoise:
    """Read ``sigma`` and ``bias``: each a multiple of the default sensor's, or a table."""
    return _biased(_spread(SourceNoise(), table), table)


def _spread(noise: SourceNoise, table: Table) -> SourceNoise:
    if table.has("sigma") and not table.holds_table("sigma"):
        factor = table.number("sigma", 1.0, MULTIPLE)
        return replace(
            noise,
            range_m=_times(noise.range_m, factor),
            lateral_m=_times(noise.lateral_m, factor),
            range_rate_mps=_times(noise.range_rate_mps, factor),
            lateral_rate_mps=_times(noise.lateral_rate_mps, factor),
            angle_deg=_times(noise.angle_deg, factor),
            angle_rate_dps=_times(noise.angle_rate_dps, factor),
        )
    sigma = table.table("sigma", required=False)
    return replace(
        noise,
        range_m=_sigma(sigma, "range_m", noise.range_m),
        lateral_m=_sigma(sigma, "lateral_m", noise.lateral_m),
        range_rate_mps=_sigma(sigma, "range_rate_mps", noise.range_rate_mps),
        lateral_rate_mps=_sigma(sigma, "lateral_rate_mps", noise.lateral_rate_mps),
        angle_deg=_sigma(sigma, "angle_deg", noise.angle_deg),
        angle_rate_dps=_sigma(sigma, "angle_rate_dps", noise.angle_rate_dps),
    )


def _times(sigma: LinearSigma, factor: float) -> LinearSigma:
    return LinearSigma(sigma.at_zero * factor, sigma.per_m * factor)


def _sigma(table: Table, key: str, default: LinearSigma) -> LinearSigma:
    """Read a 1-sigma: a number for every range, or ``[at zero range, growth per metre]``."""
    if not table.holds_list(key):
        return LinearSigma(table.number(key, bounds=SIGMA)) if table.has(key) else default
    at_zero, per_m = table.numbers(key, bounds=SIZE, count=2)
    if not math.isnan(at_zero) and not SIGMA.hold(at_zero):
        mend = "a 1-sigma must be " + SIGMA.words("a number")
        table.refuse(key, f"found {at_zero:g} at range 0", mend, 0)
    return LinearSigma(at_zero, per_m)


def _biased(noise: SourceNoise, table: Table) -> SourceNoise:
    """Read the size of the fixed bias, which no filter can see: an allowance, never negative."""
    if table.has("bias") and not table.holds_table("bias"):
        factor = table.number("bias", 1.0, SIZE)
        sizes = {field: factor * getattr(noise, field) for field in _BIAS_FIELDS.values()}
    else:
        bias = table.table("bias", required=False)
        sizes = {
            field: bias.number(key, getattr(noise, field), SIZE)
            for key, field in _BIAS_FIELDS.items()
        }
    return replace(noise, **sizes)
