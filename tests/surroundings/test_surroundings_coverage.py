"""Link coverage: the worked plan, half-open windows, handovers, and every fault with its line."""

from __future__ import annotations

import time
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from console.core.errors import InputError
from console.core.utc import parse_utc
from console.surroundings.coverage import Coverage, Handover, Link, Window, WindowKind
from console.surroundings.coverage_reading import parse_coverage
from console.surroundings.interval import Interval, union, without

HEAD = "start,end,link,kind,note\n"


def utc(clock: str) -> float:
    """Give a time of the day of the plan."""
    return parse_utc(f"2031-04-10T{clock}Z")


def span(start: str, end: str) -> Interval:
    """Give a stretch of the day of the plan."""
    return Interval(utc(start), utc(end))


def row(start: str, end: str, link: str, kind: str = "coverage", note: str = "") -> str:
    """Write a row of the plan."""
    return f"2031-04-10T{start}Z,2031-04-10T{end}Z,{link},{kind},{note}\n"


def plan(*rows: str) -> Coverage:
    """Read a plan of rows."""
    return parse_coverage((HEAD + "".join(rows)).encode(), "plan.csv")


A = row("08:00:00", "08:21:30", "A")
B = row("08:21:45", "08:58:00", "B")
G1 = row("08:20:00", "08:27:10", "G1")


def test_worked_plan_with_a_ground_station_has_no_gap() -> None:
    """A to 08:21:30, B from 08:21:45, G1 across: one stretch 08:00:00 to 08:58:00."""
    made = plan(A, B, G1)
    assert made.covered == (span("08:00:00", "08:58:00"),)
    assert made.gaps == ()
    assert made.extent == span("08:00:00", "08:58:00")


def test_worked_plan_without_it_has_a_gap_of_15_seconds() -> None:
    """08:21:30 to 08:21:45."""
    made = plan(B, A)
    assert made.gaps == (span("08:21:30", "08:21:45"),)
    assert made.gaps[0].length_s == 15.0
    assert made.gap_at(utc("08:21:30")) == made.gaps[0]
    assert made.gap_at(utc("08:21:45")) is None
    assert made.handovers == ()


def test_worked_plan_hands_over_with_margin() -> None:
    """A to G1 with 90 s of both, G1 to B with 5 min 25 s."""
    made = plan(G1, B, A)
    assert [(h.giving, h.taking, h.span) for h in made.handovers] == [
        ("A", "G1", span("08:20:00", "08:21:30")),
        ("G1", "B", span("08:21:45", "08:27:10")),
    ]
    assert [h.span.length_s for h in made.handovers] == [90.0, 325.0]
    assert made.links_at(utc("08:21:00")) == ("G1", "A")


def test_windows_are_half_open() -> None:
    """The start belongs to a window, the end does not; touching leaves no gap and no margin."""
    made = plan(row("08:00:00", "08:10:00", "A"), row("08:10:00", "08:20:00", "B"))
    assert made.gaps == ()
    assert made.links_at(utc("08:10:00")) == ("B",)
    assert made.handovers[0].span.length_s == 0.0
    assert made.at(utc("08:00:00")) is Link.COVERED
    assert made.at(utc("08:20:00")) is Link.UNKNOWN


def test_outside_the_plan_coverage_is_unknown() -> None:
    """Neither covered nor a gap; a plan without coverage knows nothing at all."""
    made = plan(A, B)
    assert made.at(utc("07:59:59")) is Link.UNKNOWN
    assert made.at(utc("08:21:40")) is Link.GAP
    assert made.at(utc("09:00:00")) is Link.UNKNOWN
    for empty in (plan(), plan(row("08:00:00", "09:00:00", "A", "outage"))):
        assert empty.extent is None
        assert empty.gaps == ()
        assert empty.at(utc("08:30:00")) is Link.UNKNOWN


def test_an_outage_takes_its_own_link_away() -> None:
    """And only that one; at the plan's edge it makes a gap, not the unknown."""
    outage = row("08:05:00", "08:06:00", "A", "outage", "antenna stowed")
    alone = plan(A, outage)
    assert alone.gaps == (span("08:05:00", "08:06:00"),)
    beside = plan(A, outage, row("08:04:00", "08:07:00", "B"))
    assert beside.gaps == ()
    assert beside.per_link["A"] == (
        span("08:00:00", "08:05:00"), span("08:06:00", "08:21:30")
    )  # fmt: skip
    edge = plan(A, row("08:00:00", "08:01:00", "A", "outage"))
    assert edge.at(utc("08:00:30")) is Link.GAP


def test_events_say_nothing_of_coverage() -> None:
    """They are listed in order, a moment among them."""
    made = plan(
        A, row("08:09:00", "08:09:00", "", "event", "crew change"),
        row("08:01:00", "08:02:00", "B", "event", "switch"),
    )  # fmt: skip
    assert [w.note for w in made.events] == ["switch", "crew change"]
    assert set(made.per_link) == {"A"}
    assert made.links_at(utc("08:01:30")) == ("A",)


def test_columns_may_stand_in_any_order_and_note_may_be_left_out() -> None:
    """Comments, empty lines, a byte order mark and Windows line ends do no harm."""
    text = (
        "\ufeff# plan of the day\r\nkind,link,end,start\r\n\r\n"
        "coverage,A,2031-04-10T08:10:00Z,2031-04-10T08:00:00.5Z\r\n"
    )
    made = parse_coverage(text.encode(), "plan.csv")
    assert made.windows == (
        Window(Interval(utc("08:00:00.5"), utc("08:10:00")), "A", WindowKind.COVERAGE),
    )
    assert made.name == "plan.csv"


@pytest.mark.parametrize(
    ("text", "place", "found", "mend"),
    [
        ("", "", "empty", "begin with the line start,end,link,kind,note"),
        ("start,end,link\n", "line 1", 'no column "kind"', "the columns are"),
        ("start,stop,link,kind\n", "line 1", 'unknown column "stop"', "the columns are"),
        ("start,end,link,kind,notes\n", "line 1", '"notes"', 'did you mean "note"?'),
        ("start,end,link,kind,link\n", "line 1", '"link" twice', "keep one"),
        (HEAD + "a,b\n", "line 2", "2 values under 5 headings", "one value"),
        (HEAD + A + row("08:10:00", "08:09:59", "A"), "line 3, end", "not after", "ends after"),
        (HEAD + row("08:10:00", "08:10:00", "A"), "line 2, end", "not after", "ends after"),
        (HEAD + row("08:10:00", "08:09:00", "", "event"), "line 2, end", "not after", "ends"),
        (HEAD + A.replace("08:00:00Z", "08:00:00"), "line 2, start", "no Z", "a UTC time"),
        (HEAD + A.replace("2031-04-10T08:00:00Z", "NaN"), "line 2, start", "'NaN'", "a UTC time"),
        (HEAD + A.replace("2031-04-10T08:21:30Z", ""), "line 2, end", "empty", "a UTC time"),
        (HEAD + A.replace("04-10T08:21", "02-30T08:21"), "line 2, end", "", "a UTC time"),
        (HEAD + row("08:00:00", "08:01:00", ""), "line 2, link", "empty", "name the link"),
        (HEAD + row("08:00:00", "08:01:00", "A", "covered"), "line 2, kind", '"covered"',
         "coverage, outage, event"),
        (HEAD + row("08:00:00", "08:01:00", "A", ""), "line 2, kind", '""', "coverage, outage"),
        (HEAD + 'x,"y', "line 2", "not CSV", "comma"),
    ],
)  # fmt: skip
def test_each_fault_is_told_in_its_line(text: str, place: str, found: str, mend: str) -> None:
    """Line and column, what was found, what is allowed."""
    with pytest.raises(InputError) as refused:
        parse_coverage(text.encode(), "plan.csv")
    fault = refused.value.faults[0]
    assert fault.place == place
    assert found in fault.found
    assert mend in fault.mend


def test_all_faults_are_told_at_once() -> None:
    """Two bad rows, three faults."""
    bad = HEAD + row("08:10:00", "08:09:00", "A") + A + "now,then,,link,\n"
    with pytest.raises(InputError) as refused:
        parse_coverage(bad.encode(), "plan.csv")
    places = [fault.place for fault in refused.value.faults]
    assert places == [
        "line 2, end",
        "line 4, kind",
        "line 4, start",
        "line 4, end",
        "line 4, link",
    ]


def test_bytes_that_are_no_text_are_refused() -> None:
    """With the line they stand in."""
    with pytest.raises(InputError, match="line 2: byte 0xff is not UTF-8"):
        parse_coverage(HEAD.encode() + b"\xff", "plan.csv")


@settings(deadline=None, max_examples=200)
@given(st.lists(
    st.tuples(st.integers(0, 40), st.integers(1, 12), st.sampled_from("ABC"),
              st.sampled_from(["coverage", "coverage", "outage", "event"])), max_size=8,
))  # fmt: skip
def test_against_counting_every_second(rows: list[tuple[int, int, str, str]]) -> None:
    """Covered, gap and links of each second as a naive reading of all rows gives them."""
    made = Coverage(
        tuple(Window(Interval(s, s + n), link, WindowKind(kind)) for s, n, link, kind in rows)
    )
    planned = [(s, s + n) for s, n, _, kind in rows if kind == "coverage"]
    for second in range(-1, 60):
        there = set()
        for name in "ABC":
            mine = [(s, s + n, kind) for s, n, link, kind in rows if link == name]
            on = any(s <= second < e for s, e, kind in mine if kind == "coverage")
            off = any(s <= second < e for s, e, kind in mine if kind == "outage")
            if on and not off:
                there.add(name)
        assert set(made.links_at(second)) == there
        inside = bool(planned) and (
            min(s for s, _ in planned) <= second < max(e for _, e in planned)
        )
        expected = Link.UNKNOWN if not inside else Link.COVERED if there else Link.GAP
        assert made.at(second) is expected
        assert (made.gap_at(second) is not None) == (expected is Link.GAP)
        fall = None if made.condition is None else made.condition.fall(second)
        assert (fall is None) == (expected is Link.UNKNOWN)
        if fall is not None and made.extent is not None:
            assert fall.is_good == (expected is Link.COVERED)
            assert fall.stretch.holds(second)
            assert (fall.before is None) == (fall.stretch.t_start == made.extent.t_start)
            assert (fall.after is None) == (fall.stretch.t_end == made.extent.t_end)
            assert fall.before is None or fall.before.t_end == fall.stretch.t_start
            assert fall.after is None or fall.after.t_start == fall.stretch.t_end
    assert made.handovers == naive_handovers(made)


def naive_handovers(made: Coverage) -> tuple[Handover, ...]:
    """Look at all stretches of all links for every stretch that ends."""
    found = []
    for giving, spans in made.per_link.items():
        for ending in spans:
            others = [
                (one.t_end, name, one)
                for name, mine in made.per_link.items()
                for one in mine
                if name != giving and one.t_start <= ending.t_end < one.t_end
            ]
            if others:
                _, name, one = max(others)
                both = Interval(max(one.t_start, ending.t_start), ending.t_end)
                found.append(Handover(giving, name, both))
    return tuple(sorted(found, key=lambda h: h.span))


@settings(deadline=None, max_examples=200)
@given(*[st.lists(st.tuples(st.integers(0, 30), st.integers(1, 9)), max_size=6)] * 2)
def test_what_is_taken_out_is_gone_second_by_second(
    kept: list[tuple[int, int]], taken: list[tuple[int, int]]
) -> None:
    """In any order, overlapping or not; what is left is in order and apart."""
    first, second = ([Interval(s, s + n) for s, n in rows] for rows in (kept, taken))
    left = without(union(first), second)
    for t in range(45):
        expected = any(one.holds(t) for one in first) and not any(one.holds(t) for one in second)
        assert sum(one.holds(t) for one in left) == expected
    assert all(one.t_end < other.t_start for one, other in pairwise(left))


@pytest.mark.parametrize("links", [3, 30_000])
def test_a_plan_of_30_000_rows_is_ready_at_once(links: int) -> None:
    """Half a second of the processor; looking at each pair of rows would take a minute."""
    made = Coverage(
        tuple(
            Window(Interval(i * 100.0, i * 100.0 + 50.0 + i % 7 * 20.0), f"L{i % links}",
                   WindowKind.COVERAGE)
            for i in range(30_000)
        )
    )  # fmt: skip
    begun = time.process_time()
    assert made.gaps
    assert made.handovers
    for second in range(500):
        assert made.condition is not None
        assert made.condition.fall(second * 5000.0 + 1.0) is not None
    assert time.process_time() - begun < 5.0


def test_union_and_difference_of_stretches() -> None:
    """Overlapping and touching ones join; holes are cut out of the middle and the ends."""
    one, two, three = Interval(0.0, 2.0), Interval(2.0, 3.0), Interval(5.0, 9.0)
    assert union([three, two, one]) == (Interval(0.0, 3.0), three)
    assert without((three,), (Interval(6.0, 7.0), Interval(8.5, 10.0))) == (
        Interval(5.0, 6.0), Interval(7.0, 8.5)
    )  # fmt: skip
    assert without((three,), (Interval(0.0, 20.0),)) == ()
