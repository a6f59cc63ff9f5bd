"""Sentences about one prediction: what it falls in, what avoids it, how far it may slip."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

from console.surroundings.advisory import Advisory, Happening, Predicted
from console.surroundings.condition import Fall
from console.surroundings.interval import Interval
from console.surroundings.wording import capitalised, clock, spoken_length

SHORT_WINDOW_S = 600.0
"""A good stretch shorter than this is said with its end."""


@dataclass(slots=True)
class Advice:
    """Gathers sentences about one prediction.

    Attributes
    ----------
    now_s : float
        UTC seconds: nothing can come earlier.
    what : Predicted
    contact_after_s : float or None
        How much later contact comes, 0 for contact itself; None where it is not predicted.
    """

    now_s: float
    what: Predicted
    contact_after_s: float | None
    advisories: list[Advisory] = field(default_factory=list)
    facts: list[str] = field(default_factory=list)

    def add(self, matter: str, head: str, fall: Fall) -> None:
        """Note what a prediction falls in, with what would avoid it."""
        best, now = self.what.best_s, self.now_s
        before, after = fall.before, fall.after
        if before is not None and before.t_end <= now:
            before = None
        shift_s = self.contact_after_s or 0.0
        avoid = tuple(
            Interval(one.t_start + shift_s, one.t_end + shift_s)
            for one in (before, after)
            if one is not None
        )
        earlier_s = None if before is None else best - before.t_end
        later_s = None if after is None else after.t_start - best
        words = capitalised(head) + self._way_out(before, after, shift_s)
        key = f"{self.what.happening}:{matter}"
        self.advisories.append(Advisory(key, words, avoid, earlier_s, later_s))

    def say(self, matter: str, words: str) -> None:
        """Note a sentence that nothing can be added to."""
        self.advisories.append(Advisory(f"{self.what.happening}:{matter}", capitalised(words)))

    def _way_out(self, before: Interval | None, after: Interval | None, shift_s: float) -> str:
        best = self.what.best_s
        ways = []
        if before is not None:
            ways.append(
                f"before {clock(before.t_end + shift_s)} "
                f"({spoken_length(best - before.t_end)} earlier)"
            )
        if after is not None:
            until = ""
            if after.length_s < SHORT_WINDOW_S:
                until = f" to {clock(after.t_end + shift_s)}"
            ways.append(
                f"from {clock(after.t_start + shift_s)}{until} "
                f"({spoken_length(after.t_start - best)} later)"
            )
        if not ways:
            return "; nothing sooner or later within what is known avoids it"
        what = Happening.CONTACT if self.contact_after_s is not None else self.what.happening
        return f"; {what} {' or '.join(ways)} avoids it"

    def may(
        self,
        matter: str,
        fall: Fall,
        doubt_s: float,
        words: tuple[str, str],
        good: Sequence[Interval],
    ) -> bool:
        """Note a good prediction whose bounds reach into what is bad; tell whether they do.

        Parameters
        ----------
        doubt_s : float
            Of the condition's own times, charged on both sides.
        words : tuple of str
            How the end before and the end after are said, such as ``sunset``.
        good : sequence of Interval
            Where the condition is known and good: a way out is one that the bounds fit into.
        """
        best, low = self.what.best_s, self.what.low_s - doubt_s
        high = best if self.what.high_s is None else self.what.high_s
        high += doubt_s
        name, key = self.what.happening.value, f"{self.what.happening}:{matter}:bounds"
        earlier, later = self._shifts(low, high, good)
        if fall.after is not None and high > fall.after.t_start:
            head = f"{name} falls {spoken_length(fall.after.t_start - best)} before {words[1]}"
            ways = (earlier, later)
        elif fall.before is not None and low < fall.before.t_end:
            head = f"{name} falls {spoken_length(best - fall.before.t_end)} after {words[0]}"
            ways = (later, earlier)
        else:
            return False
        mend = ways[0] or ways[1] or "nothing sooner or later within what is known"
        sentence = capitalised(f"{head} and its bounds reach it; {mend} is clear of it")
        earlier_s = None if fall.before is None else best - fall.before.t_end
        later_s = None if fall.after is None else fall.after.t_start - best
        self.advisories.append(Advisory(key, sentence, (), earlier_s, later_s))
        return True

    def _shifts(self, low: float, high: float, good: Sequence[Interval]) -> tuple[str, str]:
        """Say by how much less and more bounds fit into one good stretch whole; empty: never.

        What would have to come before now is no way out.
        """
        wide_enough = [one for one in good if one.length_s >= high - low]
        latest_s = min(self.what.low_s, self.what.best_s) - self.now_s
        earlier_s = min((high - g.t_end for g in wide_enough if high > g.t_end), default=math.inf)
        later_s = min((g.t_start - low for g in wide_enough if g.t_start > low), default=math.inf)
        return (
            f"{spoken_length(earlier_s)} earlier" if earlier_s <= latest_s else "",
            f"{spoken_length(later_s)} later" if math.isfinite(later_s) else "",
        )
