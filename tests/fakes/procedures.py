"""Snapshots with the procedure in them: a poll open, steps due and late, something shelved."""

from __future__ import annotations

from collections.abc import Callable

from fakes.snapshots import T_CONTACT, hold_20m, warning_and_cautions

from console.approach.procedure import Answer
from console.approach.snapshot import CallLine, PollNow, PositionNow, ShelvedNow, Snapshot
from console.envelope.limits import Level
from tests.fakes.changed import replace

T = T_CONTACT - 300.0
NAMES = ("navigation", "vehicle", "station", "crew", "flight surgeon", "console")


def poll_of(*answers: Answer, **changes: object) -> PollNow:
    """Give an open poll, the last position ours."""
    positions = tuple(
        PositionNow(
            name, answer, "" if answer is Answer.NOT_YET else "LT",
            None if answer is Answer.NOT_YET else T + n, n == len(answers) - 1,
        )
        for n, (name, answer) in enumerate(zip(NAMES, answers, strict=False))
    )  # fmt: skip
    fields: dict[str, object] = {
        "id": "go-20", "words": "go for final approach", "hold_m": 20.0, "positions": positions,
        "t_opened": T, "t_released": None, "released_by": "", "overdue_s": None,
        "refusal": "" if set(answers) == {Answer.GO} else "not yet: navigation",
    }  # fmt: skip
    return PollNow(**(fields | changes))  # type: ignore[arg-type]


def step_line(id_: str, state: str, **changes: object) -> CallLine:
    """Give a step's line."""
    return replace(CallLine(f"step:{id_}", f"do {id_}", state, None, None, "crew"), **changes)


def shelved(n: int, left_s: float = 250.9, standing: bool = False) -> ShelvedNow:
    """Give a shelving."""
    return ShelvedNow(f"limit-{n}", None, Level.CAUTION, "MK", "known", T, left_s, standing)


def polling() -> Snapshot:
    """Give the 20 m hold with a poll open, one no-go, and a step that is late."""
    go, no_go, not_yet = Answer.GO, Answer.NO_GO, Answer.NOT_YET
    s = hold_20m()
    late = step_line("lights", "now", words="port lights on, picture good", overdue_s=75.0)
    poll = poll_of(go, go, no_go, not_yet, go, not_yet, overdue_s=12.0)
    return replace(s, polls=(poll,), calls=(late, *s.calls))


def shelving() -> Snapshot:
    """Give standing exceedances with three more put aside."""
    s = warning_and_cautions()
    return replace(s, shelved=(shelved(1), shelved(2, 1799.0, standing=True), shelved(3, 3.2)))


PROCEDURES: dict[str, Callable[[], Snapshot]] = {"polling": polling, "shelving": shelving}
