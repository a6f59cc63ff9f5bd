"""Light and link ahead during a watch: what is drawn, and what is told once when it first shows.

Asked once a second of engine time at a tick, so that it follows from the inputs alone. Light is
computed once a minute; the sentences follow each new prediction of contact.
"""

from __future__ import annotations

from dataclasses import dataclass

from console.approach.event import OutlookNoted
from console.approach.snapshot import LightSpan, LinkGap
from console.core.units import MICROSECOND_S
from console.envelope.limits import Level
from console.surroundings.advisory import Advisory, Ahead, Happening, Predicted
from console.surroundings.surroundings import Outlook, Surroundings
from console.tracking.outlook import Countdown

TOLD_AGAIN_AFTER_S = 30.0
"""A matter that was gone for so long is told again when it comes back; sooner it is the same."""
TOLD_AFTER_S = {":bounds": 10.0}
"""What only the bounds reach is told once it has stood for so long: bounds start out wide."""
SHORTEST_S = 1e-3


@dataclass(slots=True)
class _Matter:
    """Since when, and when last, an advisory stood; engine time."""

    since_s: float
    seen_s: float = 0.0
    is_told: bool = False


class OutlookBook:
    """What is said of light and link around one watch.

    Parameters
    ----------
    surroundings : Surroundings
        Orbit, plan and camera.
    """

    def __init__(self, surroundings: Surroundings) -> None:
        self.surroundings = surroundings
        self._outlook: Outlook | None = None
        self._found = Ahead()
        self._light: tuple[LightSpan, ...] = ()
        self._standing: dict[str, _Matter] = {}

    @staticmethod
    def is_due(engine_s: float) -> bool:
        """Tell whether a tick stands at a whole second."""
        return abs(engine_s - round(engine_s)) < MICROSECOND_S

    def look(
        self, engine_s: float, t: float, contact: Countdown, hands_off: Countdown
    ) -> list[OutlookNoted]:
        """Renew what is said; give what is new.

        Parameters
        ----------
        engine_s : float
            For how long something has been gone.
        t : float
            Now, UTC seconds on the clock of the source in use.
        contact, hands_off : Countdown
            As predicted; empty where they are not, or past.
        """
        if self._outlook is None or not self._outlook.serves(t):
            self._outlook = self.surroundings.outlook(t)
            self._light = _light_of(self._outlook)
        self._found = self.surroundings.ahead(
            self._outlook,
            t,
            _predicted(Happening.CONTACT, t, contact),
            _predicted(Happening.HANDS_OFF, t, hands_off),
        )
        return [one for found in self._found.advisories for one in self._tell(found, engine_s, t)]

    def _tell(self, found: Advisory, engine_s: float, t: float) -> list[OutlookNoted]:
        """Give the event of a matter that is new, or has been gone for long."""
        matter = self._standing.get(found.key)
        if matter is None or engine_s - matter.seen_s > TOLD_AGAIN_AFTER_S:
            matter = self._standing[found.key] = _Matter(engine_s)
        matter.seen_s = engine_s
        waits_s = next((s for end, s in TOLD_AFTER_S.items() if found.key.endswith(end)), 0.0)
        if matter.is_told or engine_s - matter.since_s < waits_s:
            return []
        matter.is_told = True
        level = Level.ADVISORY.word
        return [OutlookNoted(t=t, about=found.key, level=level, words=found.words)]

    @property
    def notes(self) -> tuple[str, ...]:
        """The advisories that stand, in words."""
        return tuple([one.words for one in self._found.advisories])

    @property
    def facts(self) -> tuple[str, ...]:
        """What is well about contact, in words."""
        return self._found.facts

    @property
    def light(self) -> tuple[LightSpan, ...]:
        """Light around now; empty where it is unknown."""
        return self._light

    def gaps(self, t: float) -> tuple[LinkGap, ...]:
        """Give the planned link gaps around a time."""
        return tuple([LinkGap(g.t_start, g.t_end) for g in self.surroundings.gaps(t)])


def _light_of(outlook: Outlook) -> tuple[LightSpan, ...]:
    return tuple(
        LightSpan(s.t_start, s.t_end, s.state.value)
        for s in outlook.spans
        if s.t_end - s.t_start > SHORTEST_S
    )


def _predicted(happening: Happening, t: float, when: Countdown) -> Predicted | None:
    if when.best_s is None:
        return None
    low_s = when.best_s if when.low_s is None else when.low_s
    # a countdown without any bound at all is open on the late side
    high_s = None if when.high_s is None else t + when.high_s
    return Predicted(happening, t + when.best_s, t + low_s, high_s)
