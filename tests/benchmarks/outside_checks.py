"""Our values beside published ones, computed now: ``python -m tests.benchmarks.outside_checks``.

Prints the table that stands in tests/README.md. The tests hold these and more of them; this page
is for a reader who wants to see the numbers side by side.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import NamedTuple

import numpy as np
from scipy import constants
from scipy.integrate import solve_ivp
from scipy.linalg import expm, solve_discrete_are
from scipy.spatial.transform import Rotation

from console.core.frames import euler_deg_from_quaternion
from console.core.units import PA_PER_PSI, S_PER_DAY
from console.core.utc import parse_utc
from console.motion.braking import greatest_rate_mps, stopping_distance_m
from console.motion.contact import contact_energy_j, vector_sum
from console.motion.cw import VHR_FROM_HILL, transition_matrix, two_impulse_velocity
from console.motion.damping import damping_ratio, logarithmic_decrement
from console.motion.glide_slope import distance_left_m, rate_mps, slope_per_s, transfer_s
from console.motion.leak import mass_loss_kg_per_s, throughput_pa_m3_per_s
from console.motion.orbit import mean_motion, mean_motion_of_altitude, period_s
from console.tracking.axis import Axis

OPEN = 1e30
TURN = np.kron(np.eye(2), VHR_FROM_HILL)


class Check(NamedTuple):
    """One line of the table."""

    what: str
    source: str
    published: float
    ours: float
    tolerance: float

    @property
    def holds(self) -> bool:
        """Whether ours lies within the tolerance of the published value."""
        return abs(self.ours - self.published) <= self.tolerance


def hill(n: float, t: float) -> np.ndarray:
    """Give the transition matrix in Hill's own axes."""
    return TURN.T @ transition_matrix(n, t) @ TURN


def motion_checks() -> Iterator[Check]:
    """Relative motion."""
    n = mean_motion(6378137.0 + 590e3, 398600.4418e9)
    vallado = "Vallado, Fundamentals of Astrodynamics, Ex. 6-14"
    state = hill(n, 1200.0) @ np.array([0, 0, 0, -0.1, -0.04, -0.02])
    for i, (name, value) in enumerate([("x", -143.000740), ("y", 137.279196), ("z", -17.766959)]):
        yield Check(f"CW {name} after 1200 s, m", vallado, value, float(state[i]), 1e-6)
    start = hill(n, 600.0) @ np.array([0, 0, 0, -0.1, -0.04, -0.02])
    for t, size in ((300.0, 0.417812), (900.0, 0.267568)):
        go, _ = two_impulse_velocity(n, VHR_FROM_HILL @ start[:3], np.zeros(3), t)
        found = float(np.linalg.norm(VHR_FROM_HILL.T @ go - start[3:]))
        yield Check(f"first Δv, return in {t:.0f} s, m/s", "Vallado, Ex. 6-15", size, found, 1e-6)
    yield curtis()
    n400 = mean_motion_of_altitude(400.0)
    yield Check(
        "period at 400 km, s", "Kepler's third law, WGS 84", 5553.6243, period_s(n400), 1e-3
    )
    system = np.zeros((6, 6))
    system[:3, 3:] = np.eye(3)
    system[3, 0], system[3, 4], system[4, 3], system[5, 2] = (
        3 * n400**2, 2 * n400, -2 * n400, -(n400**2),
    )  # fmt: skip
    worst = float(np.abs(hill(n400, 600.0) - expm(system * 600.0)).max())
    yield Check("CW matrix, greatest difference", "scipy.linalg.expm", 0.0, worst, 1e-9)
    yield Check("CW x after 1200 s against two-body, m", "scipy.integrate.solve_ivp", 0.0,
                two_body_difference(), 2e-3)  # fmt: skip


def curtis() -> Check:
    """Curtis's rendezvous in eight hours."""
    r, v = np.array([1622.39, 5305.10, 3717.44]), np.array([-7.29936, 0.492329, 2.48304])
    rc, vc = np.array([1612.75, 5310.19, 3750.33]), np.array([-7.35170, 0.463828, 2.46906])
    i, j = r / np.linalg.norm(r), v / np.linalg.norm(v)
    axes = np.array([i, j, np.cross(i, j)])
    n = float(np.linalg.norm(v) / np.linalg.norm(r))
    moving = axes @ (vc - v - np.cross(n * np.cross(i, j), rc - r))
    go, come = two_impulse_velocity(n, VHR_FROM_HILL @ axes @ (rc - r), np.zeros(3), 8 * 3600.0)
    total = np.linalg.norm(VHR_FROM_HILL.T @ go - moving) + np.linalg.norm(come)
    source = "Curtis, Orbital Mechanics for Engineering Students, Ex. 7.4"
    return Check("total Δv of two impulses, km/s", source, 0.1096369, float(total), 1e-7)


def two_body_difference() -> float:
    """Give how far CW is from two-body motion after 1200 s, m, from the start of Ex. 6-14."""
    mu, radius = 398600.4418e9, 6378137.0 + 590e3
    n = mean_motion(radius, mu)
    rate = math.sqrt(mu / radius)

    def pull(_t: float, s: np.ndarray) -> np.ndarray:
        return np.concatenate([s[3:], -mu * s[:3] / np.linalg.norm(s[:3]) ** 3])

    # at zero offset the rotating frame adds nothing to the relative velocity
    chaser = np.array([radius, 0, 0, -0.1, rate - 0.04, -0.02])
    flown = solve_ivp(pull, (0, 1200.0), chaser, rtol=1e-13, atol=1e-6, method="DOP853").y[:, -1]
    angle = n * 1200.0
    radial = np.array([math.cos(angle), math.sin(angle), 0.0])
    along = np.array([-math.sin(angle), math.cos(angle), 0.0])
    offset = flown[:3] - radius * radial
    true = np.array([offset @ radial, offset @ along, offset[2]])
    state = hill(n, 1200.0) @ np.array([0, 0, 0, -0.1, -0.04, -0.02])
    return float(np.abs(true - state[:3]).max())


def slope_and_braking_checks() -> Iterator[Check]:
    """Glide slope and stopping."""
    hablani = "Hablani et al., JGCD 25(3), 2002"
    total = transfer_s(100.0, -0.5, -0.1)
    yield Check("glide slope 100 m, transfer, s", hablani, 402.359478, total, 1e-6)
    yield Check("the same, slope, 1/s", hablani, -0.004, slope_per_s(100.0, -0.5, -0.1), 1e-12)
    half = distance_left_m(100.0, -0.5, -0.1, total / 2)
    yield Check("the same, left at half time, m", hablani, 30.901699, half, 1e-6)
    rate = rate_mps(100.0, -0.5, -0.1, total / 2)
    yield Check("the same, rate at half time, m/s", hablani, -0.223606798, rate, 1e-9)
    book = "AASHTO Green Book, stopping sight distance (from memory)"
    way = stopping_distance_m(100 / 3.6, 2.5, 3.4)
    yield Check("100 km/h, 2.5 s, 3.4 m/s²: m", book, 184.2, way, 1.5)
    yield Check("0.5 m/s, 5 s, 0.05 m/s²: m", "v t + v²/2a", 5.0,
                stopping_distance_m(0.5, 5, 0.05), 1e-12)  # fmt: skip
    yield Check("greatest rate in 30 m, m/s", "the same, solved", 0.913553,
                greatest_rate_mps(30, 10, 0.02), 5e-7)  # fmt: skip


def filter_checks() -> Iterator[Check]:
    """Steady states of the filter's axis."""
    kalata = "Kalata, IEEE TAES AES-20(2), 1984"
    for index, alpha, beta in ((0.1, 0.36, 0.08), (1.0, 0.75, 0.5), (10.0, 0.978714, 1.458980)):
        gain, slope = steady_gain(index)
        yield Check(f"α at tracking index {index:g}", kalata, alpha, gain, 2e-6)
        yield Check(f"β at tracking index {index:g}", kalata, beta, slope, 2e-6)
    step, q, r = 0.1, 3e-4, 0.02**2
    axis = Axis(0.0, 0.0, 1.0, 1.0)
    predicted = 0.0
    for _ in range(20000):
        axis.predict(step, q)
        predicted = axis.a
        axis.take_position(0.0, OPEN, r)
    noise = q * np.array([[step**3 / 3, step**2 / 2], [step**2 / 2, step]])
    f = np.array([[1.0, step], [0.0, 1.0]])
    riccati = solve_discrete_are(f.T, np.array([[1.0], [0.0]]), noise, np.array([[r]]))
    yield Check("steady variance, m²", "scipy.linalg.solve_discrete_are", float(riccati[0, 0]),
                predicted, 1e-12)  # fmt: skip


def steady_gain(index: float) -> tuple[float, float]:
    """Give alpha and beta the axis settles at."""
    step, sigma = 0.5, 0.3
    size = index * sigma / step**2
    axis = Axis(0.0, 0.0, 1.0, 1.0)
    before = (0.0, 0.0)
    for _ in range(3000):
        axis.predict(step, 0.0)
        axis.a += size**2 * step**4 / 4
        axis.b += size**2 * step**3 / 2
        axis.c += size**2 * step**2
        before = (axis.a, axis.b)
        axis.take_position(0.0, OPEN, sigma**2)
    total = before[0] + sigma**2
    return before[0] / total, before[1] / total * step


def other_checks() -> Iterator[Check]:
    """Attitude, contact, damping, leak, time, units."""
    idss = "IDSS IDD Rev. E, Table 3.3.1.1-2 (vector sum)"
    yield Check("pitch 3, yaw 3 deg: fails 4.0, deg", idss, 4.2426, vector_sum(3.0, 3.0), 5e-5)
    worst = 0.0
    for x, y, z, w in Rotation.random(2000, random_state=1).as_quat():
        ours = euler_deg_from_quaternion(w, x, y, z)
        turned = Rotation.from_euler("ZYX", ours[::-1], degrees=True)
        worst = max(worst, float((Rotation.from_quat([x, y, z, w]).inv() * turned).magnitude()))
    yield Check("2000 random attitudes, worst, rad", "scipy Rotation", 0.0, worst, 1e-7)
    energy = contact_energy_j(12_500.0, 420_000.0, 0.10)
    yield Check("12.5 t on 420 t at 0.10 m/s, J", "reduced mass", 60.694, energy, 5e-4)
    decrement = logarithmic_decrement(20.0, 2.0, 100)
    yield Check("20 to 2 cm in 100 cycles: δ", "textbook exercise, printed 0.023", 0.02303,
                decrement, 5e-6)  # fmt: skip
    ratio = damping_ratio(math.log(1.5))
    yield Check("peak ratio 3/2: ζ", "textbook exercise", 0.0643978, ratio, 5e-8)
    gained = -mass_loss_kg_per_s(0.002, (25_300.0, 293.15), (50_600.0, 293.15), 70.0, 8.314472)
    yield Check("leak check, mol/s", "40 CFR 1065.644", 2.965705e-4, gained, 1e-10)
    first, last = (101_325.0, 293.15), (101_025.0, 292.65)
    loss = mass_loss_kg_per_s(1.0, first, last, 1800.0) * S_PER_DAY
    yield Check("1 m³, half an hour, kg/day", "p V / R T", 0.0726679, loss, 1e-6)
    leak = throughput_pa_m3_per_s(1.0, first, last, 1800.0)
    yield Check("the same, Pa·m³/s", "p V / t, at first temperature", 0.0707757, leak, 1e-6)
    t = parse_utc("1988-018T17:20:43.123456Z")
    yield Check("day-of-year time, s", "CCSDS 301.0-B-4 3.5.1", 569_524_843.123456, t, 1e-6)
    yield Check("pound per square inch, Pa", "scipy.constants", constants.psi, PA_PER_PSI, 1e-9)


def all_checks() -> list[Check]:
    """Give every line."""
    return [
        *motion_checks(), *slope_and_braking_checks(), *filter_checks(), *other_checks(),
    ]  # fmt: skip


def main() -> None:
    """Print the table in Markdown; exit 1 where a line does not hold."""
    lines = all_checks()
    print("| check | published source | published | ours | tolerance |")
    print("|---|---|---|---|---|")
    for line in lines:
        print(
            f"| {line.what} | {line.source} | {line.published:.10g} | {line.ours:.10g} "
            f"| {line.tolerance:.0e} |"
        )
    raise SystemExit(0 if all(line.holds for line in lines) else 1)


if __name__ == "__main__":
    main()
