"""When a watch makes its next snapshot: at once for what is new, seldom where nothing is."""

from __future__ import annotations

SNAPSHOT_EVERY_S = 1.0 / 30.0
IDLE_EVERY_S = 0.125
"""Without anything new only ages and countdowns go on; they are read at 5 Hz."""
CATCHING_UP_EVERY_S = 0.1
CATCHING_UP_FROM_S = 0.25
"""So far behind what was received, fewer pictures leave the processor to catching up."""


class Pace:
    """Keeps snapshots at most 30 a second, and the first after a pause without any wait.

    What is new waits only for the last snapshot that showed something new. So a slow source's
    sample is shown as soon as it is fed, and a fast one's still cost no more than 30 pictures.
    """

    def __init__(self) -> None:
        self._news_s = 0.0
        self._any_s = 0.0
        self._has_news = False
        self._every_s = SNAPSHOT_EVERY_S

    def note_behind(self, behind_s: float) -> None:
        """Note how far what was fed is behind what was received."""
        late = behind_s >= CATCHING_UP_FROM_S
        self._every_s = CATCHING_UP_EVERY_S if late else SNAPSHOT_EVERY_S

    def note_news(self) -> None:
        """Note that something was fed."""
        self._has_news = True

    def left_s(self, now: float) -> float:
        """Give the seconds until the next snapshot is due, 0 where it is."""
        due_s = self._any_s + IDLE_EVERY_S
        if self._has_news:
            due_s = min(due_s, self._news_s + self._every_s)
        if now < self._any_s:  # the clock was set back
            return 0.0
        return max(0.0, due_s - now)

    def note_made(self, now: float) -> None:
        """Note that one is made now."""
        self._any_s = now
        if self._has_news:
            self._news_s = now
            self._has_news = False
