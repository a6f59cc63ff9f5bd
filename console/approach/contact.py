"""Contact: when it was, what showed it, and what was measured then."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable
from dataclasses import dataclass

from console.approach.snapshot import MeasuredContact
from console.core.records import RelativeSample
from console.core.units import MICROSECOND_S
from console.envelope.limits import ContactLimit
from console.envelope.quantity import AT_CONTACT, Quantity
from console.tracking.outlook import ContactPrediction

Values = dict[Quantity, float | None]

KEPT_S = 5.0
"""A report of contact may come so late and still find the samples round it."""
KEPT = 1000
SPARE = 3
PREDICT_BELOW_M = 10.0
PREDICT_EVERY_S = 1.0
PREDICTIONS_KEPT = 8
"""A report of contact that comes late still finds one made before it."""


@dataclass(frozen=True, slots=True)
class MeasuredSample:
    """A valid sample of the source in use with its judged quantities."""

    sample: RelativeSample
    values: Values


class ContactBook:
    """Finds contact and keeps the samples round it.

    Contact is the first of two successive valid samples with range <= 0, or the first capture
    status that reports contact or soft capture, whichever is earlier. The values at contact are
    those of the valid sample nearest to range 0 among the last before contact and the first at
    or after it.
    """

    def __init__(self, contact_limits: tuple[ContactLimit, ...]) -> None:
        self._limits = contact_limits
        self.t: float | None = None
        self._recent: deque[MeasuredSample] = deque(maxlen=KEPT)
        self._predictions: deque[tuple[float, ContactPrediction]] = deque(maxlen=PREDICTIONS_KEPT)
        self._predicted_s: float | None = None

    def predict(
        self,
        sample: RelativeSample,
        engine_s: float,
        ask: Callable[[float], ContactPrediction | None],
    ) -> None:
        """Keep what is predicted at contact as of a judged sample, once a second near the port.

        The state model asks by itself, so that what is kept never depends on who looks.
        """
        if sample.range_m > PREDICT_BELOW_M or self.t is not None:
            return
        asked_s = self._predicted_s
        if asked_s is not None and engine_s - asked_s < PREDICT_EVERY_S - MICROSECOND_S:
            return
        self._predicted_s = engine_s
        prediction = ask(sample.t)
        if prediction is not None:
            self._predictions.append((sample.t, prediction))

    def predicted(self) -> tuple[float, ContactPrediction] | None:
        """Give the last prediction made before contact and its time; None before contact."""
        if self.t is None:
            return None
        made = [pair for pair in self._predictions if pair[0] < self.t]
        return made[-1] if made else None

    def take(self, measured: MeasuredSample) -> None:
        """Keep a valid sample of the source in use, as long as it may matter at contact."""
        recent = self._recent
        if self.t is not None and recent and recent[-1].sample.t >= self.t:
            return  # the first at or after contact is known, and contact can only move back
        recent.append(measured)
        while len(recent) > SPARE and recent[0].sample.t < measured.sample.t - KEPT_S:
            recent.popleft()

    def declare(self, t: float) -> bool:
        """Take a sign of contact at ``t``; False where an earlier one is known already."""
        if self.t is not None and self.t <= t:
            return False
        self.t = t
        return True

    def nearest(self) -> MeasuredSample | None:
        """Give the sample whose values stand for contact, None before any."""
        if self.t is None:
            return None
        t_contact = self.t
        before = [m for m in self._recent if m.sample.t < t_contact]
        after = [m for m in self._recent if m.sample.t >= t_contact]
        candidates = before[-1:] + after[:1]
        return min(candidates, key=lambda m: abs(m.sample.range_m), default=None)

    def measured(self) -> MeasuredContact | None:
        """Give what was measured at contact, and which contact limits it broke.

        A quantity that is unknown counts as outside: unknown is never inside.
        """
        if self.t is None:
            return None
        nearest = self.nearest()
        values: Values = {
            quantity: None if nearest is None else nearest.values.get(quantity)
            for quantity in AT_CONTACT
        }
        outside = tuple(
            limit.quantity for limit in self._limits if not _holds(limit, values[limit.quantity])
        )
        return MeasuredContact(self.t, values, outside)


def _holds(limit: ContactLimit, value: float | None) -> bool:
    return value is not None and limit.holds(value)
