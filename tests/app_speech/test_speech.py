"""Spoken calls: what is said, in which order, never late, never waiting, silent when asked."""

from __future__ import annotations

import os
import sys
import threading
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from console.app.speech import EspeakVoice, Speech, espeak_voice, speech_of
from console.approach.event import (
    ContactMade,
    ExceedanceRaised,
    HandsOffPassed,
    MarkPassed,
    NoteMade,
    StepFellDue,
    Unshelved,
)
from console.present.spoken import (
    CALL_WAITS_S,
    WARNING_WAITS_S,
    Saying,
    SpeechQueue,
    Urgency,
    saying_of,
    spoken,
)

CALL, WARNING = Urgency.CALL, Urgency.WARNING


def mark(range_m: float) -> MarkPassed:
    """Give a range mark's event."""
    return MarkPassed(t=0.0, range_m=range_m, words=f"{range_m:g} metres")


def raised(level: str = "warning", shelved: bool = False) -> ExceedanceRaised:
    """Give an exceedance's event."""
    return ExceedanceRaised(
        t=0.0, key="k#1", id="closing-fast", level=level, onset=0.0, source=None, value=0.1,
        limit=0.1, words="Closing rate 0.130 against 0.100 m/s", shelved=shelved,
    )  # fmt: skip


class FakeVoice:
    """A voice that notes what it is told, and speaks until told that it is done."""

    name = "fake"

    def __init__(self) -> None:
        self.said: list[str] = []
        self.hushed = 0
        self.busy = False
        self.fault = ""

    def say(self, words: str) -> None:
        """Note the words."""
        self.said.append(words)
        self.busy = True

    def hush(self) -> None:
        """Fall silent."""
        self.hushed += 1
        self.busy = False

    def is_speaking(self) -> bool:
        """Tell whether it was told to speak and not done."""
        return self.busy

    def trouble(self) -> str:
        """Give the fault that was set."""
        return self.fault


class Clock:
    """Seconds set by hand."""

    def __init__(self) -> None:
        self.now_s = 100.0

    def __call__(self) -> float:
        """Give them."""
        return self.now_s


@pytest.fixture
def parts() -> tuple[Speech, FakeVoice, Clock]:
    """Give speech over a fake voice; its thread is not started, ``look`` is called by hand."""
    voice, clock = FakeVoice(), Clock()
    return Speech(voice, clock=clock), voice, clock


@pytest.mark.parametrize(
    ("event", "urgency"),
    [
        (mark(10.0), CALL),
        (HandsOffPassed(t=0.0, range_m=1.8, closing_rate_mps=0.1, words="Hands off"), CALL),
        (ContactMade(t=0.0, by="range", words="Contact"), CALL),
        (raised(), WARNING),
        (raised("caution"), None),
        (raised("advisory"), None),
        (raised(shelved=True), None),
        (NoteMade(t=0.0, initials="MK", text="x"), None),
        (StepFellDue(t=0.0, step="a", who="crew", words="x"), None),
        (Unshelved(t=0.0, id="roll", source=None, level="warning", initials="", standing=True),
         WARNING),
        (Unshelved(t=0.0, id="roll", source=None, level="warning", initials="", standing=False),
         None),
        (Unshelved(t=0.0, id="roll", source=None, level="caution", initials="", standing=True),
         None),
    ],
)  # fmt: skip
def test_calls_and_warnings_are_said_and_nothing_else(
    event: object, urgency: Urgency | None
) -> None:
    """Cautions, advisories, notes, steps and what is shelved stay silent."""
    saying = saying_of(event, 5.0)  # type: ignore[arg-type]
    assert urgency == (None if saying is None else saying.urgency)


def test_units_are_spoken_in_full() -> None:
    """A voice would spell them."""
    assert spoken("Closing rate 0.130 against 0.100 m/s") == (
        "Closing rate 0.130 against 0.100 metres a second"
    )
    assert spoken("Pitch / yaw rate 0.17 against 0.15 deg/s") == (
        "Pitch and yaw rate 0.17 against 0.15 degrees a second"
    )
    assert spoken("10 metres, contact in 64 seconds") == "10 metres, contact in 64 seconds"


def test_of_calls_the_latest_wins() -> None:
    """An older one that still waits is never said."""
    queue = SpeechQueue()
    queue.put(Saying("4 metres", CALL, 0.0))
    queue.put(Saying("3 metres", CALL, 0.5))
    taken = queue.take(0.6, None)
    assert taken is not None
    assert taken.words == "3 metres"
    assert queue.take(0.6, None) is None
    assert queue.dropped == 1


def test_a_warning_goes_before_a_call_and_breaks_one_off() -> None:
    """Also where the call came first, or is being said."""
    queue = SpeechQueue()
    call = Saying("3 metres", CALL, 0.0)
    queue.put(call)
    queue.put(Saying("Warning", WARNING, 0.1))
    for speaking in (None, call):
        one = SpeechQueue()
        one.put(call)
        one.put(Saying("Warning", WARNING, 0.1))
        taken = one.take(0.2, speaking)
        assert taken is not None
        assert taken.urgency is WARNING


def test_a_call_never_breaks_a_warning_off_and_is_dropped_when_late() -> None:
    """A late range call is a wrong one."""
    queue = SpeechQueue()
    warning = Saying("Warning", WARNING, 0.0)
    queue.put(Saying("3 metres", CALL, 0.0))
    assert queue.take(0.5, warning) is None
    assert queue.take(CALL_WAITS_S + 0.01, None) is None


def test_a_second_warning_waits_for_the_first_to_end() -> None:
    """Both are said, in the order they came."""
    queue = SpeechQueue()
    queue.put(Saying("one", WARNING, 0.0))
    queue.put(Saying("two", WARNING, 0.0))
    first = queue.take(0.0, None)
    assert first is not None
    assert queue.take(3.0, first) is None
    second = queue.take(4.0, None)
    assert second is not None
    assert (first.words, second.words) == ("one", "two")


@given(
    st.lists(
        st.tuples(st.sampled_from([CALL, WARNING]), st.floats(0.0, 3.0), st.booleans()),
        max_size=40,
    )
)
def test_nothing_is_ever_said_late_and_no_call_over_a_warning(
    moments: list[tuple[Urgency, float, bool]],
) -> None:
    """Random sayings and silences, held against the rule itself."""
    queue, now_s, speaking = SpeechQueue(), 0.0, None
    for number, (urgency, pause_s, ends) in enumerate(moments):
        queue.put(Saying(str(number), urgency, now_s))
        now_s += pause_s
        speaking = None if ends else speaking
        taken = queue.take(now_s, speaking)
        if taken is None:
            continue
        waits_s = WARNING_WAITS_S if taken.urgency is WARNING else CALL_WAITS_S
        assert now_s - taken.since_s <= waits_s
        assert speaking is None or speaking.urgency is CALL
        speaking = taken


def test_the_queue_is_bounded() -> None:
    """A flood of warnings keeps the newest few and counts the rest."""
    queue = SpeechQueue()
    for number in range(1000):
        queue.put(Saying(str(number), WARNING, 0.0))
    said = []
    while (taken := queue.take(0.0, None)) is not None:
        said.append(taken.words)
    assert said == ["996", "997", "998", "999"]
    assert queue.dropped == 996


def test_events_reach_the_voice(parts: tuple[Speech, FakeVoice, Clock]) -> None:
    """A mark is said; a warning breaks it off; the next call waits for neither."""
    speech, voice, clock = parts
    speech.on_event(mark(10.0))
    speech.look()
    speech.on_event(raised())
    speech.look()
    assert voice.said == ["10 metres", "Warning. Closing rate 0.130 against 0.100 metres a second"]
    speech.on_event(mark(5.0))
    clock.now_s += 2.0
    voice.busy = False
    speech.look()
    assert len(voice.said) == 2


def test_muting_silences_at_once_and_forgets_what_waits(
    parts: tuple[Speech, FakeVoice, Clock],
) -> None:
    """Nothing of the muted time is said afterwards."""
    speech, voice, _ = parts
    speech.on_event(mark(10.0))
    speech.look()
    assert speech.toggle() == "speech muted"
    speech.on_event(mark(5.0))
    speech.look()
    assert voice.hushed == 1
    assert speech.toggle() == "speech by fake"
    speech.look()
    assert voice.said == ["10 metres"]


def test_a_voice_in_trouble_is_told_and_asked_no_more(
    parts: tuple[Speech, FakeVoice, Clock],
) -> None:
    """The status line says why."""
    speech, voice, _ = parts
    voice.fault = "no sound card"
    speech.on_event(mark(10.0))
    speech.look()
    assert voice.said == []
    assert speech.words() == "speech off: no sound card"


def test_without_a_voice_one_line_says_why_and_nothing_breaks() -> None:
    """Events, muting, starting and stopping all do nothing."""
    speech = Speech(None, "espeak-ng is not installed")
    speech.start()
    speech.on_event(mark(10.0))
    speech.look()
    speech.stop()
    assert speech.words() == "speech off: espeak-ng is not installed"
    assert speech.toggle() == "speech off: espeak-ng is not installed"


def test_hearing_an_event_never_waits_for_the_voice() -> None:
    """The voice is stuck; a thousand events are heard all the same."""

    class Stuck(FakeVoice):
        def say(self, words: str) -> None:
            entered.set()
            free.wait(20.0)

    entered, free = threading.Event(), threading.Event()
    speech = Speech(Stuck())
    speech.start()
    speech.on_event(raised())
    assert entered.wait(10.0)
    for number in range(1000):
        speech.on_event(mark(float(number)))
    free.set()
    speech.stop()


def program(folder: Path, body: str) -> str:
    """Write a stand-in for the voice's program."""
    path = folder / "espeak-ng"
    path.write_text(f"#!{sys.executable}\nimport sys, time\n{body}\n", encoding="utf-8")
    path.chmod(0o755)
    return str(path)


def test_the_program_is_handed_the_words_and_broken_off(tmp_path: Path) -> None:
    """It gets the words as one argument; a second saying ends the first."""
    heard = tmp_path / "heard"
    body = f"open({str(heard)!r}, 'a').write(sys.argv[-1] + chr(10)); time.sleep(60)"
    voice = EspeakVoice(program(tmp_path, body))
    voice.say("-10 metres; rm")
    assert voice.is_speaking()
    waiting = threading.Event()
    for _ in range(500):
        if heard.exists() and heard.read_text().endswith("\n"):
            break
        waiting.wait(0.02)
    voice.say("5 metres")
    assert heard.read_text().splitlines()[0] == "-10 metres; rm"
    assert voice.is_speaking()
    voice.hush()
    assert not voice.is_speaking()
    assert voice.trouble() == ""


def test_a_program_that_fails_or_is_missing_is_trouble(tmp_path: Path) -> None:
    """Its exit status, or the system's word, is what the line says."""
    voice = EspeakVoice(program(tmp_path, "sys.exit(3)"))
    voice.say("5 metres")
    assert voice._process is not None
    voice._process.wait(20.0)
    assert not voice.is_speaking()
    assert "status 3" in voice.trouble()
    gone = EspeakVoice(str(tmp_path / "none"))
    gone.say("5 metres")
    assert "No such file" in gone.trouble()


def test_a_machine_without_voices_says_what_is_missing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Neither Qt's nor the program; both reasons are told."""
    monkeypatch.setenv("PATH", str(tmp_path))
    assert espeak_voice() == (None, "espeak-ng is not installed")
    assert speech_of(in_window=False).words() == "speech off: espeak-ng is not installed"
    program(tmp_path, "")
    monkeypatch.setenv("PATH", f"{tmp_path}{os.pathsep}")
    assert speech_of(in_window=False).words() == "speech by espeak-ng"
