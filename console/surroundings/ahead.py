"""What light and link will be at contact and at the hands-off point, in sentences.

A sentence says what contact falls in, which contact times would avoid it, and by how much contact
must slip for that: ``Contact falls 1 min 50 s after sunset (± 20 s); contact before 09:40:32
(1 min 55 s earlier) or from 10:12:05 (30 min later) avoids it``. All of it is advisory. What is
not known is said to be unknown and never taken for good.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from console.surroundings.advice import Advice
from console.surroundings.advisory import Ahead, Happening, Predicted
from console.surroundings.condition import Condition
from console.surroundings.coverage import Coverage
from console.surroundings.glare import Glare
from console.surroundings.interval import Interval
from console.surroundings.light import Span
from console.surroundings.shadow import DOUBT_S, Light
from console.surroundings.stretch import (
    clear_of_all,
    clear_view,
    daylight,
    linked,
)
from console.surroundings.wording import capitalised, clock, spoken_length


@dataclass(frozen=True, slots=True)
class Scene:
    """All that is known of the coming light and link.

    Attributes
    ----------
    t_s : float
        Now, UTC seconds: nothing can come earlier.
    """

    t_s: float
    spans: tuple[Span, ...] = ()
    glares: tuple[Glare, ...] = ()
    coverage: Coverage | None = None


def look_ahead(scene: Scene, contact: Predicted | None, hands_off: Predicted | None) -> Ahead:
    """Say what contact and hands-off fall in.

    Parameters
    ----------
    scene : Scene
        Light, glare and link coverage as far as known.
    contact, hands_off : Predicted or None
        None where they are not predicted (or past): nothing is said of them then.

    Returns
    -------
    Ahead
        Contact is held against light, glare and link; hands-off against the link alone.
    """
    found: list[Advice] = []
    if contact is not None:
        advice = Advice(scene.t_s, contact, 0.0)
        _say_light(advice, scene.spans)
        _say_glare(advice, scene)
        if scene.coverage is not None:
            _say_link(advice, scene.coverage)
        found.append(advice)
    if hands_off is not None and scene.coverage is not None:
        after_s = None if contact is None else contact.best_s - hands_off.best_s
        advice = Advice(scene.t_s, hands_off, after_s)
        _say_link(advice, scene.coverage)
        found.append(advice)
    return Ahead(
        tuple(one for advice in found for one in advice.advisories),
        tuple(fact for advice in found for fact in advice.facts),
        _clear(scene),
    )


def _clear(scene: Scene) -> tuple[Interval, ...]:
    every: list[Condition | None] = [
        daylight(scene.spans),
        clear_view(scene.spans, scene.glares),
        linked(scene.coverage),
    ]
    return clear_of_all([one for one in every if one is not None], scene.t_s)


# ---------------------------------------------------------------------- light


@dataclass(frozen=True, slots=True)
class _SunTimes:
    """The last sunset and sunrise before a time and the first after it."""

    set_before: float | None = None
    set_after: float | None = None
    rise_before: float | None = None
    rise_after: float | None = None


def _sun_times(spans: Sequence[Span], t_s: float) -> _SunTimes:
    limbs = [(one.t_s, one.is_sunrise) for span in spans for one in span.limb]
    before = {rising: t for t, rising in limbs if t <= t_s}
    after = {rising: t for t, rising in reversed(limbs) if t > t_s}
    return _SunTimes(before.get(False), after.get(False), before.get(True), after.get(True))


def _say_light(advice: Advice, spans: Sequence[Span]) -> None:
    condition = daylight(spans)
    if condition is None:
        return
    best, name = advice.what.best_s, advice.what.happening.value
    fall = condition.fall(best)
    if fall is None:
        advice.say("light:unknown", f"light at {name} is unknown: later than is computed")
        return
    times = _sun_times(spans, best)
    if not fall.is_good:
        state = next(s.state for s in spans if s.t_start <= best < s.t_end)
        advice.add("light", f"{name} falls {_dark_words(best, state, times)}", fall)
    elif not advice.may("light", fall, DOUBT_S, ("sunrise", "sunset"), condition.good):
        advice.facts.append(f"{capitalised(name)} {_day_words(best, times)}")


def _dark_words(best: float, state: Light, times: _SunTimes) -> str:
    doubt = f"(± {DOUBT_S:.0f} s)"
    from_set = _distance(best, times.set_before, times.set_after)
    from_rise = _distance(best, times.rise_before, times.rise_after)
    is_set = from_rise is None or (from_set is not None and from_set <= from_rise)
    near_s = from_set if is_set else from_rise
    if near_s is not None and near_s <= DOUBT_S:
        return f"at {'sunset' if is_set else 'sunrise'} {doubt}"
    if state is Light.TWILIGHT:  # the Sun grazes the limb for minutes
        return "in twilight"
    if near_s is None:
        return "in the night"
    which = "after sunset" if is_set else "before sunrise"
    return f"{spoken_length(near_s)} {which} {doubt}"


def _distance(t_s: float, *others: float | None) -> float | None:
    """Give how far the nearest of some times is, None where there is none."""
    return min((abs(t_s - one) for one in others if one is not None), default=None)


def _day_words(best: float, times: _SunTimes) -> str:
    parts = ["in daylight"]
    if times.rise_before is not None:
        parts.append(f"{spoken_length(best - times.rise_before)} after sunrise")
    if times.set_after is not None:
        parts.append(f"{spoken_length(times.set_after - best)} before sunset")
    return ", ".join(parts)


# ---------------------------------------------------------------------- glare


def _say_glare(advice: Advice, scene: Scene) -> None:
    condition = clear_view(scene.spans, scene.glares)
    if condition is None or not scene.glares:
        return
    fall = condition.fall(advice.what.best_s)
    if fall is None:
        return
    kind = scene.glares[0].kind.value
    if not fall.is_good:
        advice.add("glare", f"{advice.what.happening} falls in glare: {kind}", fall)
    else:
        ends = ("glare", f"glare ({kind})")
        advice.may("glare", fall, DOUBT_S, ends, condition.good)


# ---------------------------------------------------------------------- link


def _say_link(advice: Advice, coverage: Coverage) -> None:
    best, name = advice.what.best_s, advice.what.happening.value
    for window in coverage.events:
        if window.span.holds(best):
            about = " of ".join(part for part in (window.note or "an event", window.link) if part)
            advice.say(f"event:{window.span.t_start:.3f}:{about}", f"{name} falls during {about}")
    condition = linked(coverage)
    fall = None if condition is None else condition.fall(best)
    if condition is None or fall is None:
        words = f"link coverage at {name} is unknown: {_plan_words(coverage, best)}"
        advice.say("link:unknown", words)
    elif not fall.is_good:
        advice.add("link", f"{name} falls in {_gap_words(fall.stretch)}", fall)
    else:
        ends = (_gap_words(fall.before), _gap_words(fall.after))
        is_near = advice.may("link", fall, 0.0, ends, condition.good)
        if not is_near and advice.what.happening is Happening.CONTACT:
            links = ", ".join(coverage.links_at(best))
            advice.facts.append(f"{capitalised(name)} under link coverage ({links})")


def _gap_words(gap: Interval | None) -> str:
    return "a link gap" if gap is None else f"a link gap of {spoken_length(gap.length_s)}"


def _plan_words(coverage: Coverage, t_s: float) -> str:
    extent = coverage.extent
    if extent is None:
        return "the plan has no coverage in it"
    if t_s < extent.t_start:
        return f"the plan begins at {clock(extent.t_start)}"
    return f"the plan ends at {clock(extent.t_end)}"
