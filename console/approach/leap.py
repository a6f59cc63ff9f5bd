"""A single time far ahead: believed only when the next sample of its source bears it out.

On a live link a sample older than the newest one judged is not judged. One wrong time, an hour
ahead, would so take its source out for an hour. As with contact, one sample alone declares
nothing: a leap of a source's clock against the time of receipt is believed at the second sample
that goes on from it. Until then the one that leapt counts as not valid.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

import msgspec

from console.core.ids import SourceId
from console.core.records import RelativeSample

LEAP_S = 10.0
"""A source's clock so much further on than the time of receipt has leapt; a delay never makes it
seem so."""


@dataclass(slots=True)
class _Clock:
    most_s: float
    """Source clock minus engine clock, the most that was believed: a queue that empties after a
    stall makes it less for a while, and what then comes in time has not leapt."""
    leapt_s: float | None = None
    """The same at a sample that leapt and is not yet borne out."""


class LeapBook:
    """Follows each source's clock against the time of receipt.

    It is asked for the sources that are followed, whose number the roll bounds.

    Attributes
    ----------
    refused : Counter
        By source, samples whose time leapt and was not borne out when they came.
    """

    def __init__(self) -> None:
        self.refused: Counter[SourceId] = Counter()
        self._clocks: dict[SourceId, _Clock] = {}

    def checked(self, sample: RelativeSample, engine_s: float) -> RelativeSample:
        """Give the sample, made not valid where its time has leapt ahead by itself.

        Parameters
        ----------
        sample : RelativeSample
        engine_s : float
            When it was received, engine time.
        """
        difference_s = sample.t - engine_s
        clock = self._clocks.get(sample.source)
        if clock is None:
            self._clocks[sample.source] = _Clock(difference_s)
            return sample
        goes_on = clock.leapt_s is not None and abs(difference_s - clock.leapt_s) <= LEAP_S
        if goes_on or difference_s <= clock.most_s + LEAP_S:
            # Where it is back on the old clock, what leapt before was a stray.
            clock.most_s, clock.leapt_s = max(difference_s, clock.most_s), None
            return sample
        clock.leapt_s = difference_s
        self.refused[sample.source] += 1
        return msgspec.structs.replace(sample, valid=False)
