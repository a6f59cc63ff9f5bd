"""Signal detection: how well exceedances are told from quiet, and how readily they are called.

Theory of operation
-------------------
Of signal trials a share H is called (hits), of noise trials a share F (false alarms). With z the
inverse of the normal distribution function,

    d' = z(H) - z(F)        sensitivity, in standard deviations
    c  = -(z(H) + z(F))/2   criterion: below 0 calls freely, above 0 with caution

(N. A. Macmillan and C. D. Creelman, *Detection Theory: A User's Guide*, 2nd ed., 2005, eqs. 1.5
and 2.1, from memory; the same in H. Stanislaw and N. Todorov, "Calculation of signal detection
theory measures", *Behavior Research Methods, Instruments, & Computers* 31(1), 1999, 137-149).
Rates of 0 and 1 have no z. The log-linear correction adds a half to each count and 1 to each
number of trials, always and not only where a rate is extreme (M. J. Hautus, "Corrections for
extreme proportions and their biasing effects on estimated values of d'", *Behavior Research
Methods, Instruments, & Computers* 27(1), 1995, 46-51).

The interval is the normal one on the variance of V. Gourevitch and E. Galanter, "A significance
test for one parameter isosensitivity functions", *Psychometrika* 32(1), 1967, 25-33:

    var d' = H(1-H)/(N_s phi(z_H)^2) + F(1-F)/(N_n phi(z_F)^2),    var c = var d'/4

with phi the normal density. It is rough for few trials and for rates near 0 and 1.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import Enum
from statistics import NormalDist

_NORMAL = NormalDist()
CONFIDENCE = 0.95


class Correction(Enum):
    """What is done about rates of 0 and 1."""

    NONE = "none"
    LOG_LINEAR = "log-linear"


@dataclass(frozen=True, slots=True)
class Trials:
    """Counts of a yes/no task: signal trials called or not, noise trials called or not."""

    hits: int
    misses: int
    false_alarms: int
    correct_rejections: int

    @property
    def signal(self) -> int:
        """How many signal trials there were."""
        return self.hits + self.misses

    @property
    def noise(self) -> int:
        """How many noise trials there were."""
        return self.false_alarms + self.correct_rejections

    def plus(self, other: Trials) -> Trials:
        """Give the counts of both together."""
        return Trials(
            self.hits + other.hits,
            self.misses + other.misses,
            self.false_alarms + other.false_alarms,
            self.correct_rejections + other.correct_rejections,
        )


@dataclass(frozen=True, slots=True)
class Detection:
    """Sensitivity and criterion with their 95 % intervals.

    Attributes
    ----------
    hit_rate, false_alarm_rate : float
        As used, so after the correction.
    d_prime, criterion : float
    d_sigma : float
        Standard error of d'; that of c is half of it.
    """

    trials: Trials
    hit_rate: float
    false_alarm_rate: float
    d_prime: float
    criterion: float
    d_sigma: float

    @property
    def d_interval(self) -> tuple[float, float]:
        """95 % interval of d'."""
        return _interval(self.d_prime, self.d_sigma)

    @property
    def c_interval(self) -> tuple[float, float]:
        """95 % interval of c."""
        return _interval(self.criterion, self.d_sigma / 2.0)


def detection(trials: Trials, correction: Correction = Correction.LOG_LINEAR) -> Detection | None:
    """Give d' and c of a yes/no task.

    Returns
    -------
    Detection or None
        None without a signal trial or without a noise trial, and, uncorrected, where a rate is 0
        or 1: then nothing can be said.
    """
    if not trials.signal or not trials.noise:
        return None
    add = 0.5 if correction is Correction.LOG_LINEAR else 0.0
    signal, noise = trials.signal + 2.0 * add, trials.noise + 2.0 * add
    hit_rate = (trials.hits + add) / signal
    false_rate = (trials.false_alarms + add) / noise
    if not (0.0 < hit_rate < 1.0 and 0.0 < false_rate < 1.0):
        return None
    z_hit, z_false = _NORMAL.inv_cdf(hit_rate), _NORMAL.inv_cdf(false_rate)
    variance = _z_variance(hit_rate, z_hit, signal) + _z_variance(false_rate, z_false, noise)
    return Detection(
        trials=trials,
        hit_rate=hit_rate,
        false_alarm_rate=false_rate,
        d_prime=z_hit - z_false,
        criterion=-0.5 * (z_hit + z_false),
        d_sigma=math.sqrt(variance),
    )


def _z_variance(rate: float, z: float, count: float) -> float:
    return rate * (1.0 - rate) / (count * _NORMAL.pdf(z) ** 2)


def _interval(value: float, sigma: float) -> tuple[float, float]:
    half = _NORMAL.inv_cdf(0.5 + CONFIDENCE / 2.0) * sigma
    return value - half, value + half
