"""What is kept of one source: its filter, its range witness, its noise, its checks."""

from __future__ import annotations

from console.core.ids import SourceId
from console.core.records import RelativeSample
from console.envelope.setup import SourceNoise
from console.tracking.along import Along, RangeWitness
from console.tracking.checks import WARNING, SourceChecks
from console.tracking.contact_time import AlongNow
from console.tracking.filter import RelativeFilter
from console.tracking.final_rate import FinalRate
from console.tracking.noise import LONGEST_STEP_S, NoiseModel
from console.tracking.plan import ClosingPlan

RATE_BIAS_SHARE = 0.6
"""Share of a range rate's fixed error that is left in the estimate: range takes out the rest."""


class SourceTrack:
    """One source followed on its own.

    Parameters
    ----------
    source : SourceId
        Its name.
    declared : SourceNoise
        What the setup says of its errors.
    plan : ClosingPlan
        The law range is expected to follow.
    """

    __slots__ = (
        "_blind_to_rate",
        "checks",
        "filter",
        "is_faulty",
        "is_tainted",
        "newest",
        "noise",
        "source",
        "witness",
    )

    def __init__(self, source: SourceId, declared: SourceNoise, plan: ClosingPlan) -> None:
        self.source = source
        self.noise = NoiseModel(declared)
        self.filter = RelativeFilter(plan)
        self.witness = RangeWitness(plan)
        self.checks = SourceChecks(source)
        self.newest: RelativeSample | None = None
        """Newest valid sample."""
        self._blind_to_rate = False
        self.is_faulty = False
        """Whether a warning stands against its data."""
        self.is_tainted = False
        """Whether one has stood and it has not agreed with another source since."""

    @property
    def is_trusted(self) -> bool:
        """Tell whether it may take part in the combined estimate."""
        return not (self.is_faulty or self.is_tainted)

    @property
    def uses_range(self) -> bool:
        """False while its range stands still."""
        return self.checks.frozen.finding is None

    @property
    def uses_rate(self) -> bool:
        """False while its range rate is contradicted by the slope of its range."""
        return not self._blind_to_rate

    def take(self, sample: RelativeSample) -> None:
        """Take a valid sample that is newer than all before it.

        While the whole sample is frozen the filter coasts; while its rate is contradicted the
        filter goes on from the range witness, without the rate.
        """
        before = self.newest
        if before is not None:
            dt = sample.t - before.t
            self.noise.note_interval(dt)
            if dt <= LONGEST_STEP_S and self.filter.started:
                self._note_scatter(before, sample, dt)
        self.checks.take(before, sample, self.noise, self.filter)
        self.newest = sample
        self.is_faulty = self.checks.has_warning
        if self.is_faulty:
            self.is_tainted = True
        self._choose_rate()
        if self.checks.all_frozen:
            return
        uses_range = self.uses_range
        self.filter.take(sample, self.noise, uses_range, self.uses_rate)
        if uses_range:
            self.witness.take(sample, self.noise)

    def _choose_rate(self) -> None:
        wrong = self.checks.rate.level is WARNING
        if wrong and not self._blind_to_rate and self.witness.along is not None:
            self.witness.predict(self.filter.t)
            self.filter.along = self.witness.along.copy()
            self._blind_to_rate = True
        elif not wrong:
            self._blind_to_rate = False

    def _note_scatter(self, before: RelativeSample, now: RelativeSample, dt: float) -> None:
        """Measure the white noise by the steps from sample to sample."""
        noise, state = self.noise, self.filter
        range_m = state.along.axis.p
        step = now.range_m - before.range_m - state.along.axis.v * dt
        noise.range.note_step(step, range_m)
        step = now.range_rate_mps - before.range_rate_mps
        noise.range_rate.note_step(step, range_m)
        step = now.y_m - before.y_m - state.y.v * dt
        noise.lateral.note_step(step, range_m)
        if now.y_rate_mps is not None and before.y_rate_mps is not None:
            step = now.y_rate_mps - before.y_rate_mps
            noise.lateral_rate.note_step(step, range_m)
        step = now.pitch_deg - before.pitch_deg - state.pitch.v * dt
        noise.angle.note_step(step, range_m)
        if now.pitch_rate_dps is not None and before.pitch_rate_dps is not None:
            step = now.pitch_rate_dps - before.pitch_rate_dps
            noise.angle_rate.note_step(step, range_m)


def along_now(along: Along, noise: NoiseModel, final: FinalRate) -> AlongNow:
    """Join an axis with the fixed errors of its best source and the final rate as known."""
    x = along.axis
    return AlongNow(
        x.p,
        x.v,
        x.a,
        x.b,
        x.c,
        along.lag_mps2,
        noise.range_doubt_m,
        noise.range_rate_bias_mps * RATE_BIAS_SHARE,
        final.mean_mps,
        final.sigma_mps,
        along.push,
    )
