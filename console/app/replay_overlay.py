"""A second pass to be laid over the lanes: its path as Watch would draw it, by the same engine."""

from __future__ import annotations

from pathlib import Path

from console.app.input_file import load_residuals
from console.app.pass_rules import rules_of, watching_model
from console.app.replay_inputs import inputs_of
from console.app.replay_run import Run
from console.app.trail_feed import TrailFeed
from console.approach.intake import Intake
from console.archive.passes import read_pass
from console.core.errors import InputError
from console.present.replay_port import Overlay


class OverlayReading:
    """Reads a second pass up to contact, some inputs at a time.

    Parameters
    ----------
    path : Path
        A recording or a table, judged by its own rules.

    Raises
    ------
    InputError
        It cannot be read.
    """

    def __init__(self, path: Path) -> None:
        self._one = one = read_pass(path)
        self.name = one.name
        try:
            rules = rules_of(one, None, None)
        except InputError:
            self._close_file()
            raise
        self._state = watching_model(one, rules, load_residuals())
        inputs = inputs_of(one)
        self._run = Run(Intake(self._state, inputs.mode), inputs)
        self._follow = TrailFeed(self._state)

    def read(self, most: int) -> bool:
        """Read so many inputs at most; tell whether the path is there."""
        run = self._run
        for _ in range(most):
            if run.coming is None or self._state.contact.t is not None:
                return True
            run.feed()
            self._follow.follow(run.newest)
        return False

    def made(self) -> Overlay:
        """Give what is laid over; raises :class:`InputError` where there is no path."""
        if not self._follow.trail.count:
            raise InputError.of(self.name, "", "no sample before contact", "give another pass")
        return Overlay(self.name, self._follow.trail)

    def close(self) -> None:
        """Read no further."""
        self._run.close()
        self._close_file()

    def _close_file(self) -> None:
        if self._one.recording is not None:
            self._one.recording.close()
