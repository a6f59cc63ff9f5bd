"""The Gaussian forecast of the contact state, and the closed-form chances drawn from it.

Used as it stands where no archive of residuals is at hand, and then marked uncalibrated: all
errors Gaussian, axes and groups of conditions independent.
"""

from __future__ import annotations

from dataclasses import dataclass

from console.envelope.limits import ContactLimit
from console.envelope.quantity import AT_CONTACT, Quantity
from console.tracking.chance import (
    band_chance,
    length_chance,
    length_moments,
    size_chance,
    size_moments,
)
from console.tracking.outlook import ContactPrediction, ContactQuantity, Spread

Pair = tuple[float, float]


@dataclass(frozen=True, slots=True)
class ContactState:
    """Mean and 1-sigma of each component of the state at contact.

    ``closing`` in m/s, lateral in m and m/s, angles in deg and deg/s.
    """

    closing: Pair
    y: Pair
    z: Pair
    y_rate: Pair
    z_rate: Pair
    roll: Pair
    pitch: Pair
    yaw: Pair
    roll_rate: Pair
    pitch_rate: Pair
    yaw_rate: Pair

    def pair_of(self, quantity: Quantity) -> tuple[Pair, Pair]:
        """Give the two components whose length a quantity is."""
        if quantity is Quantity.LATERAL_OFFSET:
            return self.y, self.z
        if quantity is Quantity.LATERAL_RATE:
            return self.y_rate, self.z_rate
        if quantity is Quantity.PITCH_YAW:
            return self.pitch, self.yaw
        return self.pitch_rate, self.yaw_rate


def spread_of(state: ContactState, quantity: Quantity) -> Spread:
    """Give mean and 1-sigma of a contact quantity: of a length or size, not of its components."""
    if quantity is Quantity.CLOSING_RATE:
        return Spread(*state.closing)
    if quantity is Quantity.ROLL:
        return Spread(*size_moments(*state.roll))
    if quantity is Quantity.ROLL_RATE:
        return Spread(*size_moments(*state.roll_rate))
    first, second = state.pair_of(quantity)
    mean_square = 0.5 * (first[1] * first[1] + second[1] * second[1])
    return Spread(*length_moments(first[0], second[0], mean_square**0.5))


def chance_of(state: ContactState, quantity: Quantity, limit: ContactLimit) -> float:
    """Give the chance that a contact quantity meets its limit."""
    low, high = limit.minimum, limit.maximum
    if quantity is Quantity.CLOSING_RATE:
        return band_chance(*state.closing, low, high)
    if quantity is Quantity.ROLL:
        return size_chance(*state.roll, low, high)
    if quantity is Quantity.ROLL_RATE:
        return size_chance(*state.roll_rate, low, high)
    first, second = state.pair_of(quantity)
    return length_chance(first[0], second[0], first[1], second[1], low, high)


def predict(
    assumption: str, state: ContactState, limits: tuple[ContactLimit, ...]
) -> ContactPrediction:
    """Give the closed-form prediction at contact.

    Parameters
    ----------
    assumption : str
        Name of the assumption the state was made under.
    state : ContactState
        The Gaussian forecast.
    limits : tuple of ContactLimit
        The contact limits; the chance of all together is the product of theirs.

    Notes
    -----
    The product rule of independent events; the chances and moments themselves have their sources
    in ``chance``.
    """
    known = {limit.quantity: limit for limit in limits}
    every: float | None = 1.0 if known else None
    lines = []
    for quantity in AT_CONTACT:
        limit = known.get(quantity)
        chance = None
        if limit is not None and every is not None:
            chance = chance_of(state, quantity, limit)
            every *= chance
        low = None if limit is None else limit.minimum
        high = None if limit is None else limit.maximum
        lines.append(ContactQuantity(quantity, spread_of(state, quantity), low, high, chance))
    return ContactPrediction(
        assumption=assumption,
        quantities=tuple(lines),
        y_m=state.y[0],
        z_m=state.z[0],
        yy_m2=state.y[1] ** 2,
        yz_m2=0.0,
        zz_m2=state.z[1] ** 2,
        chance_all=every,
        calibrated=False,
    )
