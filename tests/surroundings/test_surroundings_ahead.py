"""What contact and hands-off fall in: the sentences, the times that avoid it, the slip."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from console.core.utc import parse_utc
from console.surroundings.advisory import Advisory, Ahead, Happening, Predicted
from console.surroundings.ahead import Scene, look_ahead
from console.surroundings.coverage import Coverage, Window, WindowKind
from console.surroundings.glare import Glare, GlareKind
from console.surroundings.interval import Interval
from console.surroundings.light import LimbCrossing, Span
from console.surroundings.shadow import Light
from console.surroundings.wording import spoken_length

NOW = parse_utc("2031-04-10T09:30:00Z")
SUNSET, SUNRISE, NEXT_SUNSET = NOW + 600.0, NOW + 2700.0, NOW + 6200.0


def spans() -> tuple[Span, ...]:
    """Day, sunset 10 min from now, night, sunrise 45 min from now, day, sunset, night."""

    def flat(start: float, end: float, state: Light) -> Span:
        share = 1.0 if state is Light.DAY else 0.0
        return Span(start, end, state, ((start, share), (end, share)))

    def twilight(limb: float, is_sunrise: bool) -> Span:
        start, end = limb - 5.0, limb + 5.0
        first = 0.0 if is_sunrise else 1.0
        fractions = ((start, first), (end, 1.0 - first))
        return Span(start, end, Light.TWILIGHT, fractions, (LimbCrossing(limb, is_sunrise),))

    return (
        flat(NOW - 2400.0, SUNSET - 5.0, Light.DAY),
        twilight(SUNSET, is_sunrise=False),
        flat(SUNSET + 5.0, SUNRISE - 5.0, Light.NIGHT),
        twilight(SUNRISE, is_sunrise=True),
        flat(SUNRISE + 5.0, NEXT_SUNSET - 5.0, Light.DAY),
        twilight(NEXT_SUNSET, is_sunrise=False),
        flat(NEXT_SUNSET + 5.0, NOW + 7200.0, Light.NIGHT),
    )


def contact(after_s: float, doubt_s: float = 3.0, *, is_open: bool = False) -> Predicted:
    """Predict contact so long after now."""
    t = NOW + after_s
    high = None if is_open else t + doubt_s
    return Predicted(Happening.CONTACT, t, t - doubt_s, high)


def hands_off(after_s: float, doubt_s: float = 2.0) -> Predicted:
    """Predict hands-off so long after now."""
    t = NOW + after_s
    return Predicted(Happening.HANDS_OFF, t, t - doubt_s, t + doubt_s)


def plan(*windows: tuple[float, float, str]) -> Coverage:
    """Give a plan of windows in seconds from now."""
    return Coverage(
        tuple(
            Window(Interval(NOW + start, NOW + end), link, WindowKind.COVERAGE)
            for start, end, link in windows
        )
    )


TWO_LINKS = plan((-600.0, 500.0, "A"), (515.0, 3000.0, "B"))


def only(found: Ahead) -> Advisory:
    """Give the single advisory."""
    (one,) = found.advisories
    return one


def test_contact_after_sunset() -> None:
    """1 min 50 s after it, with both ways out and how far each is."""
    found = only(look_ahead(Scene(NOW, spans()), contact(710.0), None))
    assert found.key == "contact:light"
    assert found.words == (
        "Contact falls 1 min 50 s after sunset (± 20 s); contact before 09:39:55 "
        "(1 min 55 s earlier) or from 10:15:05 (33 min later) avoids it"
    )
    assert (found.earlier_s, found.later_s) == (115.0, SUNRISE + 5.0 - (NOW + 710.0))
    assert found.avoid == (
        Interval(NOW - 2400.0, SUNSET - 5.0), Interval(SUNRISE + 5.0, NEXT_SUNSET - 5.0)
    )  # fmt: skip


def test_contact_before_sunrise() -> None:
    """The nearer of the two is named; once the day before is past it is no way out."""
    later = NOW + 1500.0
    found = only(look_ahead(Scene(later, spans()), contact(2500.0), None))
    assert found.words == (
        "Contact falls 3 min 20 s before sunrise (± 20 s); contact from 10:15:05 "
        "(3 min 25 s later) avoids it"
    )
    assert found.earlier_s is None


@pytest.mark.parametrize("off_s", [-4.0, 0.0, 4.0, 19.0])
def test_contact_at_sunset(off_s: float) -> None:
    """Within the doubt of the time of sunset itself nothing finer is said."""
    found = only(look_ahead(Scene(NOW, spans()), contact(600.0 + off_s), None))
    assert found.words.startswith("Contact falls at sunset (± 20 s); contact before 09:39:55")


def test_contact_by_day_is_a_fact_and_no_advisory() -> None:
    """With the time since sunrise and until sunset."""
    found = look_ahead(Scene(NOW, spans()), contact(3300.0), None)
    assert found.advisories == ()
    assert found.facts == ("Contact in daylight, 10 min after sunrise, 48 min before sunset",)


def test_contact_by_day_whose_bounds_reach_the_night() -> None:
    """30 s before sunset with bounds of 25 s and the doubt of 20 s: said, with the mend."""
    found = look_ahead(Scene(NOW, spans()), contact(565.0, 25.0), None)
    assert only(found).key == "contact:light:bounds"
    assert only(found).words == (
        "Contact falls 30 s before sunset and its bounds reach it; 15 s earlier is clear of it"
    )
    assert only(found).later_s == 30.0
    assert found.facts == ()
    after = only(look_ahead(Scene(NOW, spans()), contact(2720.0, 10.0), None))
    assert after.words == (
        "Contact falls 15 s after sunrise and its bounds reach it; 15 s later is clear of it"
    )


def test_an_open_late_bound_reaches_nothing_by_itself() -> None:
    """It may never come: that is said elsewhere."""
    assert look_ahead(Scene(NOW, spans()), contact(300.0, is_open=True), None).advisories == ()


def test_hands_off_in_a_link_gap() -> None:
    """15 s long; the ways out are given as contact times, 25 s after hands-off."""
    scene = Scene(NOW, coverage=TWO_LINKS)
    found = look_ahead(scene, contact(530.0, 1.0), hands_off(505.0))
    assert only(found).key == "hands-off:link"
    assert only(found).words == (
        "Hands-off falls in a link gap of 15 s; contact before 09:38:45 (5 s earlier) "
        "or from 09:39:00 (10 s later) avoids it"
    )
    assert found.facts == ("Contact under link coverage (B)",)


def test_hands_off_without_a_contact_time_is_said_in_its_own_times() -> None:
    """No shift is known then."""
    found = only(look_ahead(Scene(NOW, coverage=TWO_LINKS), None, hands_off(505.0)))
    assert found.words.endswith(
        "; hands-off before 09:38:20 (5 s earlier) or from 09:38:35 (10 s later) avoids it"
    )


def test_a_short_good_stretch_is_said_with_its_end() -> None:
    """Covered again, but for two minutes only."""
    coverage = plan((-600.0, 100.0, "A"), (200.0, 320.0, "B"), (400.0, 4000.0, "C"))
    found = only(look_ahead(Scene(NOW, coverage=coverage), contact(150.0), None))
    assert "from 09:33:20 to 09:35:20 (50 s later)" in found.words


def test_bounds_that_reach_a_gap() -> None:
    """8 s before it with 10 s of bounds."""
    found = only(look_ahead(Scene(NOW, coverage=TWO_LINKS), contact(492.0, 10.0), None))
    assert found.words == (
        "Contact falls 8 s before a link gap of 15 s and its bounds reach it; "
        "2 s earlier is clear of it"
    )


THREE_WINDOWS = plan((-1000.0, 0.0, "A"), (300.0, 420.0, "A"), (700.0, 900.0, "A"))


@pytest.mark.parametrize(
    ("now_s", "best_s", "low_s", "high_s", "mend"),
    [
        (200.0, 370.0, 310.0, 430.0, "10 s earlier is clear of it"),
        # 140 s of bounds in a window of 120 s: earlier they would reach the gap before
        (200.0, 380.0, 310.0, 450.0, "6 min 30 s later is clear of it"),
        (200.0, 310.0, 290.0, 430.0, "6 min 50 s later is clear of it"),
        (-800.0, 380.0, 310.0, 450.0, "7 min 30 s earlier is clear of it"),
        # nothing comes before now
        (379.0, 380.0, 379.5, 425.0, "5 min 20 s later is clear of it"),
        (379.0, 380.0, 350.0, 500.0, "5 min 50 s later is clear of it"),
        (200.0, 360.0, 210.0, 510.0,
         "nothing sooner or later within what is known is clear of it"),
    ],
)  # fmt: skip
def test_a_mend_fits_the_bounds_into_one_window(
    now_s: float, best_s: float, low_s: float, high_s: float, mend: str
) -> None:
    """And lies in what is still to come."""
    when = Predicted(Happening.CONTACT, NOW + best_s, NOW + low_s, NOW + high_s)
    found = look_ahead(Scene(NOW + now_s, coverage=THREE_WINDOWS), when, None)
    assert only(found).words.endswith(f"and its bounds reach it; {mend}")


def test_beyond_the_plan_coverage_is_unknown() -> None:
    """It is said so, and where the plan ends."""
    late = only(look_ahead(Scene(NOW, coverage=TWO_LINKS), contact(3100.0), None))
    assert late.words == "Link coverage at contact is unknown: the plan ends at 10:20:00"
    empty = only(look_ahead(Scene(NOW, coverage=plan()), contact(100.0), None))
    assert empty.words == "Link coverage at contact is unknown: the plan has no coverage in it"
    early = only(look_ahead(Scene(NOW, coverage=plan((200.0, 300.0, "A"))), contact(9.0), None))
    assert early.words.endswith("the plan begins at 09:33:20")


def test_beyond_what_is_computed_light_is_unknown() -> None:
    """Contact more than two hours away."""
    found = only(look_ahead(Scene(NOW, spans()), contact(7300.0), None))
    assert found.words == "Light at contact is unknown: later than is computed"


def test_without_orbit_and_plan_nothing_is_said_and_nothing_is_clear() -> None:
    """Unknown is not good."""
    assert look_ahead(Scene(NOW), contact(300.0), hands_off(280.0)) == Ahead()


def test_what_is_not_predicted_is_not_spoken_of() -> None:
    """A hold: no contact time, no sentence."""
    found = look_ahead(Scene(NOW, spans(), coverage=TWO_LINKS), None, None)
    assert (found.advisories, found.facts) == ((), ())


def test_glare_at_contact() -> None:
    """The Sun before sunset for a port that looks ahead."""
    glare = (Glare(NOW + 200.0, SUNSET + 5.0, GlareKind.SUN),)
    found = only(look_ahead(Scene(NOW, spans(), glare), contact(400.0), None))
    assert found.key == "contact:glare"
    assert found.words == (
        "Contact falls in glare: Sun near the camera's axis; contact before 09:33:20 "
        "(3 min 20 s earlier) or from 09:40:05 (3 min 25 s later) avoids it"
    )
    near = only(look_ahead(Scene(NOW, spans(), glare), contact(185.0), None))
    assert near.words.startswith("Contact falls 15 s before glare (Sun near the camera's axis)")


def test_an_event_of_the_plan_at_contact() -> None:
    """It is named with its link."""
    event = Window(Interval(NOW + 90.0, NOW + 110.0), "A", WindowKind.EVENT, "antenna switch")
    coverage = Coverage((*TWO_LINKS.windows, event))
    found = only(look_ahead(Scene(NOW, coverage=coverage), contact(100.0), None))
    assert found.words == "Contact falls during antenna switch of A"


def test_times_clear_of_everything() -> None:
    """By day, out of glare, and under coverage, from now on."""
    glare = (Glare(NOW + 200.0, SUNSET + 5.0, GlareKind.SUN),)
    found = look_ahead(Scene(NOW, spans(), glare, TWO_LINKS), contact(650.0), None)
    assert found.clear == (
        Interval(NOW, NOW + 200.0), Interval(SUNRISE + 5.0, NOW + 3000.0)
    )  # fmt: skip


@settings(deadline=None, max_examples=300)
@given(st.floats(1.0, 6900.0))
def test_the_answer_changes_just_where_it_is_said_to(after_s: float) -> None:
    """Slipped by a second less it is the same, by a second more another."""
    scene = Scene(NOW, spans(), coverage=plan((-600.0, 500.0, "A"), (515.0, 7000.0, "B")))

    def bad(at_s: float) -> set[str]:
        found = look_ahead(scene, contact(at_s, 0.0), None)
        return {one.key for one in found.advisories if one.key.count(":") == 1}

    for one in look_ahead(scene, contact(after_s, 0.0), None).advisories:
        if one.key.count(":") != 1:
            continue
        for slip_s, sign in ((one.earlier_s, -1.0), (one.later_s, 1.0)):
            if slip_s is None:
                continue
            assert one.key in bad(after_s + sign * max(slip_s - 1.0, 0.0))
            assert one.key not in bad(after_s + sign * (slip_s + 1.0))
        for interval in one.avoid:
            middle = (max(interval.t_start, NOW) + interval.t_end) / 2.0
            assert one.key not in bad(middle - NOW)


@pytest.mark.parametrize(
    ("seconds", "words"),
    [(0.2, "0 s"), (59.4, "59 s"), (59.6, "1 min"), (110.0, "1 min 50 s"), (599.0, "9 min 59 s"),
     (600.0, "10 min"), (629.0, "10 min"), (631.0, "11 min"), (3599.0, "1 h 00 min"),
     (3720.0, "1 h 02 min"), (-15.0, "15 s")],
)  # fmt: skip
def test_lengths_are_said_as_they_are_spoken(seconds: float, words: str) -> None:
    """Seconds below ten minutes, whole minutes beyond."""
    assert spoken_length(seconds) == words
