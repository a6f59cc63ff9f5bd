"""The time strip: past left, future right, spans and gaps true, names never on each other."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from fakes.captures import capture_after
from fakes.limits import fake_limits
from fakes.plot_meter import FakeMeter, outside, overlapping
from fakes.situations import ALL
from fakes.snapshots import approach_at, coasted, no_data, nominal, withdrawn
from hypothesis import given
from hypothesis import strategies as st

from console.approach.event import Phase
from console.approach.snapshot import LightSpan, LinkGap, Snapshot, Timed
from console.present.plot_scene import Bar, Ink, Line, Scene, Stroke
from console.present.time_strip import (
    AHEAD_S,
    StripFrame,
    lay_out_strip,
    needed_ahead_s,
    signed_clock,
    standing_strip,
)
from console.present.time_strip_events import Rank, events, passes_at_s
from console.present.time_strip_now import (
    StripMemory,
    changing_strip,
    gap_words,
    strip_words,
)
from console.tracking.outlook import Countdown
from tests.fakes.changed import replace

MARKS = fake_limits().marks_m
SIZES = [(1580, 95, 1.0), (1260, 90, 1.0), (1260, 166, 2.0), (3800, 230, 2.4)]


def drawn(
    snapshot: Snapshot | None, width: float = 1580, height: float = 95, unit: float = 1.0,
    memory: StripMemory | None = None, ahead_s: float | None = None,
) -> tuple[StripFrame, Scene, Scene]:  # fmt: skip
    """Give the strip of a snapshot: frame, standing and changing marks."""
    meter = FakeMeter(unit)
    ahead = ahead_s or AHEAD_S.next(600.0, needed_ahead_s(snapshot))
    frame = lay_out_strip(width, height, meter, ahead)
    now = changing_strip(frame, snapshot, MARKS, memory or StripMemory(), meter)
    return frame, standing_strip(frame, meter), now


@pytest.mark.parametrize(("width", "height", "unit"), SIZES)
@pytest.mark.parametrize("situation", ALL)
def test_no_text_is_cut_or_covered(situation: str, width: int, height: int, unit: float) -> None:
    """In every situation, at every size, texts lie within the widget and not on each other."""
    s = ALL[situation]()
    _, stand, now = drawn(s, width, height, unit)
    names = [m for m in stand.labels if m.text != "light" or s.light]
    assert overlapping((*names, *now.labels)) == []
    assert outside((*names, *now.labels), width, height) == []


@given(
    st.lists(st.tuples(st.floats(-170, 0), st.sampled_from(("10 m", "sunrise", "a long note"))),
             max_size=25),
    st.lists(st.tuples(st.floats(-170, 200), st.floats(0.2, 60)), max_size=8),
    st.floats(2, 200),
)  # fmt: skip
def test_no_crowd_of_events_covers_a_text(
    past: list[tuple[float, str]], gaps: list[tuple[float, float]], contact_s: float
) -> None:
    """However many events and gaps crowd together, no two texts do."""
    s = nominal()
    s = replace(
        s, timeline=tuple(Timed(s.t + at, "mark", label) for at, label in sorted(past)),
        link_gaps=tuple(LinkGap(s.t + at, s.t + at + length) for at, length in gaps[::2]),
        planned_gaps=tuple(LinkGap(s.t + at, s.t + at + length) for at, length in gaps[1::2]),
        to_contact=Countdown(contact_s, contact_s * 0.9, None),
        to_hands_off=Countdown(contact_s * 0.9, contact_s * 0.8, contact_s),
    )  # fmt: skip
    _, stand, now = drawn(s)
    assert overlapping((*stand.labels, *now.labels)) == []


def test_past_is_left_of_now_and_future_right() -> None:
    """Contact ahead stands right of now at its countdown, the mark passed a minute ago left."""
    s = nominal()
    frame, _, now = drawn(s)
    contact = next(m for m in now.labels if m.text == "contact")
    assert s.to_contact.best_s is not None
    x = frame.time.px(s.to_contact.best_s)
    assert abs(contact.box.left - x) < 8.0 or abs(contact.box.right - x) < 8.0
    assert x > frame.now_px
    assert frame.time.px(-60.0) < frame.now_px
    share = (frame.now_px - frame.plot.left) / frame.plot.width
    assert share == pytest.approx(0.4, abs=0.01)


def test_span_is_the_countdowns_bounds() -> None:
    """The bar at contact reaches from the early to the late 95 % bound."""
    s = nominal()
    frame, _, now = drawn(s)
    assert s.to_contact.low_s is not None
    assert s.to_contact.high_s is not None
    left, right = frame.time.px(s.to_contact.low_s), frame.time.px(s.to_contact.high_s)
    bars = [m for m in now.lines if m.y[0] == m.y[-1] and m.width == 1.5]
    assert any(abs(m.x[0] - left) <= 1.0 and abs(m.x[-1] - right) <= 1.0 for m in bars)


def test_open_late_bound_runs_out_dotted() -> None:
    """A countdown that may never come has a dotted bar to the edge."""
    s = replace(nominal(), to_contact=Countdown(60.0, 50.0, None))
    frame, _, now = drawn(s)
    dotted = [m for m in now.lines if m.stroke is Stroke.DOTTED and m.x[-1] > frame.plot.right - 1]
    assert len(dotted) == 1


def test_countdowns_that_are_not_given_are_not_drawn() -> None:
    """Withdrawn or unknown countdowns leave neither contact nor hands-off ahead."""
    for s in (withdrawn(), no_data()):
        assert not [e for e in events(s, MARKS) if e.rank in (Rank.CONTACT, Rank.HANDS_OFF)]


def test_coasted_countdown_is_dashed() -> None:
    """A coasted contact's line is dashed, a fresh one's whole."""
    assert next(e for e in events(coasted(), MARKS)).stroke is Stroke.DASHED
    assert next(e for e in events(nominal(), MARKS)).stroke is Stroke.SOLID


def test_contact_and_hands_off_are_said_once() -> None:
    """After contact both stand in the past, once each, though the timeline has them too."""
    s = capture_after(40.0, Phase.DAMPING)
    s = replace(s, timeline=(*s.timeline, Timed(s.t - 65.0, "hands_off", "hands-off")))
    found = [e for e in events(s, MARKS) if e.words in ("contact", "hands-off")]
    assert sorted((e.words, e.at_s) for e in found) == [("contact", -40.0), ("hands-off", -65.0)]


def test_marks_ahead_are_where_the_path_passes_them() -> None:
    """A mark between two points of the path is passed at the time read between them."""
    path = nominal().path
    at = passes_at_s(path, 3.0)
    assert at is not None
    ranges = [p.range_m for p in path][::-1]
    times = [p.in_s for p in path][::-1]
    assert at == pytest.approx(float(np.interp(3.0, ranges, times)))
    assert passes_at_s(path, 50.0) is None
    words = [e.words for e in events(nominal(), MARKS) if e.rank is Rank.AHEAD]
    assert words == ["4 m", "3 m", "2 m", "1 m"]


@pytest.mark.parametrize(
    ("start", "end", "words"),
    [(-97.0, -93.0, "no link 4 s"), (-8.4, None, "no link 8 s"), (-300.0, -100.0, "no link 3:20")],
)
def test_gap_says_its_length(start: float, end: float | None, words: str) -> None:
    """A gap's length is said in words, of one that lasts up to now."""
    t = nominal().t
    assert gap_words(LinkGap(t + start, None if end is None else t + end), t) == words


def test_gap_is_hatched_where_it_was() -> None:
    """A gap from 97 to 93 s ago is a hatched bar there."""
    frame, _, now = drawn(nominal())
    bar = next(m for m in now.marks if isinstance(m, Bar) and m.hatched)
    assert bar.box.left == pytest.approx(frame.time.px(-97.0), abs=1.0)
    assert bar.box.right == pytest.approx(frame.time.px(-93.0), abs=1.0)


def test_a_planned_gap_is_hatched_ahead_and_named_apart() -> None:
    """From 100 to 115 s ahead; named as planned, since nothing has been lost yet."""
    s = nominal()
    planned = replace(s, link_gaps=(), planned_gaps=(LinkGap(s.t + 100.0, s.t + 115.0),))
    frame, stand, now = drawn(planned)
    bar = next(m for m in now.marks if isinstance(m, Bar) and m.hatched)
    assert bar.box.left == pytest.approx(frame.time.px(100.0), abs=1.0)
    assert bar.box.right == pytest.approx(frame.time.px(115.0), abs=1.0)
    assert "planned gap 15 s" in now.words()
    assert "no link" not in now.words()
    assert overlapping((*stand.labels, *now.labels)) == []
    assert "planned gap 15 s in 1:40" in strip_words(planned, MARKS)


def test_a_gap_between_the_lines_of_now_and_contact_keeps_its_length() -> None:
    """Where the whole name has no room, the length alone stands."""
    s = nominal()
    best = s.to_hands_off.best_s
    assert best is not None
    planned = replace(s, link_gaps=(), planned_gaps=(LinkGap(s.t + best - 20, s.t + best - 5),))
    _, stand, now = drawn(planned)
    assert "15 s" in now.words().split("\n")
    assert "planned" not in now.words()
    assert overlapping((*stand.labels, *now.labels)) == []


def test_advisories_are_told_to_those_who_hear_the_strip() -> None:
    """Word for word, after the light."""
    told = replace(
        nominal(), outlook_notes=("Hands-off falls in a link gap of 15 s",), outlook_facts=()
    )
    assert strip_words(told, MARKS).endswith("Hands-off falls in a link gap of 15 s.")


def test_what_is_well_about_contact_stands_beyond_it_quietly() -> None:
    """In the link's row, right of contact: in full where there is room, else in short."""
    s = nominal()
    frame, _, now = drawn(s, 2200)
    full = (
        "contact in daylight, 2 min 10 s after sunrise, 43 min before sunset; "
        "under link coverage (relay east)"
    )
    label = next(one for one in now.labels if one.text == full)
    assert label.ink is Ink.QUIET
    assert label.box.inside(frame.link)
    assert label.box.left > frame.time.px(s.to_contact.best_s or 0.0)
    _, _, narrow = drawn(s, 760, 90)
    assert "contact in daylight, under link coverage" in narrow.words().split("\n")
    assert full not in narrow.words()
    assert full not in drawn(replace(s, outlook_facts=()), 2200)[2].words()
    assert strip_words(s, MARKS).endswith(
        "43 min before sunset. Contact under link coverage (relay east)."
    )


def test_a_gap_has_its_name_before_what_is_well_is_said() -> None:
    """With a planned gap beyond contact the words give way."""
    s = nominal()
    best = s.to_contact.best_s or 0.0
    gap = LinkGap(s.t + best + 60.0, s.t + best + 75.0)
    _, stand, now = drawn(replace(s, planned_gaps=(gap,)), 1260, 90)
    assert "planned gap 15 s" in now.words()
    assert overlapping((*stand.labels, *now.labels)) == []


def test_unknown_light_is_said() -> None:
    """Without an orbit the strip says so, and to those who hear it too."""
    _, _, now = drawn(no_data())
    assert "light: no orbit known" in now.words()
    assert "light: no orbit known" in strip_words(no_data(), MARKS)


def test_light_is_high_by_day_and_low_by_night() -> None:
    """Night lies low, day high, twilight leads from one to the other without a jump."""
    s = nominal()
    frame, _, now = drawn(s)
    light = next(m for m in now.marks if isinstance(m, Line) and m.clip is not None)
    assert light.y[0] == light.y[1] > frame.light.middle
    assert light.y[-1] == light.y[-2] < frame.light.middle
    assert light.y[2] == light.y[1]
    assert light.y[3] == light.y[4]
    assert {"night", "day"} <= {m.text for m in now.labels}


def test_evening_twilight_falls() -> None:
    """Twilight between day and night leads down; with nothing known about it stays level."""
    s = nominal()
    spans = (
        LightSpan(s.t - 100, s.t, "day"), LightSpan(s.t, s.t + 20, "twilight"),
        LightSpan(s.t + 20, s.t + 200, "night"),
    )  # fmt: skip
    _, _, now = drawn(replace(s, light=spans))
    light = next(m for m in now.marks if isinstance(m, Line) and m.clip is not None)
    assert light.y[2] < light.y[3]
    _, _, now = drawn(replace(s, light=spans[1:2]))
    light = next(m for m in now.marks if isinstance(m, Line) and m.clip is not None)
    assert light.y[0] == light.y[1]


def test_span_ahead_steps_with_contact() -> None:
    """The span ahead always holds contact's late bound, and steps down at most a few times."""
    ahead, seen = None, []
    for s in range(900, 0, -1):
        ahead = AHEAD_S.next(ahead, s * 1.05)
        assert s * 1.05 <= ahead
        seen.append(ahead)
    assert sorted(set(seen), reverse=True) == [1800.0, 600.0, 240.0]
    assert sum(a != b for a, b in pairwise(seen)) == 2


def test_names_do_not_hop_as_time_runs() -> None:
    """Through the way from 9 to 6 m no frame has texts on each other and no name flutters."""
    memory = StripMemory()
    changes: dict[str, int] = {}
    rng = np.random.default_rng(9)
    for i in range(120):
        base = approach_at(9.0 - 0.025 * i)
        assert base.to_contact.best_s is not None
        noisy = base.to_contact.best_s + float(rng.normal(0.0, 0.3))
        s = replace(base, to_contact=replace(base.to_contact, best_s=noisy))
        before = dict(memory.events or {})
        _, stand, now = drawn(s, memory=memory, ahead_s=240.0)
        assert overlapping((*stand.labels, *now.labels)) == []
        after = memory.events or {}
        for key in before.keys() | after.keys():
            changes[key] = changes.get(key, 0) + (before.get(key) != after.get(key))
    assert max(changes.values()) <= 8


@pytest.mark.parametrize(
    ("seconds", "text"), [(0, "0:00"), (60, "+1:00"), (-150, "−2:30"), (3600, "+1:00:00")]
)
def test_ticks_count_from_now_with_a_sign(seconds: int, text: str) -> None:
    """Times from now carry a sign, a real minus in the past."""
    assert signed_clock(seconds) == text


def test_words_say_what_comes() -> None:
    """The spoken form gives contact, hands-off, the last stop call, the next mark and light."""
    words = strip_words(nominal(), MARKS)
    for part in (
        "contact in 1:",
        "hands-off in 0:",
        "last stop call in 0:",
        "5 m in",
        "light: day",
    ):
        assert part in words
    assert strip_words(None, MARKS) == "No data yet."
