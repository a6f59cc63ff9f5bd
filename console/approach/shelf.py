"""Shelving, as the operator asks for it: put aside for a time, taken back, come back by itself.

Time is engine time, so that a shelving ends at the same tick in a replay.
"""

from __future__ import annotations

from console.approach.event import AnyEvent, Refused, Shelved, Unshelved
from console.approach.snapshot import ShelvedNow
from console.core.errors import InputError
from console.core.units import MICROSECOND_S
from console.envelope.limits import Level
from console.judging.life import Shelving
from console.judging.register import LifeKey, Register

LEVELS = {level.word: level for level in Level}


def shelve(
    register: Register,
    key: tuple[str, str | None, str],
    initials: str,
    reason: str,
    for_s: float,
    times: tuple[float, float],
) -> list[AnyEvent]:
    """Shelve what an action names; a refusal is an event with the reason and the mend.

    Parameters
    ----------
    key : tuple
        Id, source and level's word.
    times : tuple of float
        Engine time, and the same moment on the clock of the source in use.
    """
    engine_s, t = times
    life = _life_key(key)
    try:
        if life is None:
            raise InputError.of("shelve", key[0], "no such level", ", ".join(LEVELS))
        shelving = register.shelve(life, initials, reason.strip(), engine_s, for_s)
    except InputError as error:
        fault = error.faults[0]
        words = f"{fault.place} is not shelved: {fault.found}; {fault.mend}"
        return [Refused(t=t, deed="shelve", initials=initials, words=words)]
    return [
        Shelved(
            t=t, id=shelving.id, source=shelving.source, level=shelving.level.word,
            initials=initials, reason=shelving.reason, for_s=for_s,
        )
    ]  # fmt: skip


def unshelve(
    register: Register, key: tuple[str, str | None, str], initials: str, t: float
) -> list[AnyEvent]:
    """Take back what an action names."""
    life = _life_key(key)
    shelving = None if life is None else register.release(life)
    if shelving is None:
        words = f"{key[0]} is not shelved"
        return [Refused(t=t, deed="unshelve", initials=initials, words=words)]
    return [_came_back(register, shelving, initials, t)]


def expire(register: Register, engine_s: float, t: float) -> list[AnyEvent]:
    """End what has been shelved long enough."""
    due = register.expire(engine_s + MICROSECOND_S) if register.shelvings() else ()
    return [_came_back(register, shelving, "", t) for shelving in due]


def shelved_now(register: Register, engine_s: float) -> tuple[ShelvedNow, ...]:
    """Give what is shelved as the snapshot shows it, soonest back first."""
    shelvings = register.shelvings()
    if not shelvings:
        return ()
    ordered = sorted(shelvings, key=lambda s: (s.until, s.id, s.source or ""))
    return tuple(
        ShelvedNow(
            s.id, s.source, s.level, s.initials, s.reason, s.t,
            max(s.until - engine_s, 0.0), register.standing((s.id, s.source, s.level)) is not None,
        )
        for s in ordered
    )  # fmt: skip


def _life_key(key: tuple[str, str | None, str]) -> LifeKey | None:
    id_, source, word = key
    level = LEVELS.get(word)
    return None if level is None else (id_, source, level)


def _came_back(register: Register, shelving: Shelving, initials: str, t: float) -> Unshelved:
    life = (shelving.id, shelving.source, shelving.level)
    return Unshelved(
        t=t, id=shelving.id, source=shelving.source, level=shelving.level.word,
        initials=initials, standing=register.standing(life) is not None,
    )  # fmt: skip
