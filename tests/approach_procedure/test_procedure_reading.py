"""The procedure file: what is read, and every way to be refused."""

from __future__ import annotations

import hashlib
import re
from contextlib import suppress

import pytest
from hypothesis import given
from hypothesis import strategies as st
from procedure_tools import HEAD, POLL, SHIPPED, procedure_of, shipped_procedure, step

from console.approach.event import Phase
from console.approach.procedure import Answer, CaptureField, Condition, DataTest
from console.approach.procedure_reading import parse_procedure
from console.core.errors import InputError


def refused(text: str) -> InputError:
    """Give the error a file is refused with."""
    with pytest.raises(InputError) as caught:
        parse_procedure(text.encode(), "test.toml")
    return caught.value


def test_the_shipped_procedure_reads_whole_with_its_hash() -> None:
    """Two polls at the setup's usual holds, steps before and after contact, the file's hash."""
    path = SHIPPED / "procedures" / "port_c_arrival.toml"
    procedure = shipped_procedure()
    assert [poll.hold_m for poll in procedure.polls] == [200.0, 20.0]
    assert procedure.console in procedure.polls[1].positions
    assert {step.due.stage >= 0 for step in procedure.steps} == {True, False}
    assert hashlib.sha256(path.read_bytes()).hexdigest() == procedure.sha256
    assert path.read_text(encoding="utf-8") == procedure.text


def test_the_shipped_procedure_documents_every_key_it_may_hold() -> None:
    """Each key and each phase of a condition is named in the comments."""
    procedure = shipped_procedure()
    comments = "\n".join(line for line in procedure.text.splitlines() if line.startswith("#"))
    keys = ("id", "who", "words", "due", "done", "overdue_s", "hold_m", "positions", "console",
            "range_below_m", "range_above_m", "phase", "after", "after_s", "after_step", "at",
            "data", *(f.value for f in CaptureField), *(p.value for p in Phase))  # fmt: skip
    missing = [key for key in keys if not re.search(rf"\b{re.escape(key)}\b", comments)]
    assert missing == []


def test_every_part_of_a_condition_is_read() -> None:
    """Ranges, one phase or several, times, an earlier step, and data tests come out as written."""
    procedure = procedure_of(
        step("one", "{ range_below_m = 12.5, range_above_m = 3 }"),
        step("two", '{ phase = ["hold", "approach"], after = "contact", after_s = 30 }'),
        step("three", '{ after_step = "one", after_s = 5, at = "2031-04-10T09:35:00Z" }'),
        step("four", "{ data = { soft_capture = true, hooks = { above = 0.9, below = 2 } } }"),
    )
    due = [one.due for one in procedure.steps]
    assert due[0] == Condition(range_below_m=12.5, range_above_m=3.0)
    assert due[1] == Condition(
        phases=(Phase.HOLD, Phase.APPROACH), after=Phase.CONTACT, after_s=30.0
    )
    assert due[2] == Condition(after_step="one", after_s=5.0, at_t=1_933_580_100.0)
    assert due[3].data == (
        DataTest(CaptureField.SOFT_CAPTURE, flag=True),
        DataTest(CaptureField.HOOKS, above=0.9, below=2.0),
    )


FAULTS = {
    "an unknown key": (step("a", "{ range_below_m = 5 }", "colour = 1"), "colour"),
    "a misspelt phase": (step("a", '{ phase = "hlod" }'), "hold"),
    "a misspelt phase in a list": (step("a", '{ phase = ["hold", "hlod"] }'), "allowed: waiting"),
    "an unknown capture field": (step("a", "{ data = { hoks = { above = 1 } } }"), "hooks"),
    "a number for a flag": (step("a", "{ data = { soft_capture = 1 } }"), "true or false"),
    "a flag for a number": (step("a", "{ data = { hooks = true } }"), "a table"),
    "a number without bounds": (step("a", "{ data = { hooks = {} } }"), "above"),
    "an empty condition": (step("a", "{}"), "at least one part"),
    "an empty data table": (step("a", "{ data = {} }"), "name a field"),
    "a negative range": (step("a", "{ range_below_m = -1 }"), "of at least 0"),
    "a time that is none": (step("a", '{ at = "noon" }'), "2031-04-10T09:35:00Z"),
    "a time without a zone": (step("a", '{ at = "2031-04-10T09:35:00" }'), "2031"),
    "after_s alone": (step("a", "{ after_s = 5 }"), "after which phase"),
    "after beside after_step": (
        step("b", "{ range_below_m = 5 }")
        + step("a", '{ after = "contact", after_step = "b", after_s = 5 }'),
        "one of the two",
    ),
    "a step that waits for itself": (step("a", '{ after_step = "a" }'), "no earlier step"),
    "a step that waits for a later one": (
        step("a", '{ after_step = "b" }') + step("b", "{ range_below_m = 5 }"),
        "no earlier step",
    ),
    "an id twice": (step("a", "{ range_below_m = 5 }") * 2, "every id once"),
    "an id with a colon": (step("a:b", "{ range_below_m = 5 }"), 'no ":"'),
    "no words": ('[[step]]\nid = "a"\nwho = "x"\ndue = { range_below_m = 1 }\n', "words"),
    "no due": ('[[step]]\nid = "a"\nwho = "x"\nwords = "y"\n', "due"),
    "an overdue time of 0": (step("a", "{ range_below_m = 5 }", "overdue_s = 0"), "above 0"),
    "two polls at one hold": (
        POLL.replace("go-20", "other").replace("hold_m = 20", "hold_m = 20.5"), "one poll",
    ),
    "a position twice": (
        POLL.replace("go-20", "other").replace("hold_m = 20", "hold_m = 90")
        .replace('"navigation", "console"', '"console", "console"'),
        "every position once",
    ),
    "no position": (
        POLL.replace("go-20", "other").replace("hold_m = 20", "hold_m = 90")
        .replace('["navigation", "console"]', "[]"),
        "at least one position",
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", FAULTS)
def test_a_faulty_file_is_refused_with_place_and_mend(name: str) -> None:
    """Each fault is told once, with its line, and with what is allowed."""
    text, said = FAULTS[name]
    error = refused(HEAD + POLL + text)
    assert len(error.faults) == 1
    assert said in str(error.faults[0])
    assert error.faults[0].place.startswith("line ")


def test_the_console_must_have_a_part_in_a_poll() -> None:
    """A position that is asked nowhere cannot be answered from here."""
    assert "navigation" in str(refused(HEAD.replace('"console"', '"bridge"') + POLL))


def test_another_format_is_refused() -> None:
    """A file of a later version is not half understood."""
    assert "format 1" in str(refused(HEAD.replace("format = 1", "format = 2")))


def test_all_faults_are_told_at_once_in_the_order_of_lines() -> None:
    """Three faults, three places."""
    error = refused(HEAD + POLL + step("a", "{}", "colour = 1") + step("a", '{ phase = "x" }'))
    lines = [int(re.match(r"line (\d+)", fault.place)[1]) for fault in error.faults]
    assert len(lines) == 4
    assert lines == sorted(lines)


@given(st.binary(max_size=300))
def test_any_bytes_give_a_procedure_or_an_input_error(data: bytes) -> None:
    """Nothing else is ever raised."""
    with suppress(InputError):
        parse_procedure(data, "any")


@given(st.text(alphabet="[]{}=\"'.#,:\n abdephilosu_0123", max_size=200))
def test_any_text_beside_a_sound_file_gives_a_procedure_or_an_input_error(text: str) -> None:
    """Neither does a file that is nearly right raise anything else."""
    with suppress(InputError):
        parse_procedure((HEAD + POLL + text).encode(), "any")


@pytest.mark.parametrize(
    ("test", "value", "holds"),
    [
        (DataTest(CaptureField.SOFT_CAPTURE, flag=True), True, True),
        (DataTest(CaptureField.SOFT_CAPTURE, flag=True), False, False),
        (DataTest(CaptureField.SOFT_CAPTURE, flag=False), False, True),
        (DataTest(CaptureField.SOFT_CAPTURE, flag=True), None, False),
        (DataTest(CaptureField.READY_TO_HOOK, flag=True), (True, True), True),
        (DataTest(CaptureField.READY_TO_HOOK, flag=True), (True, False), False),
        (DataTest(CaptureField.READY_TO_HOOK, flag=True), (), False),
        (DataTest(CaptureField.HOOKS, above=0.9), (1.0, 0.95), True),
        (DataTest(CaptureField.HOOKS, above=0.9), (1.0, 0.9), False),
        (DataTest(CaptureField.RING_EXTENSION, below=0.1), 0.0, True),
        (DataTest(CaptureField.RING_EXTENSION, below=0.1), 0.1, False),
        (DataTest(CaptureField.RING_EXTENSION, below=0.1), None, False),
        (DataTest(CaptureField.RING_EXTENSION, below=0.1), float("nan"), False),
        (DataTest(CaptureField.VESTIBULE_KPA, above=90.0, below=110.0), 101, True),
        (DataTest(CaptureField.VESTIBULE_KPA, above=90.0, below=110.0), 120.0, False),
    ],
)
def test_data_comply_only_where_they_are_known(test: DataTest, value: object, holds: bool) -> None:
    """Bounds exclude themselves; absent, empty and not-a-number never comply."""
    assert holds == test.holds(value)


def test_answers_are_three_words() -> None:
    """Go, no-go, not yet: the words on the loop."""
    assert [answer.value for answer in Answer] == ["go", "no-go", "not yet"]
