"""Three-vectors as plain tuples: the few operations light and glare need."""

from __future__ import annotations

import math
from typing import TypeAlias

Vector: TypeAlias = tuple[float, float, float]


def dot(a: Vector, b: Vector) -> float:
    """Give the scalar product."""
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2]


def cross(a: Vector, b: Vector) -> Vector:
    """Give the vector product."""
    return (
        a[1] * b[2] - a[2] * b[1],
        a[2] * b[0] - a[0] * b[2],
        a[0] * b[1] - a[1] * b[0],
    )


def minus(a: Vector, b: Vector) -> Vector:
    """Give a - b."""
    return a[0] - b[0], a[1] - b[1], a[2] - b[2]


def length(a: Vector) -> float:
    """Give the length."""
    return math.sqrt(dot(a, a))


def unit(a: Vector) -> Vector:
    """Give the vector of length 1 in the same direction.

    Raises
    ------
    ZeroDivisionError
        The vector has length zero: it has no direction.
    """
    size = length(a)
    return a[0] / size, a[1] / size, a[2] / size


def angle_rad(a: Vector, b: Vector) -> float:
    """Give the angle between two vectors, 0 to pi; exact also where they nearly align."""
    return math.atan2(length(cross(a, b)), dot(a, b))
