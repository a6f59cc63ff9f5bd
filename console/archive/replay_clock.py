"""When to hand in the next input of a replay: a schedule, with no clock of its own.

Every method takes the wall time as an argument, in seconds of any clock that only goes forward.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from console.core.errors import UsageError

SLOWEST = 0.25
FASTEST = 60.0
STEPS = (0.25, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 60.0)


@dataclass(slots=True)
class ReplayClock:
    """Maps wall time to the time of the pass.

    Parameters
    ----------
    t : float
        Time of the pass to begin at.
    speed : float
        Pass seconds a second; ``math.inf`` hands everything in at once.
    is_playing : bool

    Notes
    -----
    The schedule is anchored: time of the pass = t0 + speed · (wall - wall0), with a new anchor
    whenever the speed changes, the replay stops, goes on, or jumps. So delays never add up.
    """

    t: float
    speed: float = 1.0
    is_playing: bool = False
    _anchor_wall_s: float = 0.0

    def __post_init__(self) -> None:
        _check_speed(self.speed)

    def play(self, wall_s: float) -> None:
        """Go on from where it stands."""
        if not self.is_playing:
            self._anchor_wall_s = wall_s
            self.is_playing = True

    def pause(self, wall_s: float) -> None:
        """Stand still."""
        self._settle(wall_s)
        self.is_playing = False

    def set_speed(self, speed: float, wall_s: float) -> None:
        """Change the speed from now on.

        Raises
        ------
        UsageError
            Not above 0.
        """
        _check_speed(speed)
        self._settle(wall_s)
        self.speed = speed

    def faster(self, wall_s: float) -> None:
        """Take the next greater speed of the steps."""
        self.set_speed(next((s for s in STEPS if s > self.speed), STEPS[-1]), wall_s)

    def slower(self, wall_s: float) -> None:
        """Take the next smaller speed of the steps."""
        self.set_speed(next((s for s in reversed(STEPS) if s < self.speed), STEPS[0]), wall_s)

    def jump(self, t: float, wall_s: float) -> None:
        """Stand at another time of the pass, playing on or not as before."""
        self.t = t
        self._anchor_wall_s = wall_s

    def _settle(self, wall_s: float) -> None:
        """Begin a new anchor here; what infinite speed has reached only the caller knows."""
        if math.isfinite(self.speed):
            self.t = self.now(wall_s)
        self._anchor_wall_s = wall_s

    def now(self, wall_s: float) -> float:
        """Give the time of the pass; infinite while it plays at infinite speed."""
        if not self.is_playing:
            return self.t
        elapsed_s = max(0.0, wall_s - self._anchor_wall_s)
        if math.isinf(self.speed):
            return math.inf
        return self.t + self.speed * elapsed_s

    def delay_s(self, t_input: float, wall_s: float) -> float | None:
        """Give how long to wait before an input of this time is handed in.

        Returns
        -------
        float or None
            Seconds of wall time, 0 for what is due or overdue; None while it stands still and the
            input lies ahead.
        """
        now = self.now(wall_s)
        if t_input <= now:
            return 0.0
        if not self.is_playing:
            return None
        return (t_input - now) / self.speed


def _check_speed(speed: float) -> None:
    if not speed > 0.0:
        raise UsageError(f"a replay's speed is above 0, not {speed}")
