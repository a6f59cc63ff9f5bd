"""The normal distribution's figures that the project speaks by."""

from __future__ import annotations

from typing import Final

Z_95: Final = 1.959963984540054
"""Standard deviations on each side of the mean that hold 95 %."""
Z_95_ONE_SIDED: Final = 1.645
"""Standard deviations from the mean to where 95 % lie on one side."""
