"""All checks of one source against itself, and the findings they raise."""

from __future__ import annotations

import math
from typing import Final

from console.core.ids import SourceId
from console.core.records import RelativeSample
from console.envelope.limits import Level
from console.tracking.filter import RelativeFilter
from console.tracking.finding import Finding, FindingId, Standing
from console.tracking.frozen import FrozenCheck
from console.tracking.leaning import LeaningCheck
from console.tracking.noise import NoiseModel
from console.tracking.slope import LONG_S, ChannelNoise, SlopeCheck

STEP_SIGMAS: Final = 6.0
RATE_SIGMAS: Final = 5.0
SHORT_WINDOWS_S: Final = (20.0, 35.0)
LONG_SIGMAS: Final = 4.5
"""Over a minute small rate faults show: an advisory, so it may speak earlier."""
RATE_CLEAR_SIGMAS: Final = 3.5
"""A standing warning goes on standing down to this: near the threshold it would come and go, and
each time take the filter with it."""
RATE_OFF_S: Final = 5.0
JUMP_OFF_S: Final = 30.0
"""A jump is over in a moment; the finding stands this long so that it is seen and acted on."""
BEND_REST_S: Final = 60.0
"""So long after a manoeuvre, or a slowing not known well, range and its rate lean by that."""
MM_PER_M: Final = 1000.0
WARNING: Final = Level.WARNING


class SourceChecks:
    """Frozen, jump, rate and bias checks of one source.

    Parameters
    ----------
    source : SourceId
        Its name.
    """

    __slots__ = (
        "_frozen",
        "_leaning",
        "_rate_span_s",
        "_rests_until",
        "_side",
        "_slope",
        "bias",
        "frozen",
        "jump",
        "rate",
    )

    def __init__(self, source: SourceId) -> None:
        self._frozen = FrozenCheck()
        self._slope = SlopeCheck()
        self._side = {"y": SlopeCheck(), "z": SlopeCheck()}
        self._leaning = {
            "range": LeaningCheck(),
            "range rate": LeaningCheck(),
            "y": LeaningCheck(),
            "z": LeaningCheck(),
        }
        self._rests_until = -math.inf
        self._rate_span_s = 0.0
        """Over which a standing warning against the rate was seen."""
        self.frozen = Standing(FindingId.FROZEN, source)
        self.jump = Standing(FindingId.JUMP, source, JUMP_OFF_S)
        self.rate = Standing(FindingId.RATE, source, RATE_OFF_S)
        self.bias = Standing(FindingId.BIAS, source)

    def take(
        self,
        before: RelativeSample | None,
        sample: RelativeSample,
        noise: NoiseModel,
        state: RelativeFilter,
    ) -> None:
        """Take a valid sample, before the source's own filter does.

        Parameters
        ----------
        before : RelativeSample or None
            The valid sample before it.
        state : RelativeFilter
            The source's own filter as it stands after the sample before.
        """
        t, interval = sample.t, noise.interval_s
        if before is not None:
            evidence = self._frozen.take(before, sample, interval)
            self.frozen.note(t, WARNING if evidence else None, evidence)
        if self.frozen.finding is not None:
            self._slope.restart()
            return
        if self._slope.take(t, sample.range_m, sample.range_rate_mps, interval):
            self._ask_slope(t, sample, noise)
        self._watch_side("y", t, sample.y_m, sample.y_rate_mps, sample.range_m, noise)
        self._watch_side("z", t, sample.z_m, sample.z_rate_mps, sample.range_m, noise)
        if state.started:
            self._follow_signs(t, sample, interval, state)

    @property
    def all_frozen(self) -> bool:
        """Tell whether the whole sample stands still, not range alone."""
        return self.frozen.finding is not None and self._frozen.all_repeats > 0

    def _ask_slope(self, t: float, sample: RelativeSample, noise: NoiseModel) -> None:
        range_m = sample.range_m
        channel = ChannelNoise(
            noise.range.variance(range_m),
            noise.range_rate.variance(range_m),
            noise.range_rate_bias_mps,
            noise.interval_s,
        )
        step = self._slope.step(channel)
        if step is not None and abs(step.value) > STEP_SIGMAS * step.sigma:
            words = f"range steps {abs(step.value):.2f} m against its own rate"
            self.jump.note(t, Level.WARNING, f"{words} over {step.span_s:.0f} s")
            self._slope.restart()
            self.rate.note(t, None, "")
            noise.step_m += step.value
            return
        self.jump.note(t, None, "")
        warned = self.rate.level is Level.WARNING
        level, evidence = self._rate_evidence(channel, sample.range_rate_mps, warned)
        if warned and level is None and self._slope.span_s < self._rate_span_s:
            # A break in the data shows no health: the wrong rate would be taken up again.
            self.rate.keep(t)
        self.rate.note(t, level, evidence)

    def _watch_side(
        self,
        name: str,
        t: float,
        position_m: float,
        rate_mps: float | None,
        range_m: float,
        noise: NoiseModel,
    ) -> None:
        """Look for a step of a lateral channel against its own rate, where that is sent."""
        check = self._side[name]
        if rate_mps is None or not check.take(t, position_m, rate_mps, noise.interval_s):
            return
        channel = ChannelNoise(
            noise.lateral.variance(range_m),
            noise.lateral_rate.variance(range_m),
            noise.lateral_rate_bias_mps,
            noise.interval_s,
        )
        step = check.step(channel)
        if step is not None and abs(step.value) > STEP_SIGMAS * step.sigma:
            words = f"{name} steps {abs(step.value):.2f} m against its own rate"
            self.jump.note(t, Level.WARNING, f"{words} over {step.span_s:.0f} s")
            check.restart()

    def _rate_evidence(
        self, channel: ChannelNoise, rate_mps: float, warned: bool
    ) -> tuple[Level | None, str]:
        """Look for a rate that does not fit; where one has been warned of, for traces of it."""
        for window_s in (*SHORT_WINDOWS_S, LONG_S):
            slope = self._slope.slope(window_s, channel, rate_mps)
            long = window_s == LONG_S
            least = LONG_SIGMAS if long else RATE_SIGMAS
            if warned:
                least = RATE_CLEAR_SIGMAS
            if slope is None or abs(slope.value) <= least * slope.sigma:
                continue
            side = "less" if slope.value < 0.0 else "more"
            words = (
                f"range rate shows {abs(slope.value) * MM_PER_M:.0f} mm/s {side} closing "
                f"than the slope of range over {slope.span_s:.0f} s"
            )
            if long:
                return Level.ADVISORY, words
            self._rate_span_s = slope.span_s
            return Level.WARNING, words
        return None, ""

    def _follow_signs(
        self, t: float, sample: RelativeSample, interval: float, state: RelativeFilter
    ) -> None:
        dt = t - state.t
        x, y, z, leaning = state.along.axis, state.y, state.z, self._leaning
        if state.along.bends:
            self._rests_until = t + BEND_REST_S
        if t < self._rests_until:
            leaning["range"].restart(interval)
            leaning["range rate"].restart(interval)
        else:
            leaning["range"].take(sample.range_m - x.p - x.v * dt, interval)
            leaning["range rate"].take(sample.range_rate_mps - x.v, interval)
        leaning["y"].take(sample.y_m - y.p - y.v * dt, interval)
        leaning["z"].take(sample.z_m - z.p - z.v * dt, interval)
        for name, check in leaning.items():
            if check.leans:
                side = "above" if check.lean > 0.0 else "below"
                share = 50.0 * (1.0 + abs(check.lean))
                words = f"{share:.0f} % of the last {name} samples lie {side} the estimate"
                self.bias.note(t, Level.ADVISORY, words)
                return
        self.bias.note(t, None, "")

    @property
    def has_warning(self) -> bool:
        """Tell whether a warning stands."""
        return (
            self.frozen.finding is not None
            or self.jump.finding is not None
            or self.rate.level is WARNING
        )

    def findings(self) -> list[Finding]:
        """Give the findings that stand."""
        standing = (self.frozen, self.jump, self.rate, self.bias)
        return [one.finding for one in standing if one.finding is not None]
