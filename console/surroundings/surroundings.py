"""Everything known of light and link around one watch, and one question to it."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

from console.envelope.setup import Camera, PortAxis, Setup
from console.surroundings.advisory import Advisory, Ahead, Predicted
from console.surroundings.ahead import Scene, look_ahead
from console.surroundings.coverage import Coverage
from console.surroundings.glare import Glare, glare_of
from console.surroundings.interval import Interval
from console.surroundings.light import Sky, Span, believed, is_known, spans_of
from console.surroundings.orbit import OrbitSource, age_days, circular_orbit

BEHIND_S = 2400.0
AHEAD_S = 7200.0
"""Light is computed so far behind and ahead of now: a time strip's past, and an hour and more."""
RENEW_S = 60.0
AGED_KEY = "light:unknown"


@dataclass(frozen=True, slots=True)
class Outlook:
    """Light and glare around a minute; the same value serves until ``valid_until_s``."""

    valid_from_s: float
    valid_until_s: float
    spans: tuple[Span, ...]
    glares: tuple[Glare, ...]

    def serves(self, t_s: float) -> bool:
        """Tell whether it still stands for a time."""
        return self.valid_from_s <= t_s < self.valid_until_s


@dataclass(frozen=True)
class Surroundings:
    """Orbit, coverage plan and camera of one watch; never changes.

    Attributes
    ----------
    orbit : OrbitSource or None
        None: light is unknown.
    coverage : Coverage or None
        None: nothing is said of the link.
    axis : PortAxis
        Where the port looks.
    camera : Camera
        Of the vehicle, looking at the port.
    """

    orbit: OrbitSource | None = None
    coverage: Coverage | None = None
    axis: PortAxis = PortAxis.V_PLUS
    camera: Camera = field(default_factory=Camera)

    def __deepcopy__(self, memo: dict[int, object]) -> Surroundings:
        """Give itself: it never changes."""
        return self

    def outlook(self, t_s: float) -> Outlook:
        """Compute light and glare around the minute a time lies in: 3 ms.

        It depends on the minute alone, so that live, replay and score agree. It ends where the
        orbit is no longer believed.
        """
        minute_s = math.floor(t_s / RENEW_S) * RENEW_S
        start, end = minute_s - BEHIND_S, minute_s + AHEAD_S
        spans: tuple[Span, ...] = ()
        glares: tuple[Glare, ...] = ()
        if self.orbit is not None:
            sky, within = Sky(self.orbit), believed(self.orbit)
            start, end = max(start, within.t_start), min(end, within.t_end)
            spans = spans_of(self.orbit, start, end, sky)
            glares = glare_of(sky, spans, self.axis, self.camera)
        return Outlook(minute_s, minute_s + RENEW_S, spans, glares)

    def ahead(
        self, outlook: Outlook, t_s: float, contact: Predicted | None, hands_off: Predicted | None
    ) -> Ahead:
        """Say what contact and hands-off fall in."""
        aged = self._aged(t_s, outlook)
        if aged is None:
            scene = Scene(t_s, outlook.spans, outlook.glares, self.coverage)
            return look_ahead(scene, contact, hands_off)
        found = look_ahead(Scene(t_s, coverage=self.coverage), contact, hands_off)
        return Ahead((aged, *found.advisories), found.facts, found.clear)

    def _aged(self, t_s: float, outlook: Outlook) -> Advisory | None:
        """Say that an orbit was given and yet tells nothing."""
        if self.orbit is None:
            return None
        is_old = not is_known(self.orbit, t_s)
        if outlook.spans and not is_old:
            return None
        if is_old:
            why = (
                f"{self.orbit.name} is {age_days(self.orbit, t_s):.1f} days from its epoch, "
                f"past the {self.orbit.max_age_days:.0f} that are believed"
            )
        else:
            when = "now" if self.orbit.state(t_s) is None else "at all times ahead"
            why = f"{self.orbit.name} has no state {when}"
        return Advisory(AGED_KEY, f"Light is unknown: {why}")

    def gaps(self, t_s: float) -> tuple[Interval, ...]:
        """Give the planned link gaps near a time."""
        if self.coverage is None:
            return ()
        start, end = t_s - BEHIND_S, t_s + AHEAD_S
        return tuple([g for g in self.coverage.gaps if g.t_end > start and g.t_start < end])


def surroundings_of(
    setup: Setup, orbit: OrbitSource | None = None, coverage: Coverage | None = None
) -> Surroundings | None:
    """Put together what is known; None where there is nothing to say.

    Parameters
    ----------
    setup : Setup
        Its circular orbit, if it says how that lies in space, its port and its camera.
    orbit : OrbitSource, optional
        Read from the message the setup names; stands for the circular one.
    coverage : Coverage, optional
    """
    known = orbit or circular_orbit(setup.orbit)
    if known is None and coverage is None:
        return None
    return Surroundings(known, coverage, setup.port.axis, setup.camera)
