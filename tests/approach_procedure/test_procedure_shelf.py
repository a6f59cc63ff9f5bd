"""Shelving through the state model: asked, refused, listed, ended by hand and by time."""

from __future__ import annotations

import pytest
from procedure_tools import Watch

from console.approach.action import Acknowledge, AcknowledgeAll, Shelve, Unshelve
from console.approach.event import (
    Acknowledged,
    ExceedanceCleared,
    ExceedanceRaised,
    Refused,
    Shelved,
    Unshelved,
)
from console.envelope.limits import Level

CAUTION = "closing-fast-caution"
WARNING = "closing-fast"


def too_fast(watch: Watch | None = None) -> Watch:
    """Give a watch whose vehicle closes at 0.2 m/s, 5 m from contact: caution and warning."""
    watch = watch or Watch()
    watch.move(13.0, 7.0, 30.0)
    return watch


def shelve(watch: Watch, id_: str = CAUTION, level: str = "caution", **changes: object) -> list:
    """Ask for a shelving of two minutes."""
    fields = {"initials": "MK", "reason": "known", "for_s": 120.0} | changes
    return watch.act(Shelve(id=id_, level=level, **fields))  # type: ignore[arg-type]


def test_a_shelved_exceedance_is_listed_with_who_why_and_the_time_left() -> None:
    """Two minutes, less what has passed."""
    watch = too_fast()
    (event,) = shelve(watch)
    assert isinstance(event, Shelved)
    watch.stand(7.0, 10.0)
    (shown,) = watch.state.snapshot().shelved
    assert (shown.id, shown.level, shown.initials, shown.reason) == (
        CAUTION, Level.CAUTION, "MK", "known",
    )  # fmt: skip
    assert shown.left_s == pytest.approx(110.0, abs=0.2)


def test_it_asks_for_nothing_but_goes_on_being_judged_and_recorded() -> None:
    """It clears and is raised again while shelved, with events that say so, and never waits."""
    watch = too_fast()
    shelve(watch)
    watch.stand(7.0, 10.0)
    watch.move(9.0, 5.0, 20.0)
    mine = [e for e in watch.of(ExceedanceRaised) if e.id == CAUTION]
    assert [event.shelved for event in mine] == [False, True]
    assert CAUTION in [event.id for event in watch.of(ExceedanceCleared)]
    assert CAUTION not in [e.id for e in watch.state.register.unacknowledged()]
    shown = [e for e in watch.state.snapshot().exceedances if e.id == CAUTION]
    assert all(not e.waits for e in shown)
    assert watch.state.snapshot().shelved[0].standing


def test_time_ends_it_and_what_stands_asks_as_if_new() -> None:
    """At the tick its time is up; the exceedance is unacknowledged again though it was not."""
    watch = too_fast()
    key = next(e.key for e in watch.state.register if e.id == CAUTION)
    watch.act(Acknowledge("MK", key))
    shelve(watch, for_s=10.0)
    began = watch.t
    watch.move(7.0, 3.0, 20.0)
    (back,) = watch.of(Unshelved)
    assert (back.initials, back.standing) == ("", True)
    assert back.t == pytest.approx(began + 10.0, abs=0.11)
    assert CAUTION in [e.id for e in watch.state.register.unacknowledged()]


def test_it_is_taken_back_by_hand() -> None:
    """With initials; what no longer stands comes back quietly."""
    watch = too_fast()
    shelve(watch)
    watch.stand(7.0, 10.0)
    (event,) = watch.act(Unshelve("LT", CAUTION, None, "caution"))
    assert isinstance(event, Unshelved)
    assert (event.initials, event.standing) == ("LT", False)
    assert watch.state.snapshot().shelved == ()
    (again,) = watch.act(Unshelve("LT", CAUTION, None, "caution"))
    assert isinstance(again, Refused)


@pytest.mark.parametrize(
    ("id_", "level", "changes", "said"),
    [
        (WARNING, "warning", {}, "never_shelve"),
        (CAUTION, "caution", {"initials": " "}, "initials"),
        (CAUTION, "caution", {"reason": "  "}, "reason"),
        (CAUTION, "caution", {"for_s": 0.0}, "above 0"),
        (CAUTION, "caution", {"for_s": 3600.0}, "1800"),
        (CAUTION, "caution", {"for_s": float("nan")}, "allowed"),
        (CAUTION, "alarm", {}, "no such level"),
        ("none-such", "caution", {}, "none-such"),
        ("data:link", "warning", {"source": "optical"}, "never_shelve"),
    ],
)
def test_a_shelving_is_refused_with_reason_and_mend(
    id_: str, level: str, changes: dict, said: str
) -> None:
    """Never for what the limits file forbids or a silent link; never without name or bound."""
    watch = too_fast()
    (event,) = shelve(watch, id_, level, **changes)
    assert isinstance(event, Refused)
    assert said in event.words
    assert watch.state.snapshot().shelved == ()


def test_a_second_shelving_is_refused() -> None:
    """Release it first."""
    watch = too_fast()
    shelve(watch)
    (event,) = shelve(watch)
    assert isinstance(event, Refused)
    assert "already" in event.words


def test_first_out_order_is_kept_among_what_stands_and_what_waits() -> None:
    """Acknowledging all goes in the order they were raised; shelved ones come last."""
    watch = too_fast()
    order = [event.key for event in watch.of(ExceedanceRaised)]
    shelve(watch)
    watch.act(AcknowledgeAll("MK"))
    rest = [key for key in order if not key.startswith(CAUTION + "#")]
    assert [event.key for event in watch.of(Acknowledged)] == rest
    standing = [e for e in watch.state.snapshot().exceedances if e.cleared is None]
    assert standing[-1].id == CAUTION
    assert standing[-1].shelved


def test_the_list_of_shelvings_says_what_is_back_soonest_first() -> None:
    """Three with different times."""
    watch = too_fast()
    shelve(watch, "roll-caution", "caution", for_s=300.0)
    shelve(watch, for_s=100.0)
    shelve(watch, "corridor-caution", "caution", for_s=200.0)
    assert [s.id for s in watch.state.snapshot().shelved] == [
        CAUTION, "corridor-caution", "roll-caution",
    ]  # fmt: skip
