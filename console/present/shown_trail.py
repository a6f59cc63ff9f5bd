"""The begin of a trail that was read ahead: as much of it as a replay has come to."""

from __future__ import annotations

from console.present.trail import Times, Trail


class ShownTrail(Trail):
    """A trail that shares another's rows and ends where it is told to.

    Parameters
    ----------
    whole : Trail
        Appended to by who reads ahead; its rows are never changed once they are there.
    """

    def __init__(self, whole: Trail) -> None:
        super().__init__(levels=1, blocks=4)
        self._whole = whole
        self.path = whole.path.begin()
        self.times = Times.of_begin(whole.times, self.path)
        self.capture = whole.capture.begin()
        self.capture_times = Times.of_begin(whole.capture_times, self.capture)

    def show(self, rows: int, captures: int, hooks: tuple[float, ...] | None) -> None:
        """End after so many rows of the path and of capture."""
        if rows < self.path.count or captures < self.capture.count:
            self.generation += 1
        self.path.end_at(rows)
        self.capture.end_at(captures)
        self.hooks = hooks
