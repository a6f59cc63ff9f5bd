"""The limits file as values: what is judged, against which curve, with which delays.

Reading and checking TOML is ``envelope.reading``; nothing here can be malformed.
"""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass
from enum import IntEnum, StrEnum
from typing import TYPE_CHECKING, NamedTuple, TypeAlias, overload

from console.core.ids import LimitId
from console.envelope.quantity import Quantity

if TYPE_CHECKING:  # the live path itself needs no arrays
    import numpy as np
    from numpy.typing import NDArray

    Floats: TypeAlias = NDArray[np.float64]


class Level(IntEnum):
    """How bad an exceedance is; the worst of several is their ``max``."""

    ADVISORY = 0
    CAUTION = 1
    WARNING = 2

    @property
    def word(self) -> str:
        """Its name in files and on the screen, in lower case."""
        return self.name.lower()


class Allow(StrEnum):
    """On which side of its curve a value is allowed."""

    BELOW = "below"
    ABOVE = "above"


class Basis(StrEnum):
    """What a limit judges: the sample's own value, or the estimator's."""

    MEASURED = "measured"
    ESTIMATED = "estimated"


@overload
def interpolate(low: float, rise: float, r0: float, span: float, r: float) -> float: ...
@overload
def interpolate(low: Floats, rise: Floats, r0: Floats, span: Floats, r: Floats) -> Floats: ...
def interpolate(
    low: float | Floats,
    rise: float | Floats,
    r0: float | Floats,
    span: float | Floats,
    r: float | Floats,
) -> float | Floats:
    """Give L0 + (L1-L0)*(r-r0)/(r1-r0), in that order of operations.

    The only place where a curve is evaluated: floats and arrays come here alike, so that every
    judge agrees to the last bit.

    Parameters
    ----------
    low, rise : float or ndarray
        L0 and L1 - L0, unit of the quantity.
    r0, span : float or ndarray
        r0 and r1 - r0, m.
    r : float or ndarray
        Range, m.
    """
    return low + rise * (r - r0) / span


class Segment(NamedTuple):
    """A straight piece of a curve, ready to be evaluated; it holds for r0 <= range < r1."""

    r0: float
    r1: float
    low: float
    rise: float
    span: float

    def at(self, range_m: float) -> float:
        """Give the curve's value at a range of this piece."""
        r0, _, low, rise, span = self
        return interpolate(low, rise, r0, span, range_m)


@dataclass(frozen=True, slots=True)
class Curve:
    """A piecewise linear curve over range.

    Attributes
    ----------
    ranges_m : tuple of float
        Strictly increasing, at least one.
    values : tuple of float
        Same length, unit of the quantity.
    """

    ranges_m: tuple[float, ...]
    values: tuple[float, ...]

    def segment(self, range_m: float) -> Segment | None:
        """Give the piece a range lies on, or None outside the first and last range.

        A range on a point takes the piece that starts there, except the last point, which ends
        its piece. NaN gives None. A curve of one point is a piece of no length.
        """
        ranges = self.ranges_m
        if not ranges[0] <= range_m <= ranges[-1]:
            return None
        return self.piece(min(bisect_right(ranges, range_m), max(len(ranges) - 1, 1)) - 1)

    def pieces(self) -> tuple[Segment, ...]:
        """Give all straight pieces, from the least range outward."""
        return tuple(self.piece(i) for i in range(max(len(self.ranges_m) - 1, 1)))

    def piece(self, i: int) -> Segment:
        """Give the piece that starts at point ``i``."""
        ranges, values = self.ranges_m, self.values
        if len(ranges) == 1:
            return Segment(ranges[0], ranges[0], values[0], 0.0, 1.0)
        r0, r1 = ranges[i], ranges[i + 1]
        return Segment(r0, r1, values[i], values[i + 1] - values[i], r1 - r0)

    def at(self, range_m: float) -> float | None:
        """Give the curve's value at a range, or None outside its first and last range."""
        piece = self.segment(range_m)
        return None if piece is None else piece.at(range_m)


@dataclass(frozen=True, slots=True)
class Limit:
    """One quantity's allowed region as a curve over range, and how an exceedance lives."""

    id: LimitId
    quantity: Quantity
    basis: Basis
    level: Level
    allow: Allow
    curve: Curve
    deadband: float
    on_delay_s: float
    off_delay_s: float
    action: str = ""
    never_shelve: bool = False


@dataclass(frozen=True, slots=True)
class ContactLimit:
    """The band a quantity must lie in at contact; an open side is None."""

    quantity: Quantity
    minimum: float | None
    maximum: float | None

    def holds(self, value: float) -> bool:
        """Tell whether a value is inside the band, its ends included (NaN is not)."""
        return (self.minimum is None or value >= self.minimum) and (
            self.maximum is None or value <= self.maximum
        )


@dataclass(frozen=True, slots=True)
class HandsOff:
    """The hands-off point and what a stop call costs."""

    range_m: float
    link_delay_s: float
    reaction_s: float
    braking_mps2: float


@dataclass(frozen=True, slots=True)
class GlideSlope:
    """The planned closing rate over range.

    The outer end of the innermost segment is the knee, the value at range 0 the planned final
    rate.
    """

    curve: Curve

    @property
    def knee_m(self) -> float:
        """Range of the knee, m."""
        ranges = self.curve.ranges_m
        return ranges[1] if len(ranges) > 1 else ranges[0]

    @property
    def final_rate_mps(self) -> float:
        """Planned closing rate at contact, m/s."""
        value = self.curve.at(0.0)
        return self.curve.values[0] if value is None else value


@dataclass(frozen=True, slots=True)
class DataRules:
    """Ages at which data counts as stale and as lost."""

    stale_after_s: float = 1.0
    lost_after_s: float = 5.0


@dataclass(frozen=True, slots=True)
class LimitsFile:
    """A limits file that was read whole and found right.

    Attributes
    ----------
    sha256 : str
        Of the file's bytes, lower-case hex.
    text : str
        The file's text, kept for recordings and reports.
    """

    title: str
    revision: int
    author: str
    reason: str
    hands_off: HandsOff
    glide_slope: GlideSlope
    marks_m: tuple[float, ...]
    data: DataRules
    limits: tuple[Limit, ...]
    contact_limits: tuple[ContactLimit, ...]
    sha256: str
    text: str
