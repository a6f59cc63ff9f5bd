"""Calls and warnings spoken aloud by a voice of the platform; an extra that may be missing.

Off unless asked for with ``--speak``. A thread of its own hands the newest saying to the voice, so
that neither the engine nor the window ever waits for speech. Where there is no voice one line
says why, and everything stays readable.
"""

from __future__ import annotations

import shutil
import subprocess
import threading
import time
from collections.abc import Callable
from typing import Protocol

from console.approach.event import AnyEvent
from console.present.spoken import Saying, SpeechQueue, saying_of

LOOK_S = 0.05
JOIN_TIMEOUT_S = 2.0
PROGRAMS = ("espeak-ng", "espeak")
WORDS_A_MINUTE = 165


class Voice(Protocol):
    """Something that speaks; no call of it ever waits for the words to end."""

    name: str

    def say(self, words: str) -> None:
        """Break off what is being said and say this."""
        ...

    def hush(self) -> None:
        """Break off what is being said."""
        ...

    def is_speaking(self) -> bool:
        """Tell whether it speaks at this moment."""
        ...

    def trouble(self) -> str:
        """Say why it cannot speak any more, empty while it can."""
        ...


class EspeakVoice:
    """The program espeak-ng, one process for each saying."""

    def __init__(self, program: str) -> None:
        self._program = program
        self._process: subprocess.Popen[bytes] | None = None
        self._trouble = ""
        self.name = PROGRAMS[0]

    def say(self, words: str) -> None:
        """Start the program on the words."""
        self.hush()
        quiet = subprocess.DEVNULL
        line = [self._program, "-s", str(WORDS_A_MINUTE), "--", words]
        try:
            self._process = subprocess.Popen(line, stdin=quiet, stdout=quiet, stderr=quiet)
        except OSError as error:
            self._trouble = f"{self.name}: {error.strerror or error}"

    def hush(self) -> None:
        """End the program."""
        process, self._process = self._process, None
        if process is not None and process.poll() is None:
            process.terminate()
            try:
                process.wait(JOIN_TIMEOUT_S)
            except subprocess.TimeoutExpired:
                process.kill()
                process.wait()

    def is_speaking(self) -> bool:
        """Tell whether the program runs; one that failed is trouble."""
        if self._process is None:
            return False
        status = self._process.poll()
        if status is None:
            return True
        if status > 0:
            self._trouble = f"{self.name} ended with status {status}"
        self._process = None
        return False

    def trouble(self) -> str:
        """Say why it cannot speak any more."""
        return self._trouble


def espeak_voice() -> tuple[Voice | None, str]:
    """Give the program's voice, or None and why there is none."""
    for program in PROGRAMS:
        found = shutil.which(program)
        if found is not None:
            return EspeakVoice(found), ""
    return None, f"{PROGRAMS[0]} is not installed"


class Speech:
    """Speaks what events have to say; listens on the engine's thread, never keeps it.

    Parameters
    ----------
    voice : Voice or None
        None: nothing is spoken.
    why_none : str
        Why there is no voice.
    clock : callable
        Runs only forward, s.
    """

    def __init__(
        self,
        voice: Voice | None,
        why_none: str = "",
        *,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self._voice = voice
        self._why_none = why_none
        self._clock = clock
        self._queue = SpeechQueue()
        self._speaking: Saying | None = None
        self._lock = threading.Lock()
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._run, name="speech", daemon=True)
        self.is_muted = False

    def start(self) -> None:
        """Begin to speak."""
        if self._voice is not None:
            self._thread.start()

    def stop(self) -> None:
        """Fall silent and end."""
        self._stop.set()
        if self._thread.is_alive():
            self._thread.join(JOIN_TIMEOUT_S)
        if self._voice is not None:
            self._voice.hush()

    def on_event(self, event: AnyEvent) -> None:
        """Hear an event; returns at once."""
        saying = saying_of(event, self._clock())
        if saying is not None and not self.is_muted:
            with self._lock:
                self._queue.put(saying)

    def toggle(self) -> str:
        """Mute or unmute; give the line that says how it stands."""
        self.is_muted = not self.is_muted
        if self.is_muted:
            with self._lock:
                self._queue.clear()
        return self.words()

    def words(self) -> str:
        """Say how speech stands, in a few words."""
        voice = self._voice
        if voice is None:
            return f"speech off: {self._why_none}"
        if voice.trouble():
            return f"speech off: {voice.trouble()}"
        return "speech muted" if self.is_muted else f"speech by {voice.name}"

    def look(self) -> None:
        """Hand the next saying to the voice if one is due; the thread does it over and over."""
        voice = self._voice
        if voice is None:
            return
        if not voice.is_speaking():
            self._speaking = None
        if self.is_muted:
            if self._speaking is not None:
                voice.hush()
            return
        with self._lock:
            saying = self._queue.take(self._clock(), self._speaking)
        if saying is not None and not voice.trouble():
            self._speaking = saying
            voice.say(saying.words)

    def _run(self) -> None:
        while not self._stop.wait(LOOK_S):
            self.look()


def speech_of(*, in_window: bool) -> Speech:
    """Find a voice: Qt's own where the window runs, else the program, else none and why."""
    why = ""
    if in_window:
        from console.window.voice import qt_voice

        found, why = qt_voice()
        if found is not None:
            return Speech(found)
    program, why_no_program = espeak_voice()
    reasons = "; ".join(reason for reason in (why, why_no_program) if reason)
    return Speech(program, reasons)
