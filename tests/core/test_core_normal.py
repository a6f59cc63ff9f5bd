"""The normal distribution's figures against the standard library's inverse."""

from __future__ import annotations

from statistics import NormalDist

import pytest

from console.core.normal import Z_95, Z_95_ONE_SIDED


def test_the_figures_are_the_distributions_own() -> None:
    """95 % between both signs of one, and below the other, which is told to three decimals."""
    assert pytest.approx(NormalDist().inv_cdf(0.975), rel=1e-12) == Z_95
    assert round(NormalDist().inv_cdf(0.95), 3) == Z_95_ONE_SIDED
