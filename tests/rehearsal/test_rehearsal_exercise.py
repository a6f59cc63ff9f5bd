"""Exercise files: read strictly, written again the same, the shipped ones whole."""

from __future__ import annotations

import math
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from console.app.rehearse import ExerciseDesk
from console.app.rehearse_stage import read_exercise, stage
from console.archive.shipped import shipped
from console.core.errors import InputError
from console.core.ids import SourceId
from console.present.rehearse_draft import Draft, draft_of, draft_text
from console.rehearsal.exercise import Exercise, Hidden, Origin, Rules
from console.rehearsal.exercise_reading import exercise_text, parse_exercise
from console.simulation.fault_reading import RULES
from console.simulation.faults import Fault, FaultKind
from tests.fakes.changed import replace

SHIPPED = sorted(shipped("replay_data", "exercises").glob("*.toml"))
SOURCES = (SourceId("optical"), SourceId("radio"))
OF_PASS = [k for k in FaultKind if k in {
    FaultKind.DROPOUT, FaultKind.INVALID, FaultKind.FREEZE, FaultKind.BIAS, FaultKind.SCALE,
    FaultKind.OUTLIERS, FaultKind.LATE, FaultKind.LINK_LOSS,
}]  # fmt: skip
HEAD = 'format = 1\ntitle = "T"\nscenario = "nominal"\n'
PASS_HEAD = 'format = 1\ntitle = "T"\npass = "x.csv"\n'
VEHICLE_FAULT = '[[fault]]\nkind = "{}"\nsize = 1\nchannel = "{}"\n'
thousandths = st.integers(1, 200_000).map(lambda n: n / 1000)


@st.composite
def some_faults(draw: st.DrawFn, kinds: list[FaultKind]) -> Fault:
    """Draw a fault its kind allows."""
    kind = draw(st.sampled_from(kinds))
    rule = RULES[kind]
    place = draw(st.sampled_from(["range", "time", "start"]))
    channels = [*rule.channels] if rule.needs_channel else [None, *rule.channels]
    return Fault(
        kind,
        at_range_m=draw(thousandths) if place == "range" else None,
        at_s=draw(thousandths) if place == "time" else None,
        for_s=draw(thousandths | st.just(math.inf)),
        until_range_m=draw(st.none() | thousandths),
        size=draw(st.integers(1, 999).map(lambda n: n / 1000)) if rule.size else 0.0,
        source=draw(st.sampled_from([None, *SOURCES])) if rule.of_source else None,
        channel=draw(st.sampled_from(channels)) if channels else None,
    )


@st.composite
def exercises(draw: st.DrawFn) -> Exercise:
    """Draw an exercise a trainer could write."""
    origin = draw(st.sampled_from(Origin))
    kinds = list(FaultKind) if origin is Origin.SCENARIO else OF_PASS
    is_flown = origin is Origin.SCENARIO
    text = st.text(st.characters(codec="utf-8", exclude_categories=["Cc", "Cs"]), min_size=1)
    return Exercise(
        title=draw(text.filter(lambda words: words.strip() == words)),
        origin=origin,
        name=draw(st.sampled_from(["nominal", "a b.csv"])),
        from_range_m=draw(st.none() | thousandths) if is_flown else None,
        seed=draw(st.integers(0, 10**6)),
        speed=draw(st.sampled_from([0.25, 1.0, 2.0, 60.0])),
        hidden=frozenset(draw(st.lists(st.sampled_from(Hidden)))),
        faults=tuple(draw(st.lists(some_faults(kinds), max_size=3))),
        after_capture_s=draw(thousandths),
        rules=Rules(draw(st.integers(0, 60).map(float)), draw(thousandths)),
    )


def plain(exercise: Exercise) -> Exercise:
    """Take off the text it was read from."""
    return replace(exercise, text="", sha256="")


@settings(max_examples=40)
@given(exercises())
def test_what_is_written_reads_the_same(exercise: Exercise) -> None:
    """A file made of an exercise gives that exercise, and keeps its own text."""
    text = exercise_text(exercise)
    read = parse_exercise(text.encode(), "x.toml", lambda *_: SOURCES)
    assert exercise == plain(read)
    assert text == read.text


@settings(max_examples=30)
@given(exercises())
def test_the_trainers_page_loses_nothing(exercise: Exercise) -> None:
    """An exercise shown on the page and written from it is the same to six digits."""
    read = plain(parse_exercise(draft_text(draft_of(exercise)).encode(), "page"))
    assert draft_of(exercise) == draft_of(read)
    assert (exercise.title, exercise.seed, exercise.hidden) == (
        read.title, read.seed, read.hidden,
    )  # fmt: skip
    assert [f.kind for f in exercise.faults] == [f.kind for f in read.faults]


@pytest.mark.parametrize(
    ("body", "told"),
    [
        ('format = 1\ntitle = "T"\n', "scenario: missing"),
        ('format = 2\ntitle = "T"\nscenario = "nominal"\n', "format: another format"),
        (HEAD + 'pass = "x.csv"\n', "pass: stands beside scenario"),
        (HEAD + 'hide = ["margin"]\n', 'found "margin"'),
        (HEAD + "speed = 0\n", "speed: found 0"),
        (HEAD + "seed = -1\n", "seed: found -1"),
        (HEAD + "sed = 1\n", "unknown key"),
        (HEAD + '[[fault]]\nkind = "boom"\n', 'found "boom"'),
        (HEAD + '[[fault]]\nkind = "bias"\nsize = 1\n', "fault[bias].channel: missing"),
        (HEAD + '[[fault]]\nkind = "dropout"\nat_s = 1\nat_range_m = 2\n', "beside at_range_m"),
        (HEAD + '[[fault]]\nkind = "dropout"\nsource = "optcal"\n', 'did you mean "optical"?'),
        (HEAD + '[[fault]]\nkind = "dropout"\nfor_s = "a while"\n', "must be a number above 0"),
        (HEAD + "[scoring]\nresponse_s = 0\n", "scoring.response_s: found 0"),
        ('format = 1\ntitle = ""\nscenario = "nominal"\n', "title: found"),
        (
            PASS_HEAD + VEHICLE_FAULT.format("thruster_stuck", "z_m"),
            "thruster_stuck needs a simulated vehicle, and a recorded pass has none: choose",
        ),
        (PASS_HEAD + VEHICLE_FAULT.format("attitude_runaway", "roll_deg"), "attitude_runaway"),
        ('format = 1\ntitle = "T"\npass = "x.csv"\nfrom_range_m = 3\n', "starts where it was"),
    ],
)
def test_what_is_wrong_is_told_in_one_line(body: str, told: str) -> None:
    """A faulty file is refused whole: file, line, key, what was found, what is allowed."""
    with pytest.raises(InputError) as refused:
        parse_exercise(body.encode(), "ex.toml", lambda *_: SOURCES)
    line = str(refused.value)
    assert line.startswith("ex.toml: ")
    assert told in line
    assert "\n" not in line


@pytest.mark.parametrize(
    ("body", "told"),
    [
        (HEAD.replace("nominal", "nominl"), "no such scenario"),
        ('format = 1\ntitle = "T"\npass = "gone.csv"\n', "gone.csv"),
    ],
)
def test_an_approach_that_is_not_there_is_named(tmp_path: Path, body: str, told: str) -> None:
    """An unknown scenario or a missing pass is a fault of the file."""
    path = tmp_path / "ex.toml"
    path.write_text(body)
    with pytest.raises(InputError, match=r"^ex\.toml: ") as refused:
        read_exercise(path)
    assert told in str(refused.value)


@pytest.mark.parametrize("path", SHIPPED, ids=lambda path: path.stem)
def test_each_shipped_exercise_plays(path: Path) -> None:
    """It reads, its approach comes to contact, and every fault in it comes to pass."""
    limits, setup, _ = ExerciseDesk()._ground()
    exercise = read_exercise(path)
    staged = stage(exercise, path.parent, limits, setup)
    assert staged.truth.contact is not None
    assert len(exercise.faults) == len(staged.truth.faults)
    assert all(f.t_start < staged.truth.contact for f in staged.truth.faults)


def test_there_are_shipped_exercises() -> None:
    """A scenario's and a recorded pass's are among them."""
    origins = {read_exercise(path).origin for path in SHIPPED}
    assert set(Origin) == origins


def test_what_is_no_number_on_the_page_is_refused_by_its_key() -> None:
    """A word typed where a number belongs reaches the strict reader, which names the key."""
    draft = Draft(title="T", name="nominal", seed="abc")
    with pytest.raises(InputError, match=r"seed: found .abc.: must be an integer"):
        parse_exercise(draft_text(draft).encode(), "this exercise")


def test_a_typed_real_minus_and_comma_are_understood() -> None:
    """``−0,5`` on the page is −0.5."""
    draft = Draft(
        title="T", name="nominal", faults=(("bias", "", "10", "", "", "−0,5", "", "range_m"),)
    )
    read = parse_exercise(draft_text(draft).encode(), "page")
    assert read.faults[0].size == -0.5
