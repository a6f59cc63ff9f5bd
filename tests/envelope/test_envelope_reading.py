"""The limits file: every fault is told in one clear line, with the right line number."""

from __future__ import annotations

import hashlib
import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from console.core.errors import Fault, InputError
from console.envelope.limits import Allow, Basis, DataRules, Level, LimitsFile
from console.envelope.quantity import AT_CONTACT, MEASURED_ONLY, Quantity
from console.envelope.reading import parse_limits

BASE = """\
format = 1
title = "Port C final approach"
revision = 7
author = "A"
reason = "R"

[hands_off]
range_m = 1.8            # no command from on board inside this range
link_delay_s = 1.5
reaction_s = 4
braking_mps2 = 0.01

[glide_slope]
curve = [[0, 0.09], [20, 0.09], [200, 0.55]]

[marks]
ranges_m = [200, 150, 100, 50, 30, 20, 10, 5, 4, 3, 2, 1]

[data]
stale_after_s = 1.0
lost_after_s = 5.0

[[limit]]
id = "closing-fast"
quantity = "closing_rate"
basis = "measured"
level = "warning"
allow = "below"
curve = [[0, 0.10], [2, 0.10],
         [20, 0.16], [200, 0.60]]
deadband = 0.004
on_delay_s = 0.5
off_delay_s = 2.0
action = "Call hold"
never_shelve = false

[[limit]]
id = "gap"
quantity = "source_gap"
basis = "measured"
level = "caution"
allow = "below"
curve = [[0, 0.3]]
deadband = 0
on_delay_s = 0
off_delay_s = 0

[[contact_limit]]
quantity = "closing_rate"
min = 0.05
max = 0.10

[[contact_limit]]
quantity = "roll"
max = 4
"""


def faults_of(text: str | bytes) -> tuple[Fault, ...]:
    """Read a text that must be refused; give its faults."""
    data = text if isinstance(text, bytes) else text.encode()
    with pytest.raises(InputError) as refused:
        parse_limits(data, "limits.toml")
    line = str(refused.value)
    assert line.startswith("limits.toml: ")
    assert "\n" not in line
    return refused.value.faults


@pytest.mark.parametrize(
    ("old", "new", "place"),
    [
        ("range_m = 1.8 ", "range_m = 1e300 ", "hands_off.range_m"),
        ("link_delay_s = 1.5", "link_delay_s = 1e9", "hands_off.link_delay_s"),
        ("reaction_s = 4", "reaction_s = 1e300", "hands_off.reaction_s"),
        ("braking_mps2 = 0.01", "braking_mps2 = 1e-300", "hands_off.braking_mps2"),
        ("[200, 0.55]]", "[200, 1e300]]", "glide_slope.curve[3]"),
        ("[200, 0.60]]", "[1e308, 0.60]]", "limit[closing-fast].curve[4]"),
        ("[[0, 0.3]]", "[[0, -1e308]]", "limit[gap].curve[1]"),
        ("deadband = 0.004", "deadband = 1e300", "limit[closing-fast].deadband"),
        ("on_delay_s = 0.5", "on_delay_s = 1e9", "limit[closing-fast].on_delay_s"),
        ("off_delay_s = 2.0", "off_delay_s = 1e9", "limit[closing-fast].off_delay_s"),
        ("ranges_m = [200,", "ranges_m = [1e300,", "marks.ranges_m[1]"),
        ("stale_after_s = 1.0", "stale_after_s = 1e9", "data.stale_after_s"),
        ("lost_after_s = 5.0", "lost_after_s = 1e9", "data.lost_after_s"),
        ("max = 4", "max = 1e300", "contact_limit[roll].max"),
    ],
)
def test_a_number_beyond_all_reason_is_refused(old: str, new: str, place: str) -> None:
    """In its place, with what is allowed."""
    assert old in BASE
    told = [fault for fault in faults_of(BASE.replace(old, new, 1)) if fault.place.endswith(place)]
    assert len(told) == 1
    assert "a number" in told[0].mend
    assert "at most" in told[0].mend


def test_a_glide_slope_begins_at_range_0() -> None:
    """Not behind the port: the knee and the final rate would be read off where nothing flies."""
    behind = BASE.replace("[[0, 0.09], [20, 0.09],", "[[-5, 0.09], [-2, 0.09],")
    (fault,) = faults_of(behind)
    assert fault.place.endswith("glide_slope.curve[1]")
    assert fault.found == "begins at -5 m"
    assert "range 0" in fault.mend


def test_a_right_file_is_read_whole() -> None:
    """Every value stands where the file says, integers count as floats, the hash is the bytes'."""
    file = parse_limits(BASE.encode(), "limits.toml")
    assert (file.title, file.revision, file.author, file.reason) == (
        "Port C final approach", 7, "A", "R"
    )  # fmt: skip
    assert (file.hands_off.range_m, file.hands_off.reaction_s) == (1.8, 4.0)
    assert isinstance(file.hands_off.reaction_s, float)
    assert (file.glide_slope.knee_m, file.glide_slope.final_rate_mps) == (20.0, 0.09)
    assert file.marks_m[:3] == (200.0, 150.0, 100.0)
    assert file.data == DataRules(1.0, 5.0)
    first, second = file.limits
    assert (first.id, first.quantity, first.basis) == (
        "closing-fast", Quantity.CLOSING_RATE, Basis.MEASURED
    )  # fmt: skip
    assert (first.level, first.allow, first.action) == (Level.WARNING, Allow.BELOW, "Call hold")
    assert (first.deadband, first.on_delay_s, first.off_delay_s) == (0.004, 0.5, 2.0)
    assert first.curve.ranges_m == (0.0, 2.0, 20.0, 200.0)
    assert first.curve.values == (0.10, 0.10, 0.16, 0.60)
    assert (second.action, second.never_shelve, second.level) == ("", False, Level.CAUTION)
    closing, roll = file.contact_limits
    assert (closing.minimum, closing.maximum) == (0.05, 0.10)
    assert (roll.quantity, roll.minimum, roll.maximum) == (Quantity.ROLL, None, 4.0)
    assert file.sha256 == hashlib.sha256(BASE.encode()).hexdigest()
    assert file.text == BASE


def test_what_may_be_left_out_has_its_default() -> None:
    """No data section, no limit, no contact limit; basis, action and never_shelve of a limit."""
    bare = BASE.split("[data]")[0]
    file = parse_limits(bare.encode(), "limits.toml")
    assert (file.data, file.limits, file.contact_limits) == (DataRules(1.0, 5.0), (), ())
    slim = BASE.replace('basis = "measured"\nlevel = "warning"', 'level = "warning"')
    slim = slim.replace('action = "Call hold"\nnever_shelve = false\n', "")
    first = parse_limits(slim.encode(), "limits.toml").limits[0]
    assert (first.basis, first.action, first.never_shelve) == (Basis.ESTIMATED, "", False)


def test_windows_line_ends_change_nothing_but_the_hash() -> None:
    """CRLF is valid TOML, and lines are counted alike."""
    data = BASE.replace("\n", "\r\n").encode()
    assert parse_limits(data, "x").limits == parse_limits(BASE.encode(), "x").limits
    (fault,) = faults_of(BASE.replace("reaction_s = 4", "reaction_s = -4").replace("\n", "\r\n"))
    assert fault.place == "line 10, hands_off.reaction_s"


FIRST = 'id = "closing-fast"\n'
CASES = [
    # what is replaced, by what, the place after its line, found, allowed
    ("format = 1", "format = 2", "format", "found 2", "format = 1"),
    ("format = 1", 'format = "1"', "format", 'found "1"', "an integer"),
    ("format = 1", "format = 1.0", "format", "found 1.0", "an integer"),
    ("format = 1", "format = true", "format", "found true", "an integer"),
    ('title = "Port C', 'titel = "x"\ntitle = "Port C', "titel", "unknown key", '"title"?'),
    ('author = "A"', "author = 3", "author", "found 3", "a text"),
    ("revision = 7", "revision = -1", "revision", "found -1", "at least 0"),
    ("revision = 7", "revision = 7.5", "revision", "found 7.5", "an integer"),
    ("range_m = 1.8 ", "range_m = 0 ", "hands_off.range_m", "found 0", "above 0"),
    ("range_m = 1.8 ", "range_m = nan ", "hands_off.range_m", "found nan", "finite"),
    ("range_m = 1.8 ", "range_m = true ", "hands_off.range_m", "found true", "a number"),
    ("link_delay_s = 1.5", "link_delay_s = -1", "hands_off.link_delay_s", "-1", "at least 0"),
    ("reaction_s = 4", 'reaction_s = "4"', "hands_off.reaction_s", '"4"', "a number"),
    ("braking_mps2 = 0.01", "braking_mps2 = 0", "hands_off.braking_mps2", "0", "least 1e-06"),
    ("braking_mps2 = 0.01", "braking_mps2 = inf", "hands_off.braking_mps2", "inf", "finite"),
    ("braking_mps2 =", "breaking_mps2 = 1\nbraking_mps2 =", "hands_off.breaking_mps2",
     "unknown key", '"braking_mps2"?'),
    ("curve = [[0, 0.09], [20, 0.09], [200, 0.55]]", "curve = [[0, 0.09]]", "glide_slope.curve",
     "found 1", "2 points"),
    ("curve = [[0, 0.09],", "curve = [[1, 0.09],", "glide_slope.curve[1]", "begins at 1 m",
     "range 0"),
    ("curve = [[0, 0.09],", "curve = [[0, 0.0],", "glide_slope.curve[1]", "0 m/s", "above 0"),
    ("ranges_m = [200,", "ranges_m = [-200,", "marks.ranges_m[1]", "-200", "above 0"),
    ("ranges_m = [200, 150", "ranges_m = [200, 200", "marks.ranges_m[2]", "200 twice", "once"),
    ("ranges_m = [200, 150,", 'ranges_m = [200, "150",', "marks.ranges_m[2]", '"150"', "number"),
    ("stale_after_s = 1.0", "stale_after_s = 0", "data.stale_after_s", "found 0", "above 0"),
    ("lost_after_s = 5.0", "lost_after_s = 0.5", "data.lost_after_s", "0.5 is below", "before"),
    ("lost_after_s = 5.0", "lost_after = 5.0", "data.lost_after", "unknown", '"lost_after_s"?'),
    (FIRST, 'id = "a:b"\n', "limit[a:b].id", 'found "a:b"', "no colon"),
    (FIRST, 'id = ""\n', "limit[1].id", 'found ""', "not empty"),
    (FIRST, 'id = "gap"\n', None, '"gap" is used before', "its own id"),
    (FIRST, 'id = "a\\u001b[2J"\n', None, "found", "control character"),
    ('"closing_rate"\nbasis', '"closing_rat"\nbasis', "limit[closing-fast].quantity",
     '"closing_rat"', 'did you mean "closing_rate"? allowed: closing_rate, lateral_offset'),
    ('basis = "measured"\nlevel = "w', 'basis = "Measured"\nlevel = "w',
     "limit[closing-fast].basis", '"Measured"', 'did you mean "measured"?'),
    ('level = "warning"', 'level = "warnign"', "limit[closing-fast].level", '"warnign"',
     'did you mean "warning"? allowed: caution, warning'),
    ('level = "warning"', 'level = "advisory"', "limit[closing-fast].level", '"advisory"',
     "allowed: caution, warning"),
    ('level = "warning"', "level = 2", "limit[closing-fast].level", "found 2", "allowed"),
    ('allow = "below"\ncurve = [[0, 0.10]', 'allow = "under"\ncurve = [[0, 0.10]',
     "limit[closing-fast].allow", '"under"', "allowed: below, above"),
    ("[20, 0.16]", "[2, 0.16]", "limit[closing-fast].curve[3]", "2 after 2", "increase"),
    ("[20, 0.16]", "[1, 0.16]", "limit[closing-fast].curve[3]", "1 after 2", "increase"),
    ("[20, 0.16]", "[20, nan]", "limit[closing-fast].curve[3]", "[20, nan]", "finite"),
    ("[20, 0.16]", "[20]", "limit[closing-fast].curve[3]", "[20]", "[x, y]"),
    ("[20, 0.16]", "20", "limit[closing-fast].curve[3]", "found 20", "[x, y]"),
    ("[20, 0.16]", "[20, 0.16, 3]", "limit[closing-fast].curve[3]", "[20, 0.16, 3]", "[x, y]"),
    ("curve = [[0, 0.3]]", "curve = []", "limit[gap].curve", "found 0", "1 point"),
    ("curve = [[0, 0.3]]", "curve = 0.3", "limit[gap].curve", "found 0.3", "list"),
    ("deadband = 0.004", "deadband = -0.004", "limit[closing-fast].deadband", "-0.004", "least 0"),
    ("on_delay_s = 0.5", "on_delay_s = -0.5", "limit[closing-fast].on_delay_s", "-0.5", "least 0"),
    ("off_delay_s = 2.0", "off_delay_s = -2", "limit[closing-fast].off_delay_s", "-2", "least 0"),
    ("off_delay_s = 2.0", "off_delay = 1\noff_delay_s = 2.0", "limit[closing-fast].off_delay",
     "unknown key", '"off_delay_s"?'),
    ("never_shelve = false", "never_shelve = 0", "limit[closing-fast].never_shelve", "0",
     "true or false"),
    ('action = "Call hold"', "action = 1", "limit[closing-fast].action", "found 1", "a text"),
    ('basis = "measured"\nlevel = "c', 'basis = "estimated"\nlevel = "c', "limit[gap].basis",
     '"estimated"', '"measured" only'),
    ('quantity = "roll"\n', 'quantity = "source_gap"\n', "contact_limit[source_gap].quantity",
     '"source_gap"', "allowed: closing_rate"),
    ('quantity = "roll"\n', 'quantity = "closing_rate"\n', "contact_limit[closing_rate].quantity",
     "used before", "in one contact_limit"),
    ("min = 0.05", "min = 0.5", "contact_limit[closing_rate].min", "0.5 above max 0.1", "exceed"),
    ("max = 4\n", "max = inf\n", "contact_limit[roll].max", "inf", "finite"),
    ("max = 4\n", 'max = "4"\n', "contact_limit[roll].max", '"4"', "a number"),
    ("[[contact_limit]]\nquantity = \"roll\"\nmax", "[[contact_limit]]\nquantity = \"roll\"\nmaxi",
     "contact_limit[roll].maxi", "unknown key", '"max"?'),
]  # fmt: skip


@pytest.mark.parametrize(("old", "new", "place", "found", "mend"), CASES)
def test_each_fault_is_told_in_its_place(
    old: str, new: str, place: str | None, found: str, mend: str
) -> None:
    """Found, allowed, key path, and the line on which the changed key really stands."""
    assert old in BASE
    text = BASE.replace(old, new, 1)
    faults = faults_of(text)
    told = [f for f in faults if found in f.found and mend in f.mend]
    assert len(told) == 1, [str(f) for f in faults]
    (fault,) = told
    line = re.match(r"line (\d+)", fault.place)
    assert line is not None
    if place is not None:
        assert fault.place == f"{line.group()}, {place}"
        last_key = re.sub(r"\[\d+\]$", "", place).rsplit(".", 1)[-1]
        stands = text.splitlines()[int(line.group(1)) - 1]
        assert last_key in stands or last_key == "curve"


SINGLE = [case for case in CASES if "maxi" not in case[1]]  # that one also lacks its max


@pytest.mark.parametrize(("old", "new"), [case[:2] for case in SINGLE])
def test_one_mistake_is_one_fault(old: str, new: str) -> None:
    """One wrong value brings no others after it."""
    assert len(faults_of(BASE.replace(old, new, 1))) == 1


def test_the_third_point_of_a_curve_over_two_lines_has_the_second_line() -> None:
    """The line is that of the point itself."""
    (fault,) = faults_of(BASE.replace("[20, 0.16]", "[1, 0.16]"))
    assert BASE.splitlines()[int(re.findall(r"\d+", fault.place)[0]) - 1].strip().startswith("[20")


REQUIRED = [
    "format", "title", "revision", "author", "reason", "range_m", "link_delay_s", "reaction_s",
    "braking_mps2", "curve", "ranges_m", "id", "quantity", "level", "allow", "deadband",
    "on_delay_s", "off_delay_s",
]  # fmt: skip


@pytest.mark.parametrize("key", REQUIRED)
def test_a_missing_key_is_told(key: str) -> None:
    """What has no default must stand, and is told by its whole name."""
    text = re.sub(rf"(?m)^{key} = .*(\n +.*)?\n", "", BASE, count=1)
    (fault,) = faults_of(text)
    assert fault.found == "missing"
    assert re.search(rf"(^|[ .]){key}$", fault.place)
    assert fault.mend


@pytest.mark.parametrize("section", ["hands_off", "glide_slope", "marks"])
def test_a_missing_section_is_one_fault(section: str) -> None:
    """Its keys are not told one by one."""
    text = re.sub(rf"(?ms)^\[{section}\]\n.*?\n\n", "", BASE)
    (fault,) = faults_of(text)
    assert (fault.place, fault.found) == (section, "missing")
    assert f"[{section}]" in fault.mend


def test_basis_of_a_measured_only_quantity_must_be_written() -> None:
    """Its default would be the estimated one, which does not exist."""
    (fault,) = faults_of(BASE.replace('basis = "measured"\nlevel = "c', 'level = "c'))
    assert fault.found == 'missing, so "estimated"'


def test_two_empty_ids_are_two_faults() -> None:
    """They are not told as duplicates of each other as well."""
    assert len(faults_of(BASE.replace(FIRST, 'id = ""\n').replace('"gap"', '""'))) == 2


def test_a_contact_limit_needs_a_side() -> None:
    """Neither min nor max would limit nothing."""
    (fault,) = faults_of(BASE.replace("max = 4\n", ""))
    assert fault.found == "neither min nor max"


@pytest.mark.parametrize(
    ("text", "place", "found"),
    [
        (b"\xff\xfe", "line 1", "not UTF-8"),
        (b"format = 1\ntitle = '\xe4'", "line 2", "byte 0xe4 is not UTF-8"),
        (b"\xef\xbb\xbfformat = 1", "line 1", "byte order mark"),
        (b"format = 1\nformat = 1\n", "line 2", "not TOML: Cannot overwrite a value"),
        (b"format = 1\n\ntitle = ", "line 3", "not TOML: Invalid value"),
        (b"format = 1\n[hands_off\n", "line 2", "not TOML"),
        (b"{}", "line 1", "not TOML"),
        (b"x = " + b"[" * 5000, "", "nested too deeply"),
        (b"x = " + b"7" * 5000, "", "not TOML"),
    ],
)
def test_what_is_not_toml_is_refused_with_its_line(text: bytes, place: str, found: str) -> None:
    """One fault, and nothing else is looked at."""
    (fault,) = faults_of(text)
    assert fault.place == place
    assert found in fault.found


def test_all_faults_come_at_once_in_the_order_of_lines() -> None:
    """A file with five mistakes needs one round of mending."""
    text = BASE.replace("range_m = 1.8", "range_m = -1.8").replace("[data]", "[date]")
    text = text.replace('"warning"', '"warnings"').replace("[20, 0.16]", "[1, 0.16]")
    text = text.replace("min = 0.05", "min = 0.5")
    faults = faults_of(text)
    lines = [int(re.findall(r"\d+", fault.place)[0]) for fault in faults]
    assert len(faults) == 5
    assert lines == sorted(lines)
    assert "did you mean \"data\"?" in faults[1].mend  # fmt: skip


def test_a_single_table_for_an_array_is_told() -> None:
    """[limit] for [[limit]] is a common slip."""
    (fault,) = faults_of(BASE.split("[[limit]]")[0] + '[limit]\nid = "a"\n')
    assert fault.place.endswith(", limit")
    assert "[[limit]]" in fault.mend


@settings(max_examples=400, deadline=None)
@given(st.data())
def test_any_damage_gives_a_limits_file_or_an_input_error(data: st.DataObject) -> None:
    """Cut, doubled or overwritten anywhere, a file is read or refused; nothing else happens."""
    raw = bytearray(BASE.encode())
    for _ in range(data.draw(st.integers(1, 3))):
        at = data.draw(st.integers(0, len(raw)))
        count = data.draw(st.integers(0, 30))
        raw[at : at + count] = data.draw(
            st.binary(max_size=4) | st.sampled_from([b"[", b"]", b"-", b"nan", b"=", b'"', b"\n"])
        )
    try:
        outcome: object = parse_limits(bytes(raw), "limits.toml")
    except InputError as refused:
        outcome = str(refused)
    assert isinstance(outcome, LimitsFile) or "\n" not in str(outcome)


@pytest.mark.parametrize("quantity", list(Quantity))
def test_every_quantity_can_be_limited(quantity: Quantity) -> None:
    """All ten names are read, the two gaps as measured."""
    basis = "measured" if quantity in MEASURED_ONLY else "estimated"
    text = BASE.replace('"source_gap"\nbasis = "measured"', f'"{quantity}"\nbasis = "{basis}"')
    assert parse_limits(text.encode(), "x").limits[1].quantity is quantity


@pytest.mark.parametrize("quantity", AT_CONTACT)
def test_every_contact_quantity_can_be_limited(quantity: Quantity) -> None:
    """All seven names are read."""
    text = BASE.replace('"closing_rate"\nmin', f'"{quantity}"\nmin').split("[[contact_limit]]")
    file = parse_limits("[[contact_limit]]".join(text[:2]).encode(), "x")
    assert file.contact_limits[0].quantity is quantity
