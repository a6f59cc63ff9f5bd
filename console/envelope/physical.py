"""Bounds of quantities that no file needs to leave, generous on purpose.

They say what a number can be at all, not what it should be: beyond them a value is a slip of the
pen, and the arithmetic behind it overflows, divides by nothing or never ends.
"""

from __future__ import annotations

from console.envelope.strict_value import Bounds

DURATION_S = Bounds(above=0.0, most=86_400.0)
WAIT_S = Bounds(least=0.0, most=86_400.0)
PLACE = Bounds(least=-100_000.0, most=100_000.0)
"""Of a place, m (no sample is received from farther), a curve, or any other signed value."""
SIZE = Bounds(least=0.0, most=100_000.0)
DISTANCE_M = Bounds(above=0.0, most=100_000.0)
SPEED_MPS = Bounds(least=0.0001, most=1000.0)
ACCELERATION_MPS2 = Bounds(least=0.000_001, most=1000.0)
MULTIPLE = Bounds(least=0.0001, most=10_000.0)
"""Of what is multiplied where nothing at all would divide by zero."""
SIGMA = Bounds(least=0.000_001, most=10_000.0)
