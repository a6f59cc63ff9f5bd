"""A whole watch by the keyboard alone, through the real window, engine and recording."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import msgspec
import pytest
from fakes.fed_watch import FedWatch
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from console.app.demo_crew import Crew, demo_crew
from console.app.input_file import load_limits, load_procedure
from console.approach.event import (
    Acknowledged,
    AnyEvent,
    CallMade,
    ExceedanceCleared,
    ExceedanceRaised,
    HoldReleased,
    NoteMade,
    Phase,
    PollAnswered,
    Refused,
    Shelved,
    StepWasDone,
    Unshelved,
)
from console.archive.passes import read_pass
from console.bench.scoring import score_pass
from console.envelope.setup import Setup
from console.window.run import watch_window
from console.window.watch_view import WatchView

SHIFT = Qt.KeyboardModifier.ShiftModifier
PLAIN = Qt.KeyboardModifier.NoModifier
GAP = (150.0, 153.5)
"""Seconds of the pass whose messages are lost, so that something stands."""


class Console:
    """An operator with a keyboard and nothing else."""

    def __init__(self, qtbot: QtBot, fed: FedWatch) -> None:
        self._qtbot = qtbot
        self.fed = fed
        self.window, self.view = watch_window(fed.watch)
        qtbot.addWidget(self.window)
        self.window.resize(1280, 720)
        self.window.show()
        self.window.activateWindow()
        self.view.setFocus()
        self.look()

    def look(self) -> WatchView:
        """Take what is newest into the window, whole."""
        self.fed.feed()
        self.view.bridge.take()
        self.view.show_watched(self.view.bridge.watched())
        QApplication.processEvents()
        return self.view

    def press(self, key: Qt.Key, modifier: Qt.KeyboardModifier = PLAIN) -> None:
        """Press a key where the keyboard is, then see what came of it."""
        self._qtbot.keyClick(self.window.focusWidget() or self.view, key, modifier)
        self.look()

    def say(self, words: str) -> None:
        """Type words and Return into the entry line."""
        assert self.view.entry.is_open
        self._qtbot.keyClicks(self.view.entry.field, words)
        self._qtbot.keyClick(self.view.entry.field, Qt.Key.Key_Return)
        self.look()

    def of(self, kind: type[AnyEvent]) -> list:
        """Give the events of a kind so far."""
        return [event for event in self.fed.events if isinstance(event, kind)]

    def rows(self) -> dict[str, str]:
        """Give the lines of calls and steps, by key, with their state."""
        view = self.view.calls.view
        return {} if view is None else {row.key: row.turn.value for row in view.rows}

    def step_is_due(self, id_: str) -> bool:
        """Look whether a step is due on the screen."""
        self.look()
        return self.rows().get(f"step:{id_}") == "now"

    def reach(self, id_: str) -> None:
        """Watch until a step is due."""
        self.fed.until(lambda: self.step_is_due(id_))

    def done(self) -> list[tuple[str, str]]:
        """Give the steps done so far, each with who said so."""
        return [(event.step, event.initials) for event in self.of(StepWasDone)]


@pytest.fixture
def console(qtbot: QtBot, tmp_path: Path) -> Iterator[Console]:
    """Give a console at the start of the nominal pass, nobody else acting."""
    fed = FedWatch(tmp_path / "a.leadmark", lost=lambda past_s: GAP[0] < past_s < GAP[1])
    yield Console(qtbot, fed)
    fed.finish()


def poll(console: Console) -> None:
    """Answer for every position; take one back, be refused, and release."""
    console.fed.until(lambda: bool(console.look().calls.view.polls))
    console.press(Qt.Key.Key_G, SHIFT)
    console.say("mk")  # initials, asked once
    assert "navigation" in console.of(Refused)[-1].words
    assert console.view.entry.message.startswith("!")
    console.press(Qt.Key.Key_G)
    answered = console.of(PollAnswered)[-1]
    assert (answered.position, answered.answer, answered.initials) == ("console", "go", "MK")
    console.press(Qt.Key.Key_P)
    for initials in ("lt", "rb", "oh", "ek"):
        console.press(Qt.Key.Key_G)
        console.say(initials)
        console.press(Qt.Key.Key_Down)
    assert [event.initials for event in console.of(PollAnswered)] == ["MK", "LT", "RB", "OH", "EK"]
    for _ in range(3):
        console.press(Qt.Key.Key_Up)
    console.press(Qt.Key.Key_N, SHIFT)  # the vehicle, whose initials stand in the line
    console.say("")
    refusals = len(console.of(Refused))
    console.press(Qt.Key.Key_G, SHIFT)
    assert "no-go: vehicle" in console.of(Refused)[refusals].words
    console.press(Qt.Key.Key_G)
    console.say("")
    console.press(Qt.Key.Key_G, SHIFT)
    (released,) = console.of(HoldReleased)
    assert (released.initials, released.range_m) == ("MK", 20.0)
    assert console.look().calls.view.polls == ()
    assert "nothing was commanded" in console.view.entry.message


def approach(console: Console) -> None:
    """Tick the steps on the way in, one early by choosing it; log a call; write a note."""
    assert console.step_is_due("lights")
    console.press(Qt.Key.Key_Space)
    console.press(Qt.Key.Key_Down)  # Calls and steps still has the keyboard: the next step
    console.press(Qt.Key.Key_Space)
    assert console.done() == [("lights", "MK"), ("cabin", "MK")]
    console.fed.until(lambda: console.look().calls.view.due is not None)
    console.press(Qt.Key.Key_C)
    assert console.of(CallMade)[-1].call == "mark:20"
    console.press(Qt.Key.Key_N)
    console.say("steady picture")
    assert console.of(NoteMade)[-1].text == "steady picture"


def lose_data(console: Console) -> None:
    """Acknowledge what the gap raised; shelve it with reason and time; take it back."""
    fed = console.fed
    fed.until(lambda: fed.past_s > GAP[0] + 2.5)
    waiting = console.look().exceedances.view.waiting
    assert waiting
    console.press(Qt.Key.Key_A)
    assert console.of(Acknowledged)[-1].initials == "MK"
    first = next(line for line in console.view.exceedances.view.lines if line.is_standing)
    console.press(Qt.Key.Key_S, SHIFT)
    console.say("known gap")
    console.press(Qt.Key.Key_Backspace)  # 10 minutes stand there: make it 1
    console.say("")
    (shelved,) = console.of(Shelved)
    assert (shelved.id, shelved.reason, shelved.for_s) == (first.id, "known gap", 60.0)
    line = next(x for x in console.look().exceedances.view.lines if x.is_shelved)
    assert line.state.endswith("1:00 left")
    fed.go_on(10.0)
    line = next(x for x in console.look().exceedances.view.lines if x.is_shelved)
    assert line.state.endswith("0:50 left")
    console.press(Qt.Key.Key_U, SHIFT)
    assert console.of(Unshelved)[-1].initials == "MK"
    assert not any(x.is_shelved for x in console.look().exceedances.view.lines)


def read_the_manual(console: Console) -> None:
    """Open it, choose a chapter, turn a page without ticking a step, close it."""
    done = console.done()
    console.press(Qt.Key.Key_F2)
    manual = console.view.manual
    assert manual.isVisible()
    for _ in range(5):
        console.press(Qt.Key.Key_Down)
    assert "not seen: small stuck thruster" in manual.text.toPlainText()
    console.press(Qt.Key.Key_Tab)
    top = manual.text.verticalScrollBar().value()
    console.press(Qt.Key.Key_Space)
    assert manual.text.verticalScrollBar().value() > top
    console.press(Qt.Key.Key_Escape)
    assert not manual.isVisible()
    assert console.done() == done


def capture(console: Console) -> None:
    """Tick what is left until docked; the data show the rest."""
    for id_ in ("stop-call", "thrusters", "power", "leak"):
        console.reach(id_)
        console.press(Qt.Key.Key_Space)
    assert console.fed.state.phases.phase is Phase.DOCKED
    by_hand = [id_ for id_, initials in console.done() if initials]
    by_data = [id_ for id_, initials in console.done() if not initials]
    assert by_hand == ["lights", "cabin", "stop-call", "thrusters", "power", "leak"]
    assert by_data == ["retract", "hooks", "vestibule"]


def test_the_nominal_pass_is_watched_to_docked_by_the_keyboard_alone(console: Console) -> None:
    """Poll, release, steps, call, note, acknowledge, shelve, manual, capture: and it replays.

    The recording, scored anew, gives every event again, to the byte.
    """
    poll(console)
    approach(console)
    lose_data(console)
    read_the_manual(console)
    capture(console)
    overdue = {event.id for event in console.of(ExceedanceRaised) if event.id.startswith("step:")}
    ended = {event.id for event in console.of(ExceedanceCleared)}
    assert overdue <= ended
    console.fed.finish()
    again: list[AnyEvent] = []
    one = read_pass(console.fed.recorder.path)
    procedure = load_procedure(None)
    score_pass(one, load_limits(None), Setup(), procedure=procedure, on_events=again.extend)
    encode = msgspec.json.Encoder(order="deterministic").encode
    assert [encode(e) for e in console.fed.events] == [encode(e) for e in again]


def test_in_the_demo_the_others_answer_and_the_console_position_is_the_operators(
    qtbot: QtBot, tmp_path: Path
) -> None:
    """Two keys after the others have answered: go, and the release."""
    crew = demo_crew(load_procedure(None), Crew.OTHERS)
    fed = FedWatch(tmp_path / "a.leadmark", crew=crew)
    console = Console(qtbot, fed)
    fed.until(lambda: len(console.of(PollAnswered)) == 5)
    console.look()
    assert console.view.calls.view.polls[0].summary == "4 of 5 go"
    console.press(Qt.Key.Key_G)
    console.say("mk")
    assert console.look().calls.view.polls[0].is_complete
    console.press(Qt.Key.Key_G, SHIFT)
    assert len(console.of(HoldReleased)) == 1
    fed.until(lambda: fed.state.phases.phase is Phase.APPROACH)
    assert [e.id for e in console.of(ExceedanceRaised) if e.id.startswith("hold:")] == []
    fed.finish()


@pytest.mark.parametrize(
    ("key", "modifier", "told"),
    [
        (Qt.Key.Key_Space, PLAIN, "no step is due"),
        (Qt.Key.Key_P, PLAIN, "no poll is open"),
        (Qt.Key.Key_G, PLAIN, "no poll is open"),
        (Qt.Key.Key_Y, PLAIN, "no poll is open"),
        (Qt.Key.Key_S, SHIFT, "nothing to shelve"),
        (Qt.Key.Key_U, SHIFT, "nothing is shelved"),
        (Qt.Key.Key_M, PLAIN, "--speak"),
    ],
)
def test_a_key_that_can_do_nothing_says_so(
    console: Console, key: Qt.Key, modifier: Qt.KeyboardModifier, told: str
) -> None:
    """In the entry line, and nothing happens."""
    console.press(key, modifier)
    assert told in console.view.entry.message
    assert console.fed.events == []
