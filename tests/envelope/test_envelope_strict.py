"""The strict reader by itself: accessors, placeholders, faults."""

from __future__ import annotations

import math
from enum import StrEnum

import pytest

from console.core.errors import InputError
from console.envelope.strict import Reader
from console.envelope.strict_table import words_of
from console.envelope.strict_value import POSITIVE, Bounds, finite_number, shown_value


class Colour(StrEnum):
    """Something to choose from."""

    RED = "red"
    GREEN = "green"


def read(text: str) -> Reader:
    """Begin reading a text."""
    return Reader(text.encode(), "f.toml")


def faults(reader: Reader) -> list[str]:
    """Finish; give the faults as lines."""
    with pytest.raises(InputError) as refused:
        reader.finish()
    return [str(fault) for fault in refused.value.faults]


def test_accessors_give_what_stands_there() -> None:
    """Each kind of value, and defaults where nothing stands."""
    reader = read('n = 2\ni = 3\nt = "x"\nb = true\nc = "green"\nl = [1, 2.5]\ns = ["a"]\n')
    root = reader.root
    assert (root.number("n"), root.number("no", 1.5)) == (2.0, 1.5)
    assert (root.number_or_none("n"), root.number_or_none("no")) == (2.0, None)
    assert (root.integer("i"), root.integer("no", 4)) == (3, 4)
    assert (root.text("t"), root.text("no", "y")) == ("x", "y")
    assert (root.flag("b"), root.flag("no", True)) == (True, True)
    assert root.choice("c", words_of(Colour)) is Colour.GREEN
    assert root.choice("no", words_of(Colour), Colour.GREEN) is Colour.GREEN
    assert (root.numbers("l"), root.numbers("no", [7])) == ((1.0, 2.5), (7.0,))
    assert (root.texts("s"), root.texts("no", ["z"])) == (("a",), ("z",))
    assert (root.holds_list("l"), root.holds_table("l"), root.holds_list("n")) == (
        True, False, False
    )  # fmt: skip
    reader.finish()


def test_what_was_refused_is_stood_for_by_a_placeholder() -> None:
    """NaN, nothing, the first choice: so that reading can go on."""
    reader = read(
        'n = "x"\ni = 1.5\nt = 1\nb = 1\nc = "rad"\nl = [1, "x"]\ns = [1]\np = [[1, "x"]]\n'
    )
    root = reader.root
    assert math.isnan(root.number("n"))
    assert (root.integer("i"), root.text("t"), root.flag("b")) == (0, "", False)
    assert root.choice("c", words_of(Colour)) is Colour.RED
    assert [math.isnan(x) for x in root.numbers("l")] == [False, True]
    assert root.texts("s") == ()
    assert all(math.isnan(x) for point in root.points("p") for x in point)
    assert root.was_refused("n")
    assert not root.was_refused("no")
    assert len(faults(reader)) == 8


def test_unknown_keys_are_found_at_every_depth() -> None:
    """Also in tables nobody entered, as the table itself."""
    reader = read("[a]\nx = 1\nz = 2\n[a.b]\ny = 1\n[c]\n[[r]]\nq = 1\n")
    a = reader.root.table("a")
    a.number("x")
    a.table("b")
    reader.root.tables("r")
    assert faults(reader) == [
        "line 3, a.z: unknown key: allowed: b, x",
        "line 5, a.b.y: unknown key: nothing may stand here",
        "line 6, c: unknown key: allowed: a, r",
        "line 8, r[1].q: unknown key: nothing may stand here",
    ]


def test_a_missing_table_is_told_once_and_an_optional_one_not_at_all() -> None:
    """Keys of a table that is not there are not told one by one."""
    reader = read("")
    assert math.isnan(reader.root.table("need").number("x"))
    assert math.isnan(reader.root.table("may", required=False).number("x"))
    assert faults(reader) == ["need: missing: add a table, headed [need]"]


def test_an_element_that_is_no_table_is_told() -> None:
    """An array of tables holds tables only."""
    reader = read('r = [{ name = "x" }, 3]\n')
    (row,) = reader.root.tables("r", "name")
    assert row.text("name") == "x"
    assert faults(reader) == [
        "line 1, r[2]: found 3: must be an array of tables, each headed [[r]]"
    ]


def test_keys_and_texts_are_shown_so_that_a_terminal_is_safe() -> None:
    """Control characters are escaped, long values cut."""
    reader = read('"a\\u001b[2Jb" = 1\nx = "\\u001b[2J' + "y" * 100 + '"\n')
    reader.root.number("x")
    first, second = faults(reader)
    assert first.startswith('line 1, "a\\u001b[2Jb": unknown key')
    assert "\x1b" not in second
    assert "…" in second


@pytest.mark.parametrize(
    ("bounds", "inside", "outside", "words"),
    [
        (Bounds(), [-1e300, 0.0], [], "a number"),
        (POSITIVE, [1e-9], [0.0, -1.0], "a number above 0"),
        (Bounds(least=0.0, most=1.0), [0.0, 1.0], [-0.1, 1.1],
         "a number of at least 0 and at most 1"),
        (Bounds(above=0.0, below=1.0), [0.5], [0.0, 1.0], "a number above 0 and below 1"),
    ],
)  # fmt: skip
def test_bounds_hold_and_say_what_they_say(
    bounds: Bounds, inside: list[float], outside: list[float], words: str
) -> None:
    """Closed and open sides; NaN keeps to no bound."""
    assert all(bounds.hold(x) for x in inside)
    assert not any(bounds.hold(x) for x in outside)
    assert bounds == Bounds() or not bounds.hold(math.nan)
    assert bounds.words("a number") == words


@pytest.mark.parametrize("value", [True, False, "1", None, math.nan, math.inf, 10**400, [1]])
def test_only_finite_numbers_are_numbers(value: object) -> None:
    """A boolean is an int to Python and none to us."""
    assert finite_number(value) is None


def test_values_are_shown_nearly_as_toml_writes_them() -> None:
    """Short, quoted, one line."""
    assert shown_value([True, "a", 1, 2.5]) == '[true, "a", 1, 2.5]'
    assert shown_value({"a": 1}) == "a table"
    assert shown_value(1 << 70_000) == "an integer of 70001 bits"
    assert len(shown_value("x" * 100)) == 40
