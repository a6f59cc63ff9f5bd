"""How sure a share is that was counted over passes: intervals, and how many passes are needed.

The pass is the unit, never the sample: samples of one pass hang together.
"""

from __future__ import annotations

import math
from statistics import NormalDist
from typing import NamedTuple

from console.core.errors import UsageError


class Interval(NamedTuple):
    """Lower and upper bound of a share."""

    low: float
    high: float


def wilson(k: int, n: int, confidence: float = 0.95) -> Interval:
    """Give the score interval of a share, the one to compare by.

    Parameters
    ----------
    k, n : int
        Passes in which it was so, and passes looked at.
    confidence : float
        Two-sided, between 0 and 1.

    Returns
    -------
    Interval
        From 0 to 1 where ``n`` is 0: then nothing is known.

    Raises
    ------
    UsageError
        ``k`` is not between 0 and ``n``, or the confidence is not between 0 and 1.

    Notes
    -----
    (p + z²/2n ± z sqrt(p(1-p)/n + z²/4n²)) / (1 + z²/n): E. B. Wilson, "Probable Inference, the
    Law of Succession, and Statistical Inference", JASA 22, 1927; R. G. Newcombe, "Two-sided
    Confidence Intervals for the Single Proportion", Statistics in Medicine 17, 1998, method 3.
    """
    _check(k, n, confidence)
    if n == 0:
        return Interval(0.0, 1.0)
    z = _z(confidence)
    p = k / n
    middle = p + z * z / (2 * n)
    half = z * math.sqrt(p * (1.0 - p) / n + z * z / (4.0 * n * n))
    whole = 1.0 + z * z / n
    # rounding must not leave the certain ends a hair inside
    low = 0.0 if k == 0 else max((middle - half) / whole, 0.0)
    high = 1.0 if k == n else min((middle + half) / whole, 1.0)
    return Interval(low, high)


def exact(k: int, n: int, confidence: float = 0.95) -> Interval:
    """Give the exact binomial interval of a share, the one to claim by: never too narrow.

    Parameters, what is given for no passes, and errors are as for :func:`wilson`.

    Notes
    -----
    Beta quantiles: C. J. Clopper and E. S. Pearson, "The Use of Confidence or Fiducial Limits
    Illustrated in the Case of the Binomial", Biometrika 26, 1934.
    """
    _check(k, n, confidence)
    if n == 0:
        return Interval(0.0, 1.0)
    from scipy.special import betaincinv

    tail = 0.5 * (1.0 - confidence)
    low = 0.0 if k == 0 else float(betaincinv(k, n - k + 1, tail))
    high = 1.0 if k == n else float(betaincinv(k + 1, n - k, 1.0 - tail))
    return Interval(low, high)


def runs_needed(chance: float, confidence: float = 0.95, failures: int = 0) -> int:
    """Give how many runs show that something happens with less than a chance.

    Parameters
    ----------
    chance : float
        What its true chance is to be shown to lie below, between 0 and 1.
    confidence : float
        One-sided, between 0 and 1.
    failures : int
        In how many of the runs it may happen all the same.

    Notes
    -----
    The least n with BinomCDF(failures; n, chance) <= 1 - confidence; without failures
    n = ln(1-C)/ln(1-p), rounded up (S. S. Wilks, "Determination of Sample Sizes for Setting
    Tolerance Limits", Annals of Mathematical Statistics 12, 1941: 59 for 95 %/95 %).
    """
    _check_share("chance", chance)
    _check_share("confidence", confidence)
    if failures < 0:
        raise UsageError(f"failures must not be negative, found {failures}")
    if failures == 0:
        least = max(math.ceil(math.log1p(-confidence) / math.log1p(-chance)) - 1, 1)
        while (1.0 - chance) ** least > (1.0 - confidence) * (1.0 + 1e-12):
            least += 1
        return least
    from scipy.special import bdtr

    low, high = failures, max(2 * failures, 2)
    while bdtr(failures, high, chance) > 1.0 - confidence:
        low, high = high, 2 * high
    while high - low > 1:
        middle = (low + high) // 2
        if bdtr(failures, middle, chance) > 1.0 - confidence:
            low = middle
        else:
            high = middle
    return high


def runs_for_width(half_width: float, confidence: float = 0.95, share: float = 0.5) -> int:
    """Give how many runs let a share be told to within plus or minus a half width.

    Parameters
    ----------
    half_width : float
        Half the width wanted, between 0 and 1.
    confidence : float
        Two-sided, between 0 and 1.
    share : float
        What the share is thought to be; one half asks for most.

    Notes
    -----
    n = z² p(1-p)/d², rounded up (W. G. Cochran, *Sampling Techniques*, 3rd ed., 1977, section
    4.4: 385 for 5 points at 95 %; from memory).
    """
    _check_share("half width", half_width)
    _check_share("confidence", confidence)
    if not 0.0 <= share <= 1.0:
        raise UsageError(f"share must lie between 0 and 1, found {share:g}")
    z = _z(confidence)
    return max(math.ceil(z * z * share * (1.0 - share) / (half_width * half_width)), 1)


def _z(confidence: float) -> float:
    return NormalDist().inv_cdf(0.5 + 0.5 * confidence)


def _check(k: int, n: int, confidence: float) -> None:
    if not 0 <= k <= n:
        raise UsageError(f"a count must lie between 0 and {n}, found {k}")
    _check_share("confidence", confidence)


def _check_share(name: str, value: float) -> None:
    if not 0.0 < value < 1.0:
        raise UsageError(f"{name} must lie between 0 and 1, both excluded, found {value:g}")
