"""The vehicle's guidance: which range rate it commands, and where it stops.

It follows the planned closing law, brakes to a stop at planned holds, and obeys orders to hold
or retreat. One command a control cycle of 1 s.
"""

from __future__ import annotations

import math
from enum import StrEnum

from console.envelope.limits import Curve, GlideSlope
from console.simulation.scenario import Hold, Order, OrderKind, Scenario, Steering
from console.simulation.truth import HoldSpan

HOLD_GAIN_S = 20.0  # a hold's position error is taken out over this long
HOLD_RATE_MPS = 0.03
SETTLED_M = 0.15
SETTLED_MPS = 0.02
LAW_REACHES_M = 2000.0


def standing_range_m(hold_range_m: float) -> float:
    """Give where the vehicle really stops for a hold, m: a little outside its range.

    So the range mark of the same name is called at the release, not by noise in the hold.
    """
    return hold_range_m * 1.003 + 0.15


def closing_law(steering: Steering, glide_slope: GlideSlope) -> Curve:
    """Give the planned closing rate over range, m/s.

    The limits file's glide slope, or |v| = final + slope * max(x - knee, 0) where the scenario
    sets any of the three; what it leaves open is taken from the glide slope.
    """
    if steering.final_rate_mps is steering.knee_m is steering.slope_per_s is None:
        return glide_slope.curve
    planned = glide_slope.curve
    final = _or(steering.final_rate_mps, glide_slope.final_rate_mps)
    knee = _or(steering.knee_m, glide_slope.knee_m)
    outside = planned.ranges_m[-1] - glide_slope.knee_m
    rise = planned.values[-1] - glide_slope.final_rate_mps
    slope = _or(steering.slope_per_s, rise / outside if outside > 0.0 else 0.0)
    reach = knee + LAW_REACHES_M
    return Curve((0.0, knee, reach), (final, final, final + slope * LAW_REACHES_M))


def _or(given: float | None, default: float) -> float:
    return default if given is None else given


class Mode(StrEnum):
    """What the guidance is doing."""

    APPROACH = "approach"
    HOLD = "hold"
    BRAKE = "brake"
    RETREAT = "retreat"


class Guidance:
    """Command range rates for one pass.

    Parameters
    ----------
    scenario : Scenario
        Holds, orders and braking.
    law : Curve
        Planned closing rate over range.
    """

    def __init__(self, scenario: Scenario, law: Curve) -> None:
        self._law = law
        self._braking_mps2 = scenario.steering.braking_mps2
        self._stay_s = scenario.stay_s
        self._holds = sorted(scenario.holds, key=lambda hold: -hold.range_m)
        self._orders = list(scenario.orders)
        self._order: Order | None = None
        self._target_m = 0.0
        self._wait_s = 0.0
        self._planned = True
        self._since_s: float | None = None
        self._spans: list[HoldSpan] = []
        self.mode = Mode.APPROACH
        self._begin(scenario.start_range_m)

    def _begin(self, start_m: float) -> None:
        while self._holds and self._holds[0].range_m > start_m + 1.0:
            self._holds.pop(0)
        if self._holds and abs(self._holds[0].range_m - start_m) <= 1.0:
            self._hold_at(self._holds.pop(0))

    def _hold_at(self, hold: Hold) -> None:
        self.mode = Mode.HOLD
        self._target_m = standing_range_m(hold.range_m)
        self._wait_s = hold.for_s
        self._planned = True
        self._since_s = None

    @property
    def standing_at_m(self) -> float | None:
        """Where the vehicle stands, m, while it is held; None otherwise."""
        return self._target_m if self.mode is Mode.HOLD else None

    def spans(self, t0: float) -> tuple[HoldSpan, ...]:
        """Give the stops so far, the present one with an open end, UTC seconds."""
        spans = [HoldSpan(s.range_m, t0 + s.t_start, t0 + s.t_end, s.planned) for s in self._spans]
        if self.mode is Mode.HOLD and self._since_s is not None:
            spans.append(HoldSpan(self._target_m, t0 + self._since_s, math.inf, self._planned))
        return tuple(spans)

    def is_over(self, t_s: float) -> bool:
        """Tell whether the vehicle will stay where it is and has stood there long enough."""
        return (
            self.mode is Mode.HOLD
            and math.isinf(self._wait_s)
            and self._since_s is not None
            and t_s - self._since_s >= self._stay_s
        )

    def command(
        self, t_s: float, x_m: float, v_mps: float, factor: float, least_mps: float
    ) -> float:
        """Give the range rate to fly in the coming cycle, m/s, negative toward the port.

        Parameters
        ----------
        t_s : float
            Since the start of the pass.
        x_m, v_mps : float
            Range and range rate the vehicle believes.
        factor : float
            The planned rate is multiplied by this (1 where nothing is wrong).
        least_mps : float
            The closing rate is kept at least at this before braking (0 where nothing is wrong).
        """
        self._take_order(x_m)
        if self.mode is Mode.BRAKE:
            return self._brake(x_m, v_mps)
        if self.mode is Mode.RETREAT:
            return self._retreat(x_m)
        if self.mode is Mode.HOLD:
            return self._stand(t_s, x_m, v_mps)
        return self._approach(x_m, factor, least_mps)

    def _take_order(self, x_m: float) -> None:
        for order in self._orders:
            if x_m <= order.at_range_m:
                self._orders.remove(order)
                self._order = order
                self.mode = Mode.BRAKE
                return

    def _approach(self, x_m: float, factor: float, least_mps: float) -> float:
        ranges = self._law.ranges_m
        planned = self._law.at(min(max(x_m, ranges[0]), ranges[-1])) or 0.0
        speed = max(planned * factor, least_mps)
        if self._holds:
            room = x_m - standing_range_m(self._holds[0].range_m)
            speed = min(speed, math.sqrt(2.0 * self._braking_mps2 * max(room, 0.0)))
            if room < SETTLED_M:
                self._hold_at(self._holds.pop(0))
                return -min(speed, HOLD_RATE_MPS)
        return -speed

    def _brake(self, x_m: float, v_mps: float) -> float:
        order = self._order
        if v_mps < -SETTLED_MPS:
            return min(v_mps + 2.0 * self._braking_mps2, 0.0)
        if order is None or order.kind is OrderKind.HOLD:
            self.mode = Mode.HOLD
            self._target_m = x_m
            self._wait_s = math.inf if order is None else order.for_s
            self._planned = False
            self._since_s = None
        else:
            self.mode = Mode.RETREAT
        return 0.0

    def _retreat(self, x_m: float) -> float:
        order = self._order
        if order is None:  # a retreat is always ordered
            return 0.0
        room = standing_range_m(order.to_m) - x_m
        if room < SETTLED_M:
            self._hold_at(Hold(order.to_m, order.for_s))
            self._planned = False
            return 0.0
        return min(order.rate_mps, math.sqrt(2.0 * self._braking_mps2 * room))

    def _stand(self, t_s: float, x_m: float, v_mps: float) -> float:
        error_m = self._target_m - x_m
        if self._since_s is None and abs(error_m) < 2 * SETTLED_M and abs(v_mps) < SETTLED_MPS:
            self._since_s = t_s
        if self._since_s is not None and t_s - self._since_s >= self._wait_s:
            self._spans.append(HoldSpan(self._target_m, self._since_s, t_s, self._planned))
            self.mode = Mode.APPROACH
            return self._approach(x_m, 1.0, 0.0)
        return max(-HOLD_RATE_MPS, min(error_m / HOLD_GAIN_S, HOLD_RATE_MPS))
