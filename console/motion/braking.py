"""Stopping: how far, how long, and until when a call for it still helps.

Closing rates are positive while closing, decelerations positive. A way to stop is reaction (link,
human, valve and the data's own age) at the present rate, then constant deceleration.
"""

from __future__ import annotations

import math

from console.motion.glide_slope import ClosingLaw

_BISECTIONS = 60


def stopping_distance_m(rate_mps: float, reaction_s: float, braking_mps2: float) -> float:
    """Give the way to a stop, m; 0 where the vehicle is not closing.

    Parameters
    ----------
    rate_mps : float
        Closing rate, m/s.
    reaction_s : float
        Time before braking begins, s, >= 0.
    braking_mps2 : float
        Deceleration, m/s^2, > 0.

    Notes
    -----
    s = v t_r + v^2/(2a) (the reaction-plus-braking form of road design: AASHTO, *A Policy on
    Geometric Design of Highways and Streets*, stopping sight distance; from memory).
    """
    if rate_mps <= 0.0:
        return 0.0
    return rate_mps * reaction_s + rate_mps * rate_mps / (2.0 * braking_mps2)


def stopping_time_s(rate_mps: float, reaction_s: float, braking_mps2: float) -> float:
    """Give the time to a stop, t_r + v/a, s; 0 where the vehicle is not closing.

    Notes
    -----
    Constant deceleration, as in :func:`stopping_distance_m`.
    """
    return reaction_s + rate_mps / braking_mps2 if rate_mps > 0.0 else 0.0


def greatest_rate_mps(room_m: float, reaction_s: float, braking_mps2: float) -> float:
    """Give the greatest closing rate from which a stop within a room is possible, m/s.

    Notes
    -----
    v_max = -a t_r + sqrt((a t_r)^2 + 2 a r), the stopping distance solved for the rate (source as
    in :func:`stopping_distance_m`).
    """
    if room_m <= 0.0:
        return 0.0
    lost = braking_mps2 * reaction_s
    return -lost + math.sqrt(lost * lost + 2.0 * braking_mps2 * room_m)


def required_braking_mps2(rate_mps: float, room_m: float) -> float:
    """Give the deceleration needed to stop within a room, v^2/(2r), m/s^2; infinite in none.

    Notes
    -----
    The stopping distance without reaction, solved for the deceleration (source as in
    :func:`stopping_distance_m`).
    """
    if rate_mps <= 0.0:
        return 0.0
    return rate_mps * rate_mps / (2.0 * room_m) if room_m > 0.0 else math.inf


def tau_s(range_m: float, rate_mps: float) -> float:
    """Give range over closing rate, s: the time to contact at the present rate.

    Infinite where the vehicle is not closing.

    Notes
    -----
    tau of D. N. Lee, "A theory of visual control of braking", *Perception* 5, 1976; from memory.
    """
    return range_m / rate_mps if rate_mps > 0.0 else math.inf


def tau_dot(range_m: float, rate_mps: float, braking_mps2: float) -> float:
    """Give the change of tau a second under a deceleration.

    Notes
    -----
    d(x/v)/dt = -1 + x a/v^2. Above -0.5 the present deceleration stops the vehicle before
    contact, at -0.5 just at it (Lee 1976; from memory).
    """
    if rate_mps <= 0.0:
        return math.inf
    return -1.0 + range_m * braking_mps2 / (rate_mps * rate_mps)


def latest_call_s(
    range_m: float, rate_mps: float, stop_at_m: float, reaction_s: float, braking_mps2: float
) -> float | None:
    """Give how long from now a stop call still halts the vehicle outside a range, s.

    Parameters
    ----------
    range_m, rate_mps : float
        Now; the rate is taken as constant until the call.
    stop_at_m : float
        Range it must halt outside of, m.
    reaction_s : float
        Data age, link and reaction together, s.
    braking_mps2 : float
        Deceleration the vehicle is sure to reach, m/s^2.

    Returns
    -------
    float or None
        Negative where it is too late; None where the vehicle is not closing.

    Notes
    -----
    t = (x - x_h - v t_r - v^2/(2a))/v, from the stopping distance (source as there).
    """
    if rate_mps <= 0.0:
        return None
    way = stopping_distance_m(rate_mps, reaction_s, braking_mps2)
    return (range_m - stop_at_m - way) / rate_mps


def latest_call_sigma_s(
    call_s: float,
    rate_mps: float,
    reaction_s: float,
    braking_mps2: float,
    *,
    range_sigma_m: float,
    rate_sigma_mps: float,
    reaction_sigma_s: float = 0.0,
    braking_share_sigma: float = 0.0,
) -> float:
    """Give the 1-sigma of the latest stop call, s.

    Parameters
    ----------
    call_s : float
        The latest call from ``latest_call_s``.
    rate_mps, reaction_s, braking_mps2 : float
        As given there, the rate > 0.
    range_sigma_m, rate_sigma_mps, reaction_sigma_s : float
        1-sigma of what goes in.
    braking_share_sigma : float
        1-sigma of the deceleration as a share of it.

    Notes
    -----
    First order (propagation of errors: Bevington and Robinson, *Data Reduction and Error
    Analysis*, section 3.2; from memory): the partial derivatives of t by x, v, t_r and a are 1/v,
    -(t_r + v/a + t)/v, -1 and v/(2a) per share of a.
    """
    v = rate_mps
    braked = v * v / (2.0 * braking_mps2)
    by_rate = (reaction_s + v / braking_mps2 + call_s) * rate_sigma_mps
    return (
        math.sqrt(
            range_sigma_m**2
            + by_rate**2
            + (v * reaction_sigma_s) ** 2
            + (braking_share_sigma * braked) ** 2
        )
        / v
    )


def latest_call_on_law_s(
    range_m: float, law: ClosingLaw, stop_at_m: float, reaction_s: float, braking_mps2: float
) -> float | None:
    """Give the same along a closing law that slows, s; None where it is too late already.

    Notes
    -----
    Solves X - D(v(X)) = x_h by bisection for the last range X from which the vehicle still halts
    in time, then takes the law's time from here to X. The constant-rate figure is the safe
    bound, since it assumes no slowing.
    """

    def spare_m(x_m: float) -> float:
        way = stopping_distance_m(law.rate_at(x_m), reaction_s, braking_mps2)
        return x_m - way - stop_at_m

    if spare_m(range_m) < 0.0:
        return None
    low, high = stop_at_m, range_m
    for _ in range(_BISECTIONS):
        middle = 0.5 * (low + high)
        if spare_m(middle) >= 0.0:
            high = middle
        else:
            low = middle
    return law.between_s(range_m, high)


def retreat_time_s(
    range_m: float,
    rate_mps: float,
    to_m: float,
    retreat_rate_mps: float,
    reaction_s: float,
    braking_mps2: float,
) -> float:
    """Give the time a retreat called now takes to pass a range outward, s.

    Parameters
    ----------
    range_m, rate_mps : float
        Now; closing rate.
    to_m : float
        Range to get back to, m.
    retreat_rate_mps : float
        How fast it backs out, m/s, > 0.
    reaction_s, braking_mps2 : float
        As for a stop; the same thrust builds up the retreat.

    Notes
    -----
    t_r + v/a + v_r/a + (x_to - (x - D) - v_r^2/(2a))/v_r: react, stop, build up, go, each at
    constant acceleration (source as in :func:`stopping_distance_m`). Where ``to_m`` is passed
    while the rate still builds up, that part is cut short.
    """
    v, a = max(rate_mps, 0.0), braking_mps2
    stopped_m = range_m - stopping_distance_m(v, reaction_s, a)
    way = to_m - stopped_m
    if way <= 0.0:
        return 0.0
    begun_s = reaction_s + v / a
    building_m = retreat_rate_mps * retreat_rate_mps / (2.0 * a)
    if way <= building_m:
        return begun_s + math.sqrt(2.0 * way / a)
    return begun_s + retreat_rate_mps / a + (way - building_m) / retreat_rate_mps
