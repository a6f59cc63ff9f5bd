"""Conversion factors against scipy's CODATA and unit tables; errors as one line."""

from __future__ import annotations

import pytest
from scipy import constants

from console.core import units
from console.core.errors import Fault, InputError


@pytest.mark.parametrize(
    ("ours", "published"),
    [
        (units.PA_PER_TORR, constants.torr),
        (units.PA_PER_PSI, constants.psi),
        (units.KG_PER_LBM, constants.lb),
        (units.M_PER_FT, constants.foot),
        (units.GAS_CONSTANT_J_PER_MOL_K, constants.R),
        (units.KELVIN_AT_0_DEGC, constants.zero_Celsius),
        (units.RAD_PER_DEG, constants.degree),
    ],
)
def test_factors_are_the_published_ones(ours, published):
    """scipy.constants (CODATA and exact definitions) gives the same factor to 1e-12."""
    assert published == pytest.approx(ours, rel=1e-12)


def test_an_error_is_one_line_with_place_find_and_mend():
    """File, place, what was found, what is allowed; further faults are counted."""
    faults = tuple(Fault(f"line {n}", "odd", "be even") for n in range(6))
    text = str(InputError("limits.toml", faults))
    assert text.startswith("limits.toml: line 0: odd: be even (and 5 more: line 1")
    assert "\n" not in text
