"""Hooks that lag behind the others, and since when.

Hooks are driven together or in gangs one after the other, and close at their own times. One lags
when it has been on its way and stands still, when it has been on its way for far longer than any
other took, or when it has not begun though every other has come to rest.
"""

from __future__ import annotations

from dataclasses import dataclass

from console.approach.capture_evidence import HOOK_CLOSED, HOOK_MOVED
from console.core.units import MICROSECOND_S

STILL_S = 10.0
"""A hook without progress for so long stands still."""
SLOW_FACTOR, SLOW_S = 1.5, 5.0
"""Slow: longer on its way than 1.5 times the slowest closed hook, and 5 s."""
UNSEEN_S = 90.0
"""Where positions between open and closed were never seen, a gang may take so long."""
PROGRESS = 1e-3
HOOKS_KEPT = 256


@dataclass(slots=True)
class _Hook:
    value: float = 0.0
    started_s: float | None = None
    moved_s: float | None = None
    took_s: float | None = None
    """How long it took to close; None while open."""


class HookWatch:
    """Follows each hook's position over engine time."""

    def __init__(self) -> None:
        self._hooks: list[_Hook] = []
        self._sees_between = False

    def take(self, positions: tuple[float, ...] | None, engine_s: float) -> None:
        """Take the hooks' positions, 0 open to 1 closed; any number of them."""
        if positions is None:
            return
        positions = positions[:HOOKS_KEPT]
        if len(positions) != len(self._hooks):
            self._hooks = [_Hook() for _ in positions]
        for hook, position in zip(self._hooks, positions, strict=True):
            self._follow(hook, position, engine_s)

    def _follow(self, hook: _Hook, position: float, engine_s: float) -> None:
        if position <= HOOK_MOVED:
            hook.value, hook.started_s, hook.moved_s, hook.took_s = position, None, None, None
            return
        self._sees_between |= position < HOOK_CLOSED
        if hook.started_s is None:
            hook.started_s = engine_s
        if position > hook.value + PROGRESS or hook.moved_s is None:
            hook.moved_s = engine_s
        if position >= HOOK_CLOSED:
            if hook.took_s is None:
                hook.took_s = engine_s - hook.started_s
        else:
            hook.took_s = None
        hook.value = position

    def lagging(self, engine_s: float) -> tuple[int, ...]:
        """Give the numbers, from 1, of the hooks that lag now."""
        return tuple(
            number for number, moment_s in self._moments() if moment_s <= engine_s + MICROSECOND_S
        )

    def next_timer_s(self, engine_s: float) -> float | None:
        """Give the next engine time at which a hook lags by time alone, None if none will."""
        ahead = (
            moment_s for _, moment_s in self._moments() if moment_s > engine_s + MICROSECOND_S
        )
        return min(ahead, default=None)

    def _moments(self) -> list[tuple[int, float]]:
        """Give the open hooks, and from when on each lags if nothing more is heard of any."""
        slowest_s = max((h.took_s for h in self._hooks if h.took_s is not None), default=None)
        newest_s = max((h.moved_s for h in self._hooks if h.moved_s is not None), default=None)
        rest_s = STILL_S if self._sees_between else UNSEEN_S
        moments: list[tuple[int, float]] = []
        for number, hook in enumerate(self._hooks, start=1):
            if hook.value >= HOOK_CLOSED or newest_s is None:
                continue
            if hook.started_s is None or hook.moved_s is None:
                moments.append((number, newest_s + rest_s))
                continue
            moment_s = hook.moved_s + STILL_S
            if slowest_s is not None:
                moment_s = min(moment_s, hook.started_s + SLOW_FACTOR * slowest_s + SLOW_S)
            moments.append((number, moment_s))
        return moments

    def words(self, numbers: tuple[int, ...]) -> str:
        """Name hooks and how far they are closed."""
        if len(numbers) == 1:
            closed = self._hooks[numbers[0] - 1].value
            return f"Hook {numbers[0]} lags, {closed * 100.0:.0f} % closed"
        named = ", ".join(str(number) for number in numbers)
        return f"Hooks {named} lag"
