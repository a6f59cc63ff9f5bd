"""The procedure from file to recording: the demo's people, the text, the score, the manual."""

from __future__ import annotations

from pathlib import Path

import msgspec
import pytest
from app_tools import run_command
from fakes.fed_watch import FedWatch

import console
from console.app.demo_crew import DEMO_CREW, Crew, demo_crew, read_crew
from console.app.headless import line_of
from console.app.input_file import load_limits, load_procedure
from console.app.procedure_lines import procedure_summary
from console.approach.action import PollAnswer, ReleaseHold, StepDone
from console.approach.event import (
    AnyEvent,
    HoldReleased,
    Phase,
    PollAnswered,
    PollOpened,
    StepFellDue,
    StepWasDone,
)
from console.archive.manual import chapters
from console.archive.passes import read_pass
from console.archive.recording import open_recording
from console.archive.shipped import shipped
from console.bench.scoring import score_pass
from console.core.errors import InputError
from console.envelope.setup import Setup
from tests.fakes.changed import replace

encode = msgspec.json.Encoder(order="deterministic").encode


def whole(path: Path, crew: Crew) -> FedWatch:
    """Watch the nominal pass to its end."""
    fed = FedWatch(path, crew=demo_crew(load_procedure(None), crew))
    while not fed.is_over:
        fed.go_on(5.0)
    fed.finish()
    return fed


def test_the_demos_people_take_the_nominal_pass_from_poll_to_leak_check(tmp_path: Path) -> None:
    """Every position go, released before the vehicle leaves, each step done and none overdue."""
    fed = whole(tmp_path / "a.leadmark", Crew.ALL)
    kinds = [type(event) for event in fed.events]
    (released,) = [e for e in fed.events if isinstance(e, HoldReleased)]
    left = next(e.t for e in fed.events if getattr(e, "phase", None) is Phase.APPROACH)
    assert released.t < left - 10.0
    assert kinds.index(PollOpened) < kinds.index(PollAnswered) < kinds.index(HoldReleased)
    waiting = {e.step for e in fed.events if isinstance(e, StepFellDue)}
    done = {e.step for e in fed.events if isinstance(e, StepWasDone)}
    assert waiting <= done
    assert [e.id for e in fed.state.register if ":" in e.id and e.source is None] == []
    assert fed.state.phases.phase is Phase.DOCKED
    assert "not done" not in procedure_summary(fed.state)[0]


def test_nobody_acting_leaves_advisories_and_the_summary_names_what_was_not_done(
    tmp_path: Path,
) -> None:
    """The vehicle flies on all the same: nothing here reaches it."""
    fed = whole(tmp_path / "a.leadmark", Crew.NONE)
    advisories = {e.id for e in fed.state.register if e.source is None}
    assert {"hold:go-20", "step:lights", "step:cabin", "step:thrusters"} <= advisories
    assert fed.state.phases.phase is Phase.DOCKED
    line = procedure_summary(fed.state)[0]
    assert "not done: " in line
    assert "cabin" in line


@pytest.mark.parametrize("crew", [Crew.ALL, Crew.OTHERS])
def test_a_recording_keeps_the_procedure_and_gives_every_event_again(
    tmp_path: Path, crew: Crew
) -> None:
    """Text and hash in the file, actions at their time, events to the byte."""
    path = tmp_path / "a.leadmark"
    fed = whole(path, crew)
    with open_recording(path) as recording:
        meta = recording.meta
        logged = list(recording.events())
    assert (meta.procedure_text, meta.procedure_sha256) == (
        fed.procedure.text, fed.procedure.sha256,
    )  # fmt: skip
    assert meta.intact()
    again: list[AnyEvent] = []
    scored = score_pass(
        read_pass(path), load_limits(None), Setup(), procedure=fed.procedure,
        on_events=again.extend,
    )  # fmt: skip
    assert [encode(event) for event in again] == logged
    ids = [e["id"] for e in scored.outcome["exceedances"] + scored.outcome["data_exceedances"]]
    assert not any(id_.startswith(("step:", "poll:", "hold:")) for id_ in ids)


def test_a_changed_procedure_text_is_noticed(tmp_path: Path) -> None:
    """The hash noted no longer fits."""
    path = tmp_path / "a.leadmark"
    FedWatch(path).finish()
    with open_recording(path) as recording:
        meta = recording.meta
    assert meta.intact()
    assert not replace(meta, procedure_text=meta.procedure_text + "# changed").intact()


def test_others_means_all_but_the_consoles_own_position() -> None:
    """Neither its answers, nor its steps, nor the release."""
    procedure = load_procedure(None)
    path = shipped("replay_data", "procedures", f"{DEMO_CREW}.toml")
    parts = read_crew(path, procedure)
    own = [part for part in parts if part.who == procedure.console]
    assert {type(part.action) for part in own} == {PollAnswer, ReleaseHold, StepDone}
    others = demo_crew(procedure, Crew.OTHERS)
    assert others is not None
    assert all(part.who != procedure.console for part in others._parts)
    assert demo_crew(procedure, Crew.NONE) is None


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ('format = 1\n[[done]]\nstep = "none"\nafter_s = 1\ninitials = "MK"\n', "lights"),
        ('format = 1\n[[release]]\npoll = "none"\nafter_s = 1\ninitials = "MK"\n', "go-20"),
        ("format = 2\n", "format 1"),
        ('format = 1\n[[done]]\nstep = "lights"\nafter_s = -1\ninitials = "MK"\n', "at least 0"),
    ],
)
def test_a_crew_file_that_does_not_fit_is_refused(tmp_path: Path, text: str, said: str) -> None:
    """With what the procedure has instead."""
    path = tmp_path / "crew.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(InputError, match=said):
        read_crew(path, load_procedure(None))


def test_headless_text_names_polls_steps_releases_and_refusals(tmp_path: Path) -> None:
    """One line each, with who said it."""
    fed = whole(tmp_path / "a.leadmark", Crew.ALL)
    lines = [line_of(event).partition("  ")[2] for event in fed.events]
    text = "\n".join(lines)
    for said in (
        "poll      at 20 m: go for final approach",
        "station: not yet (OH); 3 not go yet",
        "console: go (MK); every position is go",
        "MK released the 20 m hold",
        "step      crew: cabin ready, hatch closed",
        "step done crew: cabin ready, hatch closed (EK)",
        "start ring retraction (shown by the data)",
    ):
        assert said in text, said
    assert "event    " not in text


def test_the_demo_in_text_goes_through_poll_and_steps(tmp_path: Path) -> None:
    """The command itself, over its socket."""
    done = run_command(
        "demo", "--headless", "--speed", "200", "--speak",
        "--record", str(tmp_path / "a.leadmark"), folder=tmp_path, PATH=str(tmp_path),
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    assert "MK released the 20 m hold" in done.stdout
    assert "step done vehicle: thrusters inhibited (RB)" in done.stdout
    assert "speech off: espeak-ng is not installed" in done.stdout.lower()
    score = run_command("score", str(tmp_path / "a.leadmark"), folder=tmp_path)
    assert score.returncode == 0, score.stderr


def test_a_faulty_procedure_is_refused_in_one_line(tmp_path: Path) -> None:
    """File, place and mend on standard error, status 2."""
    path = tmp_path / "p.toml"
    path.write_text('format = 1\ntitle = "x"\nrevision = 1\ncolour = 2\n', encoding="utf-8")
    for words in (("demo", "--headless"), ("watch", "tcp://127.0.0.1:5999", "--headless")):
        done = run_command(*words, "--procedure", str(path), folder=tmp_path)
        assert done.returncode == 2
        assert done.stderr.count("\n") == 1
        assert "p.toml: line 4, colour: unknown key" in done.stderr


def test_procedure_check_says_what_a_file_holds(tmp_path: Path) -> None:
    """As ``limits check`` does for limits."""
    path = shipped("replay_data", "procedures", "port_c_arrival.toml")
    done = run_command("procedure", "check", str(path), folder=tmp_path)
    assert done.returncode == 0, done.stderr
    procedure = load_procedure(None)
    assert f"{len(procedure.steps)} steps, {len(procedure.polls)} polls" in done.stdout
    assert procedure.sha256 in done.stdout


def test_the_manual_lies_in_the_package_and_its_links_lead_to_chapters() -> None:
    """Every chapter has a title; no link leaves it; the blind spot of the thruster is told."""
    found = chapters()
    assert len(found) >= 8
    names = {chapter.name for chapter in found}
    folder = Path(console.__file__).parent / "manual"
    assert {path.name for path in folder.glob("*.md")} == names
    for chapter in found:
        assert chapter.title
        links = {part.split(")")[0] for part in chapter.text.split("](")[1:]}
        assert links <= names
        assert "://" not in chapter.text.replace("tcp://", "")
    data = next(chapter.text for chapter in found if "Trust" in chapter.title)
    assert "not seen: small stuck thruster" in data
    assert "thruster" in data
