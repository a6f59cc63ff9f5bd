"""Chances of Gaussian errors to meet a limit: a band, a size, the length of two components.

All in plain floats with ``math``: a distribution call of a statistics library costs more than the
rest of a sample's work.
"""

from __future__ import annotations

import math
from typing import Final

SQRT2: Final = math.sqrt(2.0)
CLIP_SIGMAS: Final = 8.0
SHARP: Final = 1e-9
"""A sigma below this (in the quantity's unit) is taken as none at all."""

# Gauss-Legendre nodes and weights on [-1, 1], 24 points, positive half (Abramowitz and Stegun,
# *Handbook of Mathematical Functions*, table 25.4).
_NODES: Final = (
    (0.0640568928626056, 0.1279381953467522),
    (0.1911188674736163, 0.1258374563468283),
    (0.3150426796961634, 0.1216704729278034),
    (0.4337935076260451, 0.1155056680537256),
    (0.5454214713888396, 0.1074442701159656),
    (0.6480936519369755, 0.0976186521041139),
    (0.7401241915785544, 0.0861901615319533),
    (0.8200019859739029, 0.0733464814110803),
    (0.8864155270044011, 0.0592985849154368),
    (0.9382745520027328, 0.0442774388174198),
    (0.9747285559713095, 0.0285313886289337),
    (0.9951872199970213, 0.0123412297999872),
)


def band_chance(mean: float, sigma: float, low: float | None, high: float | None) -> float:
    """Give the chance that a Gaussian value lies in a band; an open side is None.

    Notes
    -----
    Phi((high - m)/s) - Phi((low - m)/s), with Phi by the error function (Abramowitz and Stegun,
    26.2.29; from memory).
    """
    if sigma < SHARP:
        inside = (low is None or mean >= low) and (high is None or mean <= high)
        return 1.0 if inside else 0.0
    scale = 1.0 / (sigma * SQRT2)
    upper = 1.0 if high is None else math.erf((high - mean) * scale)
    lower = -1.0 if low is None else math.erf((low - mean) * scale)
    return max(0.5 * (upper - lower), 0.0)


def size_chance(mean: float, sigma: float, low: float | None, high: float | None) -> float:
    """Give the chance that the absolute value of a Gaussian lies in a band."""
    if high is not None and high < 0.0:
        return 0.0
    inside = band_chance(mean, sigma, None if high is None else -high, high)
    if low is None or low <= 0.0:
        return inside
    return max(inside - band_chance(mean, sigma, -low, low), 0.0)


def length_chance(
    mean_y: float,
    mean_z: float,
    sigma_y: float,
    sigma_z: float,
    low: float | None,
    high: float | None,
) -> float:
    """Give the chance that the length of two independent Gaussian components lies in a band."""
    inside = 1.0 if high is None else disc_chance(mean_y, mean_z, sigma_y, sigma_z, high)
    if low is None or low <= 0.0:
        return inside
    return max(inside - disc_chance(mean_y, mean_z, sigma_y, sigma_z, low), 0.0)


def disc_chance(
    mean_y: float, mean_z: float, sigma_y: float, sigma_z: float, radius: float
) -> float:
    """Give the chance that two independent Gaussian components lie within a circle about 0.

    Parameters
    ----------
    mean_y, mean_z, sigma_y, sigma_z : float
        Means and 1-sigmas, any unit.
    radius : float
        Of the circle, same unit.

    Returns
    -------
    float
        0 to 1. Equal sigmas give the Rice distribution's value.

    Notes
    -----
    Gauss-Legendre over the component of the smaller sigma, turned to y = r sin(u) so that the
    circle's edge is smooth, exact in the other by the error function; the limits are clipped to
    the mean +- 8 sigma, without which narrow distributions fall between the nodes.
    """
    if radius <= 0.0:
        return 0.0
    if sigma_z < sigma_y:
        mean_y, mean_z, sigma_y, sigma_z = mean_z, mean_y, sigma_z, sigma_y
    if sigma_y < SHARP:
        rest = radius * radius - mean_y * mean_y
        half = math.sqrt(max(rest, 0.0))
        return band_chance(mean_z, sigma_z, -half, half) if rest >= 0.0 else 0.0
    low = max(-1.0, (mean_y - CLIP_SIGMAS * sigma_y) / radius)
    high = min(1.0, (mean_y + CLIP_SIGMAS * sigma_y) / radius)
    if low >= high:
        return 0.0
    start, end = math.asin(low), math.asin(high)
    middle, half = 0.5 * (start + end), 0.5 * (end - start)
    total = 0.0
    for node, weight in _NODES:
        for u in (middle - half * node, middle + half * node):
            y, chord = radius * math.sin(u), radius * math.cos(u)
            d = (y - mean_y) / sigma_y
            density = math.exp(-0.5 * d * d) * chord
            total += weight * density * band_chance(mean_z, sigma_z, -chord, chord)
    return min(total * half / (sigma_y * math.sqrt(2.0 * math.pi)), 1.0)


def size_moments(mean: float, sigma: float) -> tuple[float, float]:
    """Give mean and 1-sigma of the absolute value of a Gaussian.

    Notes
    -----
    The folded normal distribution (Leone, Nelson, Nottingham, Technometrics 3(4), 1961; from
    memory).
    """
    if sigma < SHARP:
        return abs(mean), sigma
    r = mean / sigma
    first = sigma * math.sqrt(2.0 / math.pi) * math.exp(-0.5 * r * r)
    first += mean * math.erf(r / SQRT2)
    return first, math.sqrt(max(mean * mean + sigma * sigma - first * first, 0.0))


def length_moments(mean_y: float, mean_z: float, sigma: float) -> tuple[float, float]:
    """Give mean and 1-sigma of the length of two Gaussian components of one sigma.

    Notes
    -----
    The Rice distribution: E r = s sqrt(pi/2) L(-m^2/2s^2), with the Laguerre function
    L(-w) = e^(-w/2) ((1+w) I0(w/2) + w I1(w/2)) and E r^2 = m^2 + 2 s^2 (Rice, Bell System
    Technical Journal 24, 1945; from memory).
    """
    square = mean_y * mean_y + mean_z * mean_z
    if sigma < SHARP:
        return math.sqrt(square), sigma
    w = square / (2.0 * sigma * sigma)
    i0, i1 = scaled_bessel(0.5 * w)
    first = sigma * math.sqrt(math.pi / 2.0) * ((1.0 + w) * i0 + w * i1)
    rest = square + 2.0 * sigma * sigma - first * first
    return first, math.sqrt(max(rest, 0.0))


def scaled_bessel(x: float) -> tuple[float, float]:
    """Give e^-x I0(x) and e^-x I1(x) for x >= 0, to 1e-6 of their value.

    Notes
    -----
    Polynomial approximations 9.8.1 to 9.8.4 of Abramowitz and Stegun, *Handbook of Mathematical
    Functions*.
    """
    if x < 3.75:
        t = (x / 3.75) ** 2
        i0 = _polynomial(t, _I0_SMALL)
        i1 = x * _polynomial(t, _I1_SMALL)
        scale = math.exp(-x)
    else:
        t = 3.75 / x
        i0, i1 = _polynomial(t, _I0_LARGE), _polynomial(t, _I1_LARGE)
        scale = 1.0 / math.sqrt(x)
    return i0 * scale, i1 * scale


def _polynomial(t: float, coefficients: tuple[float, ...]) -> float:
    value = 0.0
    for coefficient in reversed(coefficients):
        value = value * t + coefficient
    return value


_I0_SMALL: Final = (1.0, 3.5156229, 3.0899424, 1.2067492, 0.2659732, 0.0360768, 0.0045813)
_I1_SMALL: Final = (
    0.5, 0.87890594, 0.51498869, 0.15084934, 0.02658733, 0.00301532, 0.00032411,
)  # fmt: skip
_I0_LARGE: Final = (
    0.39894228, 0.01328592, 0.00225319, -0.00157565, 0.00916281, -0.02057706, 0.02635537,
    -0.01647633, 0.00392377,
)  # fmt: skip
_I1_LARGE: Final = (
    0.39894228, -0.03988024, -0.00362018, 0.00163801, -0.01031555, 0.02282967, -0.02895312,
    0.01787654, -0.00420059,
)  # fmt: skip
