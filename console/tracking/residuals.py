"""Residuals of past passes: what was left over between a forecast and the contact that came.

"The share of archived passes whose leftover error, added to today's forecast, meets every limit"
needs no assumption about the errors' shape, keeps the ties between quantities, and takes the
vector-sum conditions as they stand. Two things make it calibrated: forecasts are shrunk toward
zero by a factor learned from the archive (else the sensor's error is counted twice), and lateral
leftovers are scaled by how much the present vehicle itself has scattered.

An archive is handed in as bytes; where it comes from is the caller's business.
"""

from __future__ import annotations

import json
import math
from bisect import bisect_left
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Final

import msgspec
import numpy as np
from numpy.typing import NDArray

from console.core.errors import InputError
from console.tracking.contact_set import COLUMNS

Array = NDArray[np.float64]

FORMAT: Final = 1
PASSES_AT_LEAST: Final = 20
Weights = tuple[float, float, float]


class Features(msgspec.Struct, frozen=True, gc=False):
    """What a forecast is made from: of each held position its mean, deviation and rate now.

    Attributes
    ----------
    closing_mps : float
        Closing rate expected at contact.
    y, z, roll, pitch, yaw : tuple of float
        Running mean, present value minus it, present rate; m and m/s, or deg and deg/s.
    offset_square, rate_square : float
        Mean square scatter of lateral position about its mean, and of lateral rate, per axis.
    """

    range_m: float
    closing_mps: float
    y: Weights
    z: Weights
    roll: Weights
    pitch: Weights
    yaw: Weights
    offset_square: float
    rate_square: float


def weighted(weights: Weights, parts: Weights) -> float:
    """Give the forecast of one position from its three parts."""
    return weights[0] * parts[0] + weights[1] * parts[1] + weights[2] * parts[2]


@dataclass(frozen=True, slots=True)
class RangeBin:
    """Leftovers of all archived passes at one range.

    Attributes
    ----------
    range_m : float
        Range of the forecast.
    lateral, angle : tuple of float
        Weights of running mean, deviation and rate in the forecast of a lateral position or of
        an angle at contact. All under 1: they shrink.
    offset_scale, rate_scale : tuple of float
        c0 and c1 of the scatter expected at contact, ``sd^2 = c0 + c1 * own^2``, from the
        vehicle's own scatter of lateral position and of lateral rate.
    rows : ndarray, shape (n, 11)
        Columns as ``COLUMNS``: contact minus forecast; lateral columns divided by sd.
    """

    range_m: float
    lateral: Weights
    angle: Weights
    offset_scale: tuple[float, float]
    rate_scale: tuple[float, float]
    rows: Array

    def offset_sd(self, own_square: float) -> float:
        """Give the scatter of lateral position expected at contact, m."""
        return math.sqrt(self.offset_scale[0] + self.offset_scale[1] * own_square)

    def rate_sd(self, own_square: float) -> float:
        """Give the scatter of lateral rate expected at contact, m/s."""
        return math.sqrt(self.rate_scale[0] + self.rate_scale[1] * own_square)


@dataclass(frozen=True, slots=True)
class ResidualArchive:
    """Range bins, nearest first.

    Attributes
    ----------
    passes : int
        How many passes it was made from.
    made_by : str
        How it was made, for the reader.
    """

    passes: int
    made_by: str
    bins: tuple[RangeBin, ...]
    _edges_m: tuple[float, ...] = field(init=False, repr=False)
    """Where one bin gives way to the next: the geometric mean of their ranges."""

    def __post_init__(self) -> None:
        ranges = [one.range_m for one in self.bins]
        edges = tuple(math.sqrt(near * far) for near, far in pairwise(ranges))
        object.__setattr__(self, "_edges_m", edges)

    @property
    def is_enough(self) -> bool:
        """Tell whether there are passes enough to speak of chances (20)."""
        return self.passes >= PASSES_AT_LEAST and bool(self.bins)

    def bin_for(self, range_m: float) -> RangeBin:
        """Give the bin nearest to a range by ratio."""
        return self.bins[bisect_left(self._edges_m, range_m)]

    @classmethod
    def parse(cls, data: bytes, name: str) -> ResidualArchive:
        """Read an archive.

        Raises
        ------
        InputError
            The bytes are no archive of this format.
        """
        try:
            whole = json.loads(data)
        except (ValueError, UnicodeDecodeError) as error:
            raise InputError.of(name, "", f"not JSON ({error})", "rebuild the archive") from error
        if not isinstance(whole, dict) or whole.get("format") != FORMAT:
            raise InputError.of(name, "format", "missing or unknown", f"must be {FORMAT}")
        try:
            bins = tuple(_bin(one) for one in whole["bins"])
            passes, made_by = int(whole["passes"]), str(whole["made_by"])
        except (KeyError, TypeError, ValueError) as error:
            raise InputError.of(name, "bins", f"malformed ({error})", "rebuild it") from error
        return cls(passes, made_by, tuple(sorted(bins, key=lambda one: one.range_m)))

    def to_bytes(self) -> bytes:
        """Write the archive, three figures a number."""
        whole = {
            "format": FORMAT,
            "made_by": self.made_by,
            "passes": self.passes,
            "columns": list(COLUMNS),
            "bins": [
                {
                    "range_m": one.range_m,
                    "lateral": [_short(v) for v in one.lateral],
                    "angle": [_short(v) for v in one.angle],
                    "offset_scale": [_short(v) for v in one.offset_scale],
                    "rate_scale": [_short(v) for v in one.rate_scale],
                    "rows": [[_short(v) for v in row] for row in one.rows.tolist()],
                }
                for one in self.bins
            ],
        }
        return json.dumps(whole, separators=(",", ":")).encode() + b"\n"


def _short(value: float) -> float:
    return float(f"{value:.3g}")


def _bin(one: dict[str, object]) -> RangeBin:
    rows = np.asarray(one["rows"], dtype=np.float64)
    if rows.ndim != 2 or rows.shape[1] != len(COLUMNS) or not np.isfinite(rows).all():
        raise ValueError(f"rows must be finite, {len(COLUMNS)} columns each")
    return RangeBin(
        range_m=_positive(one["range_m"]),
        lateral=_weights(one["lateral"]),
        angle=_weights(one["angle"]),
        offset_scale=_pair(one["offset_scale"]),
        rate_scale=_pair(one["rate_scale"]),
        rows=rows,
    )


def _number(value: object) -> float:
    if isinstance(value, bool) or not isinstance(value, (int, float)) or not math.isfinite(value):
        raise ValueError(f"{value!r} is no number")
    return float(value)


def _positive(value: object) -> float:
    number = _number(value)
    if number <= 0.0:
        raise ValueError(f"{value!r} must be > 0")
    return number


def _weights(value: object) -> Weights:
    if not isinstance(value, list) or len(value) != 3:
        raise ValueError(f"{value!r} must be three numbers")
    return _number(value[0]), _number(value[1]), _number(value[2])


def _pair(value: object) -> tuple[float, float]:
    if not isinstance(value, list) or len(value) != 2:
        raise ValueError(f"{value!r} must be two numbers")
    first, second = _positive(value[0]), _number(value[1])
    if second < 0.0:
        raise ValueError(f"{value!r} must not be negative")
    return first, second
