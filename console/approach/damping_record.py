"""One size of relative motion after soft capture: its bounded record, fit and verdict."""

from __future__ import annotations

import math
from dataclasses import dataclass

from console.approach.capture_now import NOT_KNOWN, DampingChannel, DampingVerdict, Span
from console.core.normal import Z_95
from console.core.units import MICROSECOND_S
from console.motion.damping import LEAST_DECAYS, LEAST_SNR
from console.motion.decay import LEAST_SAMPLES, Crossing, SizeDecay, fit_decay

LEAST_SEEN_S = 5.0
"""A shorter record, or one of less than a period, may be any part of a swing: no fit of it is
believed, however small its own doubt."""
SAMPLES_KEPT = 600
"""More are thinned to one of each two: a fit of so many takes a few milliseconds."""
REFIT_S = 1.0
QUIET_S = 5.0
"""Motion that stayed below the level so long has settled, as far as no fit says better."""
LONG_QUIET_S = 15.0
"""So long below the level is settled whatever a fit says."""
STEADY_S = 30.0
"""Before so much is seen motion is not called not settling."""
LONGEST_S = 600.0
"""Motion that would take longer to settle is not settling."""
BEYOND_KEPT = 10_000
"""Sizes held back until it is known whether the motion came again."""
AGAIN_COUNT, AGAIN_S = 3, 1.0
AGAIN_SIGMA = 4.0
AGAIN_FACTOR = 1.5
"""Moving again: so many sizes in a row, over so long, that are larger than the envelope by so many
1-sigma of noise, or, once settled, than so many times the level."""


@dataclass(frozen=True, slots=True)
class _Judged:
    verdict: DampingVerdict
    reason: str = ""


class DampingRecord:
    """Sizes since soft capture, or since the motion came again.

    Parameters
    ----------
    unit : str
        ``m/s`` or ``deg/s``.
    level : float
        Motion below it counts as settled.
    """

    def __init__(self, unit: str, level: float) -> None:
        self.unit = unit
        self.level = level
        self._t: list[float] = []
        self._size: list[float] = []
        self._stride = 1
        self._taken = 0
        self._fit: SizeDecay | None = None
        self._fitted_t: float | None = None
        self._quiet_since: float | None = None
        self._beyond: list[tuple[float, float]] = []
        self._came_again = False
        self._judged = _Judged(DampingVerdict.UNDECIDED, "no reading yet")

    @property
    def is_empty(self) -> bool:
        """Whether nothing was ever taken."""
        return not self._t

    @property
    def verdict(self) -> DampingVerdict:
        """What the record says."""
        return self._judged.verdict

    @property
    def reason(self) -> str:
        """Why, where the verdict needs a reason."""
        return self._judged.reason

    def take(self, t: float, size: float) -> None:
        """Take a size at a time later than all before; others are left out."""
        newest_t = self._beyond[-1][0] if self._beyond else self._t[-1] if self._t else None
        if newest_t is not None and t <= newest_t:
            return
        self._follow_quiet(t, size)
        if size > self._most(t):
            # held back from the record until it is known whether the motion came again
            if len(self._beyond) >= BEYOND_KEPT:
                self._beyond.pop()  # far more than a second ever brings: the newest stands for it
            self._beyond.append((t, size))
            lasts_s = t - self._beyond[0][0]
            if len(self._beyond) >= AGAIN_COUNT and lasts_s >= AGAIN_S - MICROSECOND_S:
                self._begin_again()
            return
        for held in self._beyond:
            self._keep(*held)
        self._beyond = []
        self._keep(t, size)

    def _keep(self, t: float, size: float) -> None:
        if self._taken % self._stride == _place(self._taken // self._stride, self._stride):
            self._t.append(t)
            self._size.append(size)
        self._taken += 1
        if len(self._t) >= SAMPLES_KEPT:
            kept = [2 * i + _place(i, 2) for i in range(len(self._t) // 2)]
            self._t = [self._t[i] for i in kept]
            self._size = [self._size[i] for i in kept]
            self._stride *= 2

    def _follow_quiet(self, t: float, size: float) -> None:
        if size >= self.level:
            self._quiet_since = None
        elif self._quiet_since is None:
            self._quiet_since = t

    def _most(self, t: float) -> float:
        """Give the largest size that the motion as it is known may have."""
        fit = self._fit
        if self.verdict is DampingVerdict.SETTLED:
            noise = 0.0 if fit is None else fit.noise
            return AGAIN_FACTOR * self.level + AGAIN_SIGMA * noise
        if fit is not None and self._is_usable(fit):
            most = fit.envelope(t - self._t[0]) + AGAIN_SIGMA * fit.noise
            return max(most, self.level)
        return math.inf

    def _begin_again(self) -> None:
        self._t, self._size = [], []
        self._stride, self._taken = 1, 0
        self._fit = self._fitted_t = None
        self._came_again = True
        for held in self._beyond:
            self._keep(*held)
        self._beyond = []

    @property
    def is_due(self) -> bool:
        """Whether there is something new to fit, and the last fit is old enough."""
        if len(self._t) < LEAST_SAMPLES:
            return False
        fitted_t = self._fitted_t
        return fitted_t is None or self._t[-1] - fitted_t >= REFIT_S - MICROSECOND_S

    def refit(self) -> None:
        """Fit the record anew."""
        self._fitted_t = self._t[-1]
        self._fit = fit_decay([t - self._t[0] for t in self._t], self._size, self._fit)

    def judge(self) -> None:
        """Work the verdict out from the record and its fit.

        Settled motion stays settled until it moves again, which begins the record anew.
        """
        if not self._t or (self.verdict is DampingVerdict.SETTLED and not self._came_again):
            return
        now_t = self._t[-1]
        fit = self._fit if self._fit is not None and self._is_usable(self._fit) else None
        quiet_s = 0.0 if self._quiet_since is None else now_t - self._quiet_since
        is_quiet = self._quiet_since is not None and quiet_s >= (
            QUIET_S if fit is None else LONG_QUIET_S
        )
        if is_quiet:
            self._judged = _Judged(DampingVerdict.SETTLED)
        elif fit is not None:
            self._judged = self._by_fit(fit, now_t - self._t[0])
        else:
            self._judged = self._without_fit(now_t - self._t[0])
        if self._judged.verdict in (DampingVerdict.SETTLED, DampingVerdict.SETTLING):
            self._came_again = False

    def _by_fit(self, fit: SizeDecay, now_s: float) -> _Judged:
        crossing = fit.falls_to(self.level)
        if crossing.high_s is not None and crossing.high_s <= now_s:
            loudest = max(s for t, s in zip(self._t, self._size, strict=True)
                          if t > self._t[-1] - QUIET_S)  # fmt: skip
            if loudest <= self.level + AGAIN_SIGMA * fit.noise:
                return _Judged(DampingVerdict.SETTLED)
        if crossing.best_s is None or crossing.best_s - now_s > LONGEST_S:
            return _Judged(DampingVerdict.NOT_SETTLING, f"over {LONGEST_S:.0f} s to go")
        return _Judged(DampingVerdict.SETTLING)

    def _without_fit(self, seen_s: float) -> _Judged:
        fit = self._fit
        if self._came_again:
            return _Judged(DampingVerdict.NOT_SETTLING, "moves again")
        if fit is None:
            return _Judged(DampingVerdict.UNDECIDED, f"{len(self._t)} samples, too few")
        if fit.snr < LEAST_SNR:
            ratio = f"signal {fit.snr:.1f} times its noise"
            return _Judged(DampingVerdict.UNDECIDED, f"{ratio}, needs {LEAST_SNR:.0f}")
        if seen_s >= STEADY_S and self._is_surely_slow(fit):
            return _Judged(DampingVerdict.NOT_SETTLING, f"not dying down in {seen_s:.0f} s")
        decay_s = None if fit.decays_seen >= LEAST_DECAYS else fit.decay_s().best_s
        of = "of a decay time not yet known" if decay_s is None else f"of about {decay_s:.0f} s"
        return _Judged(DampingVerdict.UNDECIDED, f"seen {seen_s:.0f} s {of}")

    def _is_surely_slow(self, fit: SizeDecay) -> bool:
        fastest = fit.rate_per_s + Z_95 * fit.rate_sigma_per_s
        return fastest * LONGEST_S < math.log(max(fit.amplitude / self.level, 1.0))

    @staticmethod
    def _is_usable(fit: SizeDecay) -> bool:
        least_s = LEAST_SEEN_S if fit.period_s is None else max(LEAST_SEEN_S, fit.period_s)
        return fit.snr >= LEAST_SNR and fit.decays_seen >= LEAST_DECAYS and fit.seen_s >= least_s

    def picture(self) -> DampingChannel:
        """Give the record as the snapshot shows it."""
        verdict, reason = self._judged.verdict, self._judged.reason
        fit = self._fit
        if fit is None or not self._is_usable(fit):
            return DampingChannel(
                self.unit,
                verdict,
                reason,
                self.level,
                None,
                None,
                NOT_KNOWN,
                None,
                None,
                NOT_KNOWN,
            )
        first_t = self._t[0]
        crossing = fit.falls_to(self.level)
        return DampingChannel(
            unit=self.unit,
            verdict=verdict,
            reason=reason,
            level=self.level,
            t_first=first_t,
            amplitude=fit.amplitude,
            decay_s=_span(fit.decay_s(), 0.0),
            period_s=fit.period_s,
            noise=fit.noise,
            t_settles=_span(crossing, first_t),
        )


def _place(group: int, size: int) -> int:
    """Choose the first or the last of a group, never in step with any period.

    Even thinning would show a swing at another period; the Thue-Morse sequence repeats nothing.
    """
    return (size - 1) * (group.bit_count() & 1)


def _span(crossing: Crossing, origin: float) -> Span:
    best, low, high = crossing.best_s, crossing.low_s, crossing.high_s
    return Span(
        None if best is None else origin + best,
        None if low is None else origin + low,
        None if high is None else origin + high,
    )
