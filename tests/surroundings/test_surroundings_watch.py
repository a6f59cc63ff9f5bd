"""Light and link inside a watch: told once, the same live, in a replay and from a checkpoint."""

from __future__ import annotations

import copy
from pathlib import Path
from typing import Any

import pytest

from console.app.around import Around, around_in, around_of, demo_coverage
from console.app.input_file import (
    demo_setup,
    load_limits,
    load_scenario,
    load_setup,
    scenario_names,
)
from console.app.score import ScoreOrder, score_one
from console.approach.engine_time import EngineTime
from console.approach.event import AnyEvent, OutlookNoted
from console.approach.intake import Intake
from console.approach.outlook_book import OutlookBook
from console.approach.state import StateModel
from console.archive.recording import open_recording
from console.archive.recording.meta import RecordingMeta, meta_of
from console.cli import main
from console.core.errors import InputError
from console.core.utc import parse_utc
from console.simulation.simulate import Published, simulate
from console.surroundings.coverage import Coverage, Window, WindowKind
from console.surroundings.interval import Interval
from console.surroundings.surroundings import Surroundings
from console.tracking.outlook import Countdown

LIMITS = load_limits(None)
SETUP, AROUND = around_of(load_setup(demo_setup()), demo_setup(), demo_coverage()).built(
    load_setup(demo_setup())
)
T = parse_utc("2031-04-10T09:00:00Z")
NOWHERE = Countdown()


def plan(*spans: tuple[float, float]) -> Surroundings:
    """Give a coverage plan alone, seconds from the test's start."""
    return Surroundings(
        coverage=Coverage(
            tuple(Window(Interval(T + a, T + b), "A", WindowKind.COVERAGE) for a, b in spans)
        )
    )


def sure(at_s: float) -> Countdown:
    """Give a countdown with tight bounds."""
    return Countdown(at_s, at_s, at_s)


def test_an_advisory_is_told_once_while_it_stands() -> None:
    """A flicker of less than half a minute is the same matter, a longer absence a new one."""
    book = OutlookBook(plan((0.0, 100.0), (115.0, 2000.0)))
    told = [
        (s, [e.about for e in book.look(s, T + s, sure(at - s), NOWHERE)])
        for s, at in [
            (1.0, 50.0), (2.0, 105.0), (3.0, 105.0), (4.0, 150.0), (33.0, 105.0), (34.0, 150.0),
            (65.0, 105.0),
        ]
    ]  # fmt: skip
    assert [(s, about) for s, about in told if about] == [
        (2.0, ["contact:link"]), (65.0, ["contact:link"])
    ]  # fmt: skip
    assert book.notes[0].startswith("Contact falls in a link gap of 15 s")


def test_what_only_the_bounds_reach_is_told_after_ten_seconds() -> None:
    """Shown at once, told when it lasts."""
    book = OutlookBook(plan((0.0, 100.0), (115.0, 2000.0)))
    when = [
        s
        for s in range(1, 20)
        if book.look(float(s), T + s, Countdown(90.0 - s, 80.0 - s, 110.0 - s), NOWHERE)
    ]
    assert when == [11]
    assert len(book.notes) == 1


def test_looks_are_at_whole_seconds_only() -> None:
    """However the tenths are rounded."""
    ticks = [i / 10 for i in range(19_335_801_000, 19_335_801_030)]
    assert [t for t in ticks if OutlookBook.is_due(t)] == [1_933_580_100.0, 1_933_580_101.0,
                                                          1_933_580_102.0]  # fmt: skip


def flown() -> list[Published]:
    """Fly the nominal approach from the 20 m hold."""
    scenario = load_scenario("nominal")
    return simulate(scenario, LIMITS, SETUP, 1, scenario.demo_range_m).messages


@pytest.fixture(scope="module")
def messages() -> list[Published]:
    """Give the nominal approach, flown once, up to a minute after contact."""
    return [m for m in flown() if m.record.t < parse_utc("2031-04-10T09:40:45Z")]


def fed(
    messages: list[Published], surroundings: Surroundings | None, *, looks: bool = False
) -> tuple[StateModel, list[AnyEvent]]:
    """Feed a state model; with snapshots or without."""
    state = StateModel(LIMITS, SETUP, surroundings=surroundings)
    intake = Intake(state, EngineTime.NEWEST)
    events: list[AnyEvent] = []
    for i, message in enumerate(messages):
        events += intake.record(message.record)
        if looks and i % 40 == 0:
            state.snapshot()
    return state, events


def test_the_demo_shows_sunrise_and_the_gap(messages: list[Published]) -> None:
    """Night turns to day in the strip, the gap stands ahead, and one advisory is told."""
    state, events = fed(messages[:1500], AROUND)
    snapshot = state.snapshot()
    assert {span.state for span in snapshot.light} == {"day", "twilight", "night"}
    near = [s for s in snapshot.light if s.t_end > snapshot.t - 400 and s.t_start < snapshot.t]
    assert [s.state for s in near][:1] == ["night"]
    assert [g.t_end - g.t_start for g in snapshot.planned_gaps if g.t_end] == [15.0]
    assert snapshot.link_gaps == ()
    (told,) = [e for e in events if isinstance(e, OutlookNoted)]
    assert (told.about, told.level) == ("hands-off:link", "advisory")
    assert told.words.startswith("Hands-off falls in a link gap of 15 s; contact before 09:39:3")
    assert snapshot.outlook_notes[0].startswith("Hands-off falls in a link gap of 15 s")
    assert snapshot.outlook_facts[0].startswith("Contact in daylight, 2 min")


def test_it_changes_nothing_else(messages: list[Published]) -> None:
    """All other events are those of a watch without it; asking for pictures adds none."""
    _, bare = fed(messages, None)
    _, told = fed(messages, AROUND)
    _, looked = fed(messages, AROUND, looks=True)
    assert [e for e in told if not isinstance(e, OutlookNoted)] == bare
    assert looked == told
    assert len(told) > len(bare)


def test_a_checkpoint_goes_on_to_the_same_events(messages: list[Published]) -> None:
    """A copy taken in the middle ends as the whole."""
    _, whole = fed(messages, AROUND)
    state = StateModel(LIMITS, SETUP, surroundings=AROUND)
    intake = Intake(state, EngineTime.NEWEST)
    events: list[AnyEvent] = []
    for message in messages[:700]:
        events += intake.record(message.record)
    twin = copy.deepcopy(intake)
    for message in messages[700:]:
        events += twin.record(message.record)
    assert events == whole


def test_unknown_light_is_empty_and_after_contact_nothing_is_said(
    messages: list[Published],
) -> None:
    """A plan without an orbit gives no light; what is past needs no advisory."""
    state, _ = fed(messages, Surroundings(coverage=AROUND.coverage if AROUND else None))
    snapshot = state.snapshot()
    assert snapshot.contact_t is not None
    assert snapshot.light == ()
    assert (snapshot.outlook_notes, snapshot.outlook_facts) == ((), ())
    bare, _ = fed(messages[:50], None)
    assert (bare.snapshot().light, bare.snapshot().planned_gaps) == ((), ())


def test_while_data_is_lost_nothing_is_predicted(messages: list[Published]) -> None:
    """The advisory of a moment ago does not go on standing."""
    state = StateModel(LIMITS, SETUP, surroundings=AROUND)
    intake = Intake(state, EngineTime.NEWEST)
    for message in messages[:1500]:
        intake.record(message.record)
    assert state.snapshot().outlook_notes
    intake.advance(intake.now + 7.0)
    assert state.snapshot().outlook_notes == ()
    assert state.snapshot().light


@pytest.mark.parametrize("name", scenario_names())
def test_every_scenario_has_known_light_and_link(name: str) -> None:
    """The demo's orbit and plan reach over all of them."""
    assert AROUND is not None
    assert AROUND.coverage is not None
    start = load_scenario(name).start_t
    for after_s in (0.0, 600.0, 1500.0):
        assert AROUND.outlook(start + after_s).spans
        assert AROUND.coverage.at(start + after_s).value != "unknown"


def test_texts_travel_with_a_recording() -> None:
    """Kept and read back they build the same surroundings."""
    setup = load_setup(demo_setup())
    given = around_of(setup, demo_setup(), demo_coverage())
    meta = RecordingMeta(0.0, EngineTime.RECEIVE, more=given.kept())
    back = around_in(meta_of(dict(meta.rows())))
    assert back == given
    same, surroundings = back.built(setup)
    assert same.orbit.altitude_km == pytest.approx(419.94, abs=0.01)
    assert surroundings is not None
    assert AROUND is not None
    assert surroundings.outlook(T).spans == AROUND.outlook(T).spans
    assert around_in(RecordingMeta(0.0, EngineTime.RECEIVE)) == Around()


def test_a_message_named_by_a_setup_gives_the_altitude(tmp_path: Path) -> None:
    """It is found beside the setup; one that is missing or odd is refused by name."""
    own = tmp_path / "own.toml"
    own.write_text('[orbit]\nomm = "own.txt"\n')
    with pytest.raises(InputError, match=r"own\.txt"):
        load_setup(own)
    text = (demo_setup().parent / "farrow_station_omm.txt").read_text()
    (tmp_path / "own.txt").write_text(text.replace("15.4890", "15.0"))
    assert 550.0 < load_setup(own).orbit.altitude_km < 580.0
    (tmp_path / "own.txt").write_text("nothing of the kind")
    with pytest.raises(InputError, match="give an OMM"):
        load_setup(own)


PLAN = """start,end,link,kind,note
2031-04-10T09:00:00Z,2031-04-10T09:35:30Z,A,coverage,
2031-04-10T09:35:50Z,2031-04-10T10:30:00Z,B,coverage,
"""


def test_a_demo_with_a_plan_scores_to_the_same_events(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """The text told live is the text the recording's own plan and orbit give again."""
    monkeypatch.setenv("LEADMARK_DATA", str(tmp_path))
    (tmp_path / "plan.csv").write_text(PLAN)
    path = tmp_path / "pass.leadmark"
    options = ["--coverage", str(tmp_path / "plan.csv"), "--record", str(path)]
    options += ["--setup", str(demo_setup()), "--from", "5", "--speed", "150"]
    assert main(["demo", "--headless", *options]) == 0
    lines = [line for line in capsys.readouterr().out.splitlines() if "  advisory  " in line]
    assert any("falls in a link gap of 20 s; contact" in line for line in lines)
    told: list[OutlookNoted] = []
    import console.app.score as scoring

    real = scoring.score_pass

    def overheard(*args: Any, **options: Any) -> Any:
        def hear(events: list[AnyEvent]) -> None:
            told.extend(e for e in events if isinstance(e, OutlookNoted))

        return real(*args, on_events=hear, **options)

    monkeypatch.setattr(scoring, "score_pass", overheard)
    score_one(path, ScoreOrder())
    assert [line.split("  advisory  ")[1] for line in lines] == [e.words for e in told]
    assert "plan.csv" in open_recording(path).meta.more.values()


def test_a_bad_plan_is_refused_in_one_line(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Exit status 2, with file, line and mend."""
    bad = tmp_path / "bad.csv"
    bad.write_text(PLAN.replace("coverage", "covered"))
    assert main(["demo", "--headless", "--coverage", str(bad)]) == 2
    said = capsys.readouterr().err
    assert said.count("\n") == 1
    assert 'bad.csv: line 2, kind: found "covered": allowed: coverage, outage, event' in said
