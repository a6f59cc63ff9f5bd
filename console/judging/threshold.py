"""The comparisons that judging is made of, each in one place.

They are written with operators alone, so that the judge of single samples hands in floats and
the judge of whole passes arrays, and both get the same answer to the last bit.

A value that must stay *above* its limit is judged in the mirror: value and limit change sign, and
the rules for *below* apply. Changing a sign is exact, so nothing is lost by it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, TypeAlias, overload

from console.core.units import MICROSECOND_S

if TYPE_CHECKING:  # the live path itself needs no arrays
    import numpy as np
    from numpy.typing import NDArray

    Floats: TypeAlias = NDArray[np.float64]
    Flags: TypeAlias = NDArray[np.bool_]


@overload
def is_violating(value: float, limit: float) -> bool: ...
@overload
def is_violating(value: Floats, limit: Floats) -> Flags: ...
def is_violating(value: float | Floats, limit: float | Floats) -> bool | Flags:
    """Tell whether a value is past its limit; on the limit it is not, and NaN never is."""
    return value > limit


@overload
def is_clearing(value: float, limit: float, deadband: float) -> bool: ...
@overload
def is_clearing(value: Floats, limit: Floats, deadband: float) -> Flags: ...
def is_clearing(value: float | Floats, limit: float | Floats, deadband: float) -> bool | Flags:
    """Tell whether a value is inside its limit by the deadband or more; NaN never is."""
    return value <= limit - deadband


@overload
def has_lasted(elapsed_s: float, delay_s: float) -> bool: ...
@overload
def has_lasted(elapsed_s: Floats, delay_s: float) -> Flags: ...
def has_lasted(elapsed_s: float | Floats, delay_s: float) -> bool | Flags:
    """Tell whether a delay is reached; a microsecond short of it counts as reached."""
    return elapsed_s >= delay_s - MICROSECOND_S


@overload
def is_longer(step_s: float, allowed_s: float) -> bool: ...
@overload
def is_longer(step_s: Floats, allowed_s: float) -> Flags: ...
def is_longer(step_s: float | Floats, allowed_s: float) -> bool | Flags:
    """Tell whether a time step or an age exceeds what is allowed by more than a microsecond."""
    return step_s > allowed_s + MICROSECOND_S
