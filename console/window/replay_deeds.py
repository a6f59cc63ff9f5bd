"""What a replay adds to the Watch view: its bar, its keys, and what it says it did."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from console.present.replay_port import ReplayPort, Way
from console.window.keys import REPLAY_KEYS, Intent, keys_refused_in_replay
from console.window.replay_bar import ReplayBar
from console.window.watch_deeds import bind

if TYPE_CHECKING:
    from console.window.watch_view import WatchView

REPLAY_HINTS = (
    "Space play", "← → sample", "N P events", "M least margin", "G go to", "[ ] speed", "F1 keys",
    "F2 manual",
)  # fmt: skip
SKIP_S = 10.0
MARK = "mark"
REFUSED = "! a replay changes nothing of the pass; Shift+N and K keep notes beside it"
REPEATED = frozenset({Intent.SAMPLE_ON, Intent.SAMPLE_BACK, Intent.SKIP_ON, Intent.SKIP_BACK})


class ReplayDeeds:
    """Binds the replay's keys to a Watch view and shows how it stands.

    Attributes
    ----------
    bar : ReplayBar
    """

    def __init__(self, view: WatchView, port: ReplayPort) -> None:
        self._view = view
        self._port = port
        self._told = 0
        self.bar = ReplayBar(view)
        self.bar.pointed.connect(port.seek)
        deeds: dict[Intent, Callable[[], None]] = {
            Intent.PLAY: port.toggle,
            Intent.SAMPLE_ON: lambda: port.step(Way.ON),
            Intent.SAMPLE_BACK: lambda: port.step(Way.BACK),
            Intent.SKIP_ON: lambda: port.skip(SKIP_S),
            Intent.SKIP_BACK: lambda: port.skip(-SKIP_S),
            Intent.EVENT_ON: lambda: port.go_to_event(Way.ON),
            Intent.EVENT_BACK: lambda: port.go_to_event(Way.BACK),
            Intent.LEAST_ON: lambda: port.go_to_least_margin(Way.ON),
            Intent.LEAST_BACK: lambda: port.go_to_least_margin(Way.BACK),
            Intent.FASTER: lambda: port.change_speed(Way.ON),
            Intent.SLOWER: lambda: port.change_speed(Way.BACK),
            Intent.TO_BEGIN: lambda: port.go_to_end(Way.BACK),
            Intent.TO_END: lambda: port.go_to_end(Way.ON),
            Intent.GO_TO: self._ask_place,
            Intent.TRAINER_NOTE: self._ask_note,
            Intent.TRAINER_MARK: lambda: self._keep(MARK),
            Intent.LAY_OVER: self._ask_pass,
        }
        bind(view, REPLAY_KEYS, deeds, repeats=REPEATED)
        refused = keys_refused_in_replay()
        bind(view, refused, {key.intent: self._refuse for key in refused})

    def show(self) -> None:
        """Show how the replay stands, and say what it did since."""
        now = self._port.replay()
        self.bar.show_replay(now, self._port.ticks())
        self._view.plots.lanes.set_overlay(self._port.overlay())
        if now.told_count != self._told:
            self._told = now.told_count
            self._view.entry.tell(now.told)

    def _refuse(self) -> None:
        self._view.entry.tell(REFUSED)

    def _ask_place(self) -> None:
        self._view.entry.ask("Go to: 15 m, 09:31:07 or +2:00", self._port.go_to_words)

    def _ask_note(self) -> None:
        def taken(words: str) -> str:
            if not words:
                return "a note needs words"
            self._keep(words)
            return ""

        self._view.entry.ask("Note kept with the pass", taken)

    def _keep(self, words: str) -> None:
        self._port.note(self._view.operator.initials, words)

    def _ask_pass(self) -> None:
        def taken(words: str) -> str:
            self._port.lay_over(words)
            return ""

        self._view.entry.ask("Lay over, file (empty: none)", taken)
