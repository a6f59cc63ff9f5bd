"""The normal distribution's one figure that the project speaks by."""

from __future__ import annotations

from typing import Final

Z_95: Final = 1.959963984540054
"""Standard deviations on each side of the mean that hold 95 %."""
