"""What the operator does, turned into actions: who acts is asked once, then known.

Each deed is handed to the application as a value; whether it does anything is the state
model's business.
"""

from __future__ import annotations

from collections.abc import Callable

from console.approach.action import (
    Acknowledge,
    AcknowledgeAll,
    AnyAction,
    ChooseSource,
    Note,
    PollAnswer,
    ReleaseHold,
    Say,
    Shelve,
    StepDone,
    Unshelve,
)
from console.approach.procedure import Answer
from console.judging.register import LONGEST_SHELVING_S
from console.present.call_lines import PositionRow
from console.present.exceedance_lines import ExceedanceLine
from console.present.port import WatchPort
from console.window.panels.entry import EntryLine

INITIALS_MOST = 4
SPEAKABLE = frozenset({"hold", "retreat", "abort", "hands_off", "contact", "soft_capture"})
AUTOMATIC = "0"
WANTED = f"one to {INITIALS_MOST} letters"


class Operator:
    """The one at the keyboard.

    Parameters
    ----------
    port : WatchPort
        Takes the actions.
    line : EntryLine
        Where questions are asked.

    Attributes
    ----------
    initials : str
        Empty until given.
    """

    def __init__(self, port: WatchPort, line: EntryLine) -> None:
        self._port = port
        self._line = line
        self.initials = ""

    def acknowledge(self, key: str, words: str) -> None:
        """Confirm having recognised one exceedance."""
        self._named(
            lambda: self._do(
                Acknowledge(initials=self.initials, key=key), f"acknowledged: {words}"
            )
        )

    def acknowledge_all(self, count: int) -> None:
        """Confirm having recognised every one that waits."""
        self._named(
            lambda: self._do(AcknowledgeAll(initials=self.initials), f"acknowledged {count}")
        )

    def note(self) -> None:
        """Ask for words and keep them with the time."""

        def taken(words: str) -> str:
            if words:
                self._do(Note(initials=self.initials, text=words), f"noted: {words}")
            return ""

        self._named(lambda: self._line.ask("Note", taken))

    def say(self, call: str, words: str) -> None:
        """Log that a call was made on the loop."""
        self._named(lambda: self._do(Say(initials=self.initials, call=call), f"logged: {words}"))

    def release_hold(self, range_m: float | None) -> None:
        """Log that the hold is released."""
        self._named(
            lambda: self._do(
                ReleaseHold(initials=self.initials, range_m=range_m), "release of the hold…"
            )
        )

    def finish_step(self, key: str, words: str) -> None:
        """Say that a step is done."""
        self._named(
            lambda: self._do(StepDone(initials=self.initials, key=key), f"step done: {words}")
        )

    def answer(self, position: PositionRow, answer: Answer) -> None:
        """Answer a poll, for oneself at once, for another position with that one's initials."""
        words = f"{position.position}: {answer.value}"

        def by(initials: str) -> None:
            action = PollAnswer(
                self.initials, position.poll, position.position, answer.value, initials
            )
            self._do(action, f"answered: {words}")

        def taken(text: str) -> str:
            initials = _initials(text)
            if not initials:
                return WANTED
            by(initials)
            return ""

        if position.is_mine:
            self._named(lambda: by(""))
        else:
            prompt = f"{words}. Initials of {position.position}"
            self._named(lambda: self._line.ask(prompt, taken, position.initials))

    def shelve(self, line: ExceedanceLine) -> None:
        """Ask why and for how long, then shelve the limit or data check of a line."""
        what = f"{line.level} {line.name}"

        def reason_taken(reason: str) -> str:
            if not reason:
                return "a reason is needed"
            prompt = f"Minutes, at most {LONGEST_SHELVING_S / 60.0:.0f}"
            self._line.ask(prompt, lambda text: self._shelve_for(line, reason, text), "10")
            return ""

        self._named(lambda: self._line.ask(f"Shelve {what}. Why", reason_taken))

    def _shelve_for(self, line: ExceedanceLine, reason: str, minutes: str) -> str:
        try:
            for_s = float(minutes.replace(",", ".")) * 60.0
        except ValueError:
            return f"{minutes or 'nothing'} is no number of minutes"
        if not 0.0 < for_s <= LONGEST_SHELVING_S:
            return f"above 0, at most {LONGEST_SHELVING_S / 60.0:.0f} minutes"
        action = Shelve(self.initials, line.id, line.source, line.level, reason, for_s)
        self._do(action, f"shelved for {minutes} min: {line.name}")
        return ""

    def unshelve(self, line: ExceedanceLine) -> None:
        """Take a shelved limit or data check back."""
        self._named(
            lambda: self._do(
                Unshelve(self.initials, line.id, line.source, line.level),
                f"taken back: {line.level} {line.id}",
            )
        )

    def choose_source(self, sources: tuple[str, ...]) -> None:
        """Ask which source is to be used."""
        choices = "  ".join(f"{i} {name}" for i, name in enumerate(sources, start=1))

        def taken(words: str) -> str:
            wanted = words.lower()
            if wanted in (AUTOMATIC, "automatic"):
                self._do(ChooseSource(initials=self.initials), "source: automatic choice")
                return ""
            by_number = {str(i): name for i, name in enumerate(sources, start=1)}
            by_name = {name.lower(): name for name in sources}
            source = by_number.get(wanted) or by_name.get(wanted)
            if source is None:
                return f"{words or 'nothing'} is none of them"
            self._do(ChooseSource(initials=self.initials, source=source), f"source: {source}")
            return ""

        prompt = f"Source:  {AUTOMATIC} automatic  {choices}"
        self._named(lambda: self._line.ask(prompt, taken))

    def change_initials(self) -> None:
        """Ask for initials anew."""
        self._ask_initials(lambda: self._line.tell(f"initials {self.initials}"))

    def _named(self, deed: Callable[[], None]) -> None:
        """Do a deed now, or after the initials are known."""
        if self.initials:
            deed()
        else:
            self._ask_initials(deed)

    def _ask_initials(self, deed: Callable[[], None]) -> None:
        def taken(words: str) -> str:
            initials = _initials(words)
            if not initials:
                return WANTED
            self.initials = self._line.who = initials
            deed()
            return ""

        self._line.ask("Your initials", taken, self.initials)

    def _do(self, action: AnyAction, words: str) -> None:
        self._port.act(action)
        self._line.tell(words)


def _initials(text: str) -> str:
    """Give initials in capitals without dots, empty where the text is none."""
    initials = text.replace(".", "").replace(" ", "").upper()
    return initials if initials.isalpha() and len(initials) <= INITIALS_MOST else ""
