"""The platform's voice through Qt, where the installed Qt has one that is ready."""

from __future__ import annotations

from PySide6.QtCore import QCoreApplication, QObject, Signal, Slot

MOCK = "mock"
"""Qt's engine for tests of Qt itself: it makes no sound."""


class QtVoice(QObject):
    """Speaks on the window's thread; every method may be called from any thread.

    Parameters
    ----------
    engine : QObject
        A ``QTextToSpeech`` that is ready.
    name : str
        For the status line.
    """

    _wanted = Signal(str)
    _unwanted = Signal()

    def __init__(self, engine: QObject, name: str) -> None:
        super().__init__()
        self.name = name
        self._engine = engine
        self._is_speaking = False
        self._trouble = ""
        self._wanted.connect(self._say_here)
        self._unwanted.connect(self._hush_here)
        engine.stateChanged.connect(self._on_state_changed)  # type: ignore[attr-defined]

    def say(self, words: str) -> None:
        """Break off what is being said and say this."""
        self._is_speaking = True
        self._wanted.emit(words)

    def hush(self) -> None:
        """Break off what is being said."""
        self._is_speaking = False
        self._unwanted.emit()

    def is_speaking(self) -> bool:
        """Tell whether it speaks at this moment."""
        return self._is_speaking

    def trouble(self) -> str:
        """Say why it cannot speak any more."""
        return self._trouble

    @Slot(str)
    def _say_here(self, words: str) -> None:
        self._engine.stop()  # type: ignore[attr-defined]
        self._engine.say(words)  # type: ignore[attr-defined]

    @Slot()
    def _hush_here(self) -> None:
        self._engine.stop()  # type: ignore[attr-defined]

    def _on_state_changed(self, state: object) -> None:
        name = getattr(state, "name", "")
        self._is_speaking = name in ("Speaking", "Synthesizing")
        if name == "Error":
            self._trouble = f"{self.name}: {self._engine.errorString()}"  # type: ignore[attr-defined]


def qt_voice() -> tuple[QtVoice | None, str]:
    """Give Qt's voice, or None and why there is none; needs a running application."""
    if QCoreApplication.instance() is None:
        return None, "Qt is not running"
    try:
        from PySide6.QtTextToSpeech import QTextToSpeech
    except ImportError as error:
        return None, f"no QtTextToSpeech ({error.name or error})"
    engines = [name for name in QTextToSpeech.availableEngines() if name != MOCK]
    if not engines:
        return None, "Qt has no speech engine"
    engine = QTextToSpeech(engines[0])
    if engine.state() is not QTextToSpeech.State.Ready:
        return None, f"Qt's {engines[0]} is not ready: {engine.errorString() or 'no reason given'}"
    return QtVoice(engine, engines[0]), ""
