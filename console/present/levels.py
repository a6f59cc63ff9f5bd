"""What stands on a quantity, and where its warning band lies: shared by headline and ledger."""

from __future__ import annotations

from collections.abc import Callable

from console.approach.snapshot import LimitNow, Snapshot
from console.envelope.limits import Allow, Level
from console.envelope.quantity import Quantity
from console.present.cell import Note


def limits_on(s: Snapshot, quantity: Quantity) -> tuple[LimitNow, ...]:
    """Give the limits set on a quantity, in the file's order."""
    return tuple(n for n in s.limits if n.quantity is quantity)


def standing_level(s: Snapshot, quantity: Quantity) -> Level | None:
    """Give the worst level that stands on a quantity, None where nothing does.

    What stands has been violated for its on-delay, so the colour does not flicker with noise.
    """
    return max((n.level for n in limits_on(s, quantity) if n.standing), default=None)


def shown_band(s: Snapshot, quantity: Quantity) -> tuple[float | None, float | None]:
    """Give the tightest lower and upper limit here, None where open.

    Warning limits count; caution limits where the file has no warning on the quantity.
    """
    on = limits_on(s, quantity)
    worst = max((n.level for n in on), default=None)
    here = [n for n in on if n.level is worst]
    lows = [n.limit for n in here if n.allow is Allow.ABOVE]
    highs = [n.limit for n in here if n.allow is Allow.BELOW]
    return _known(max, lows), _known(min, highs)


def _known(pick: Callable[[list[float]], float], bounds: list[float | None]) -> float | None:
    known = [bound for bound in bounds if bound is not None]
    return pick(known) if known else None


def judged_value(s: Snapshot, quantity: Quantity) -> float | None:
    """Give the value that is judged: a warning limit's, else any limit's, else as measured."""
    ranked = sorted(limits_on(s, quantity), key=lambda n: -n.level)
    values = (n.value for n in ranked if n.value is not None)
    return next(values, s.values.get(quantity))


def unknown_note(s: Snapshot) -> Note:
    """Say why a figure is not known."""
    return Note("no data yet" if s.measured is None else "not known")
