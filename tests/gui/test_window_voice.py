"""Qt's own voice: spoken on the window's thread whoever asks, and absent with a reason."""

from __future__ import annotations

import threading
from enum import Enum

import pytest
from PySide6.QtCore import QObject, Signal
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from console.window.voice import QtVoice, qt_voice


class State(Enum):
    """The states Qt's engine tells."""

    Ready = 0
    Speaking = 1
    Error = 3


class FakeEngine(QObject):
    """Stands for Qt's engine: notes words and the thread they came on."""

    stateChanged = Signal(object)  # noqa: N815 - Qt's name

    def __init__(self) -> None:
        super().__init__()
        self.said: list[tuple[str, int]] = []
        self.stopped = 0

    def say(self, words: str) -> None:
        """Begin to speak."""
        self.said.append((words, threading.get_ident()))
        self.stateChanged.emit(State.Speaking)

    def stop(self) -> None:
        """Fall silent."""
        self.stopped += 1

    def errorString(self) -> str:  # noqa: N802 - Qt's name
        """Say what is wrong."""
        return "the sound went away"


def test_words_from_another_thread_are_spoken_on_the_windows(qtbot: QtBot) -> None:
    """The asker does not wait, and the engine is touched by Qt's thread alone."""
    engine = FakeEngine()
    voice = QtVoice(engine, "fake")
    asker = threading.Thread(target=lambda: voice.say("10 metres"))
    asker.start()
    asker.join()
    assert voice.is_speaking()
    qtbot.waitUntil(lambda: bool(engine.said))
    assert engine.said == [("10 metres", threading.get_ident())]
    engine.stateChanged.emit(State.Ready)
    assert not voice.is_speaking()
    voice.hush()
    assert engine.stopped == 2


def test_an_engine_in_error_is_trouble_with_its_own_words(qtbot: QtBot) -> None:
    """Then speech is off, and the line says why."""
    engine = FakeEngine()
    voice = QtVoice(engine, "fake")
    engine.stateChanged.emit(State.Error)
    assert voice.trouble() == "fake: the sound went away"
    assert not voice.is_speaking()


def test_a_missing_qt_voice_gives_a_reason(qapp: QApplication) -> None:
    """The essentials of Qt hold none; where it is installed it is ready or says why not."""
    voice, why = qt_voice()
    assert (voice is None) == bool(why)


def test_without_an_application_there_is_no_qt_voice(monkeypatch: pytest.MonkeyPatch) -> None:
    """In text mode nobody starts Qt to speak."""
    monkeypatch.setattr("console.window.voice.QCoreApplication.instance", lambda: None)
    assert qt_voice() == (None, "Qt is not running")
