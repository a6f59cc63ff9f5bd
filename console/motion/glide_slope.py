"""Glide slopes: closing at a rate that falls with range, and the knee line of a final approach.

Two forms. The *glide slope* proper starts anywhere: its rate is a straight line over distance from
a first rate to a last one. The *closing law* of a final approach is the same line down to a knee,
and a constant final rate from there to contact.

Rates in the glide-slope functions are range rates, negative while closing, as its literature has
them; the closing law speaks of closing rates, positive while closing.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

_FLAT_SLOPE_PER_S = 1e-6


def slope_per_s(distance_m: float, first_rate_mps: float, last_rate_mps: float) -> float:
    """Give the slope a of a glide slope, range rate over distance, 1/s (negative: it slows).

    Parameters
    ----------
    distance_m : float
        From the start to the end, m, > 0.
    first_rate_mps, last_rate_mps : float
        Range rate at the start and at the end, m/s, negative.

    Notes
    -----
    a = (rho'_0 - rho'_T)/rho_0 (Hablani, Tapper, Dana-Bashian, "Guidance and Relative Navigation
    for Autonomous Rendezvous in a Circular Orbit", JGCD 25(3), 2002; from memory).
    """
    return (first_rate_mps - last_rate_mps) / distance_m


def transfer_s(distance_m: float, first_rate_mps: float, last_rate_mps: float) -> float:
    """Give the time of transfer along a glide slope, s.

    Raises
    ------
    ValueError
        The rates are not both closing.

    Notes
    -----
    T = (1/a) ln(rho'_T/rho'_0) (Hablani et al. 2002; from memory); distance over rate where both
    rates are one.
    """
    if first_rate_mps >= 0.0 or last_rate_mps >= 0.0:
        raise ValueError(f"range rates {first_rate_mps}, {last_rate_mps} m/s: both must be < 0")
    slope = slope_per_s(distance_m, first_rate_mps, last_rate_mps)
    if slope == 0.0:
        return -distance_m / first_rate_mps
    return math.log(last_rate_mps / first_rate_mps) / slope


def distance_left_m(
    distance_m: float, first_rate_mps: float, last_rate_mps: float, t_s: float
) -> float:
    """Give the distance left after a time on a glide slope, m.

    Notes
    -----
    rho(t) = rho_0 e^(at) + (rho'_T/a)(e^(at) - 1) (Hablani et al. 2002; from memory).
    """
    slope = slope_per_s(distance_m, first_rate_mps, last_rate_mps)
    if slope == 0.0:
        return distance_m + first_rate_mps * t_s
    grown = math.expm1(slope * t_s)
    return distance_m * (grown + 1.0) + last_rate_mps / slope * grown


def rate_mps(distance_m: float, first_rate_mps: float, last_rate_mps: float, t_s: float) -> float:
    """Give the range rate after a time on a glide slope, m/s.

    Notes
    -----
    rho' = a rho + rho'_T (Hablani et al. 2002; from memory). Half-way in time it is the geometric
    mean of first and last rate.
    """
    slope = slope_per_s(distance_m, first_rate_mps, last_rate_mps)
    left = distance_left_m(distance_m, first_rate_mps, last_rate_mps, t_s)
    return slope * left + last_rate_mps


def exponential_s(first_m: float, last_m: float, share_per_s: float) -> float:
    """Give the time to go between two ranges at a closing rate that is a share of the range, s.

    Notes
    -----
    rho' = -k rho, so t = ln(rho_0/rho_1)/k: it never arrives at 0 (the older rule of "0.1 % of
    range a second"; from memory).
    """
    return math.log(first_m / last_m) / share_per_s


@dataclass(frozen=True, slots=True)
class ClosingLaw:
    """Closing rate over range: v = final + slope * max(x - knee, 0).

    Attributes
    ----------
    final_rate_mps : float
        Closing rate from the knee to contact, m/s, > 0.
    knee_m : float
        Range of the knee, m, >= 0.
    slope_per_s : float
        How much faster per metre outside the knee, 1/s.
    """

    final_rate_mps: float
    knee_m: float
    slope_per_s: float

    @classmethod
    def through(
        cls, range_m: float, closing_rate_mps: float, knee_m: float, final_rate_mps: float
    ) -> ClosingLaw:
        """Give the law through the present state and the planned knee.

        At or inside the knee the present rate is kept to contact.
        """
        if range_m <= knee_m:
            return cls(closing_rate_mps, knee_m, 0.0)
        slope = (closing_rate_mps - final_rate_mps) / (range_m - knee_m)
        return cls(final_rate_mps, knee_m, slope)

    def rate_at(self, range_m: float) -> float:
        """Give the closing rate at a range, m/s."""
        return self.final_rate_mps + self.slope_per_s * max(range_m - self.knee_m, 0.0)

    def between_s(self, from_m: float, to_m: float) -> float:
        """Give the time from one range to a smaller one, s; infinite where it never arrives.

        Notes
        -----
        Outside the knee T = ln(v_from/v_to)/k, which is the glide slope's time of transfer;
        inside it distance over rate. To contact that is ln(s/vf)/k + knee/vf.
        """
        if to_m >= from_m:
            return 0.0
        inside = min(from_m, self.knee_m) - min(to_m, self.knee_m)
        final = self.final_rate_mps
        total = 0.0
        if inside > 0.0:
            if final <= 0.0:
                return math.inf
            total = inside / final
        outer, inner = max(from_m, self.knee_m), max(to_m, self.knee_m)
        if outer > inner:
            total += self._outside_s(outer, inner)
        return total

    def _outside_s(self, outer_m: float, inner_m: float) -> float:
        fast, slow = self.rate_at(outer_m), self.rate_at(inner_m)
        if fast <= 0.0 or slow <= 0.0:
            return math.inf
        if abs(self.slope_per_s) < _FLAT_SLOPE_PER_S:
            return (outer_m - inner_m) / slow
        return math.log(fast / slow) / self.slope_per_s

    def range_after(self, from_m: float, t_s: float) -> float:
        """Give the range after a time along the law, m (below 0 past contact).

        Notes
        -----
        Outside the knee x - (v/k)(1 - e^(-k t)), the glide slope solved for range (Hablani et
        al. 2002; from memory).
        """
        if from_m > self.knee_m:
            to_knee = self._outside_s(from_m, self.knee_m)
            if t_s < to_knee:
                return self._outside_after(from_m, t_s)
            from_m, t_s = self.knee_m, t_s - to_knee
        return from_m - self.final_rate_mps * t_s

    def _outside_after(self, from_m: float, t_s: float) -> float:
        k, rate = self.slope_per_s, self.rate_at(from_m)
        if abs(k) < _FLAT_SLOPE_PER_S:
            return from_m - rate * t_s
        return from_m + rate / k * math.expm1(-k * t_s)


def to_contact_s(
    range_m: float, closing_rate_mps: float, knee_m: float, final_rate_mps: float
) -> float:
    """Give the time to contact from the present state along the planned closing law, s.

    Parameters
    ----------
    range_m, closing_rate_mps : float
        Now; m and m/s.
    knee_m, final_rate_mps : float
        Of the glide slope: outer end of its innermost segment, and its value at 0.

    Returns
    -------
    float
        Infinite where the vehicle is not closing; 0 at or behind the contact plane.

    Notes
    -----
    The line through (x, s) and (knee, final): T = ln(s/vf)/k + knee/vf outside the knee, x/s
    inside it (Hablani et al. 2002; from memory).
    """
    if range_m <= 0.0:
        return 0.0
    if closing_rate_mps <= 0.0:
        return math.inf
    law = ClosingLaw.through(range_m, closing_rate_mps, knee_m, final_rate_mps)
    return law.between_s(range_m, 0.0)
