"""Editing a limits file's text: it says what the draft says, and the rest stays to the byte."""

from __future__ import annotations

import difflib
import random

import pytest

from console.app.input_file import load_limits
from console.core.errors import InputError
from console.core.ids import LimitId
from console.envelope.editing import edited, says_the_same
from console.envelope.limits import ContactLimit, Curve, DataRules, Limit, LimitsFile
from console.envelope.quantity import Quantity
from console.envelope.reading import parse_limits
from tests.fakes.changed import replace

SHIPPED = load_limits(None)


def changed_lines(before: str, after: str) -> list[str]:
    """Give the lines taken out and put in, marked as a diff marks them."""
    pairs = difflib.ndiff(before.splitlines(), after.splitlines())
    return [line for line in pairs if line[0] in "+-"]


def with_limits(limits: list[Limit], file: LimitsFile = SHIPPED) -> LimitsFile:
    """Give a draft with other limits."""
    return replace(file, limits=tuple(limits))


def test_a_draft_that_changes_nothing_changes_no_byte() -> None:
    """The text comes out as it went in."""
    assert edited(SHIPPED, SHIPPED, "l.toml") == SHIPPED.text


def test_a_point_moved_changes_its_line_alone() -> None:
    """The other points keep their spelling, the line its place."""
    first = SHIPPED.limits[0]
    curve = Curve(first.curve.ranges_m, (0.1, 0.1, 0.155, 0.6))
    draft = with_limits([replace(first, curve=curve), *SHIPPED.limits[1:]])
    assert changed_lines(SHIPPED.text, edited(SHIPPED, draft, "l.toml")) == [
        "- curve = [[0, 0.10], [2, 0.10], [20, 0.16], [200, 0.60]]",
        "+ curve = [[0, 0.10], [2, 0.10], [20, 0.155], [200, 0.60]]",
    ]


def test_a_comment_behind_a_value_stays_behind_it() -> None:
    """A new figure takes the old one's place before its comment."""
    draft = replace(SHIPPED, hands_off=replace(SHIPPED.hands_off, range_m=2.5))
    assert changed_lines(SHIPPED.text, edited(SHIPPED, draft, "l.toml")) == [
        "- range_m = 1.8            # no command from on board inside this range",
        "+ range_m = 2.5            # no command from on board inside this range",
    ]


def test_a_limit_taken_out_takes_its_own_comments_only() -> None:
    """The lines above it go; the next limit's and the section's comments stay."""
    draft = with_limits([one for one in SHIPPED.limits if one.id != "corridor-caution"])
    gone = changed_lines(SHIPPED.text, edited(SHIPPED, draft, "l.toml"))
    assert gone[0] == "- # Half-way to the corridor's edge and still going is worth a word."
    assert all(line.startswith("-") for line in gone)
    assert len(gone) == 13


@pytest.mark.parametrize("place", [0, 7, 19])
def test_a_limit_put_in_stands_where_the_draft_has_it(place: int) -> None:
    """First, between and last; every other line is left alone."""
    limit = replace(SHIPPED.limits[5], id=LimitId('new "one"'), action="Say \\ so\ttwice")
    limits = [*SHIPPED.limits[:place], limit, *SHIPPED.limits[place:]]
    text = edited(SHIPPED, with_limits(limits), "l.toml")
    assert all(line.startswith("+") for line in changed_lines(SHIPPED.text, text))
    assert parse_limits(text.encode(), "l.toml").limits[place] == limit


def test_everything_else_can_change_too() -> None:
    """Marks, ages, plan and contact limits, one of them added, one taken out, one opened."""
    contact = [one for one in SHIPPED.contact_limits if one.quantity is not Quantity.ROLL_RATE]
    contact[0] = ContactLimit(Quantity.CLOSING_RATE, None, 0.09)
    draft = replace(
        SHIPPED,
        title="Other",
        marks_m=(100.0, 10.0),
        data=DataRules(0.8, 4.0),
        contact_limits=tuple(contact),
    )
    read = parse_limits(edited(SHIPPED, draft, "l.toml").encode(), "l.toml")
    assert says_the_same(read, draft)
    back = parse_limits(edited(read, SHIPPED, "l.toml").encode(), "l.toml")
    assert says_the_same(back, SHIPPED)


def test_what_was_left_out_stays_left_out() -> None:
    """A default that is absent is not written unless the draft says otherwise."""
    bare = SHIPPED.text.replace('basis = "estimated"\n', "").replace(
        "[data]\nstale_after_s = 1.0      # ten samples of a 10 Hz source, two of a 2 Hz one\n"
        "lost_after_s = 5.0\n",
        "",
    )
    file = parse_limits(bare.encode(), "l.toml")
    assert says_the_same(file, SHIPPED)
    assert edited(file, file, "l.toml") == bare
    text = edited(file, replace(file, data=DataRules(1.0, 6.0)), "l.toml")
    assert parse_limits(text.encode(), "l.toml").data == DataRules(1.0, 6.0)


def test_line_ends_of_another_system_stay() -> None:
    """CRLF text is edited as CRLF, but for a limit that is new."""
    text = SHIPPED.text.replace("\n", "\r\n")
    file = parse_limits(text.encode(), "l.toml")
    draft = with_limits([replace(file.limits[0], deadband=0.005), *file.limits[2:]], file)
    out = edited(file, draft, "l.toml")
    assert "\r\ndeadband = 0.005\r\n" in out
    assert out.count("\n") == out.count("\r\n")


@pytest.mark.parametrize(
    ("curve", "said"),
    [(Curve((5.0, 2.0), (1.0, 1.0)), "5"), (Curve((0.0, 2.0), (1.0, float("nan"))), "nan")],
)
def test_a_draft_that_is_no_limits_file_is_refused(curve: Curve, said: str) -> None:
    """Ranges that fall and values that are no numbers are told like in any file."""
    draft = with_limits([replace(SHIPPED.limits[0], curve=curve), *SHIPPED.limits[1:]])
    with pytest.raises(InputError) as refused:
        edited(SHIPPED, draft, "l.toml")
    assert "closing-fast" in str(refused.value)
    assert said in str(refused.value)


def test_limits_in_another_order_are_refused() -> None:
    """What would need whole blocks moved is told, not half done."""
    draft = with_limits([SHIPPED.limits[1], SHIPPED.limits[0], *SHIPPED.limits[2:]])
    with pytest.raises(InputError, match="by hand"):
        edited(SHIPPED, draft, "l.toml")


def test_random_drafts_are_said_and_comments_kept() -> None:
    """Thirty drafts in a row: each is what the text says, no kept limit loses a comment."""
    random_ = random.Random(9)
    file = SHIPPED
    for _ in range(30):
        draft = _random_draft(random_, file)
        text = edited(file, draft, "l.toml")
        read = parse_limits(text.encode(), "l.toml")
        assert says_the_same(read, draft)
        kept = {limit.id for limit in draft.limits}
        if all(limit.id in kept for limit in file.limits):
            comments = [line for line in file.text.splitlines() if "#" in line]
            still = [line for line in text.splitlines() if "#" in line]
            assert [c.partition("#")[2] for c in comments] == [c.partition("#")[2] for c in still]
        file = read


def _random_draft(random_: random.Random, file: LimitsFile) -> LimitsFile:
    limits = list(file.limits)
    place = random_.randrange(len(limits))
    limit = limits[place]
    match random_.randrange(5):
        case 0:
            values = tuple(round(v * random_.uniform(0.9, 1.1), 4) for v in limit.curve.values)
            limits[place] = replace(limit, curve=Curve(limit.curve.ranges_m, values))
        case 1:
            last = limit.curve.ranges_m[-1]
            curve = limit.curve
            curve = Curve((*curve.ranges_m, last + 5.0), (*curve.values, curve.values[-1]))
            limits[place] = replace(limit, curve=curve)
        case 2:
            limits[place] = replace(limit, on_delay_s=random_.choice([0.0, 0.5, 3.0]), action="x")
        case 3:
            new = LimitId(f"n{random_.randrange(10**9)}")
            limits.insert(place, replace(limit, id=new, never_shelve=True))
        case _:
            if len(limits) > 5:
                del limits[place]
    return replace(file, limits=tuple(limits))


LISTED = """format = 1
title = "t"
revision = 7
author = "a"
reason = "r"
%s
# of the whole approach
[hands_off]
range_m = 1.8
link_delay_s = 1.5
reaction_s = 4.0
braking_mps2 = 0.01
[glide_slope]
curve = [[0, 0.09], [20, 0.09], [200, 0.55]]
[marks]
ranges_m = [10]
"""
ENTRY = (
    '{ id = "%s", quantity = "roll", level = "warning", allow = "below",'
    " curve = [[0, 1], [20, 2]], deadband = 0, on_delay_s = 0, off_delay_s = 0 }"
)
LISTS = {
    "empty": "limit = []\ncontact_limit = []",
    "one line": f"limit = [{ENTRY % 'a'}, {ENTRY % 'b'}]",
    "lines": f"limit = [\n  {ENTRY % 'a'},\n  {ENTRY % 'b'},\n]",
    "both": f'limit = [{ENTRY % "a"}]\ncontact_limit = [{{ quantity = "roll", max = 4 }}]',
}


@pytest.mark.parametrize("listed", LISTS.values(), ids=LISTS)
@pytest.mark.parametrize("kept", [0, 1, None], ids=["none kept", "the first out", "all kept"])
@pytest.mark.parametrize("added", [0, 1, 2])
def test_limits_in_brackets_become_tables(listed: str, kept: int | None, added: int) -> None:
    """Where any comes or goes; the rest of the file stands as it did."""
    opened = parse_limits((LISTED % listed).encode(), "l.toml")
    more = [replace(SHIPPED.limits[0], id=LimitId(f"new-{n}")) for n in range(added)]
    stay = opened.limits if kept is None else opened.limits[1:] if kept else ()
    contacts = (*opened.contact_limits, *SHIPPED.contact_limits[:added])
    draft = replace(opened, limits=(*stay, *more), contact_limits=contacts)
    text = edited(opened, draft, "l.toml")
    assert says_the_same(parse_limits(text.encode(), "l.toml"), draft)
    begin = opened.text.index("\n# of the whole approach")
    assert opened.text[begin:].rstrip() in text


def test_a_value_in_brackets_is_changed_where_it_stands() -> None:
    """As long as none comes or goes the list stays one."""
    opened = parse_limits((LISTED % LISTS["lines"]).encode(), "l.toml")
    draft = replace(opened, limits=(replace(opened.limits[0], deadband=0.5), opened.limits[1]))
    assert changed_lines(opened.text, edited(opened, draft, "l.toml")) == [
        f"-   {ENTRY % 'a'},",
        f"+   {ENTRY % 'a'},".replace("deadband = 0", "deadband = 0.5"),
    ]


def test_a_list_in_brackets_with_comments_is_left_to_its_writer() -> None:
    """Nobody can tell which of them a comment belongs to."""
    listed = LISTS["lines"].replace("\n]", "\n  # why\n]")
    opened = parse_limits((LISTED % listed).encode(), "l.toml")
    with pytest.raises(InputError, match="limit is a list in brackets with comments") as refused:
        edited(opened, replace(opened, limits=()), "l.toml")
    assert "write each under [[limit]]" in str(refused.value)
