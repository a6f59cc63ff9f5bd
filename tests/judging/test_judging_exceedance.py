"""The exceedance's life: every pair of state and trigger, and the register's bookkeeping."""

from __future__ import annotations

import itertools
import re

import pytest
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, rule

from console.core.errors import InputError, UsageError
from console.envelope.limits import Level
from console.judging.exceedance import (
    IMPOSSIBLE,
    TRANSITIONS,
    Exceedance,
    LifeChange,
    State,
    Trigger,
    advance,
    diagram,
    table,
)
from console.judging.register import LONGEST_SHELVING_S, Register

T0 = 1_932_100_000.0
PAIRS = list(itertools.product(State, Trigger))


@pytest.mark.parametrize(("state", "trigger"), PAIRS)
def test_every_pair_is_a_transition_or_a_known_impossibility(
    state: State, trigger: Trigger
) -> None:
    """Nothing is forgotten and nothing is listed twice."""
    assert ((state, trigger) in TRANSITIONS) != ((state, trigger) in IMPOSSIBLE)


@pytest.mark.parametrize(("state", "trigger"), list(IMPOSSIBLE))
def test_an_impossible_pair_raises_and_says_why(state: State, trigger: Trigger) -> None:
    """Such a trigger is a defect of the caller."""
    with pytest.raises(UsageError, match=re.escape(IMPOSSIBLE[state, trigger])):
        advance(state, trigger)


N, U, A, R, S = (
    State.NORMAL,
    State.UNACKNOWLEDGED,
    State.ACKNOWLEDGED,
    State.RETURNED,
    State.SHELVED,
)


@pytest.mark.parametrize(
    ("before", "trigger", "after"),
    [
        # IEC 62682 / ANSI/ISA-18.2 alarm state transitions, non-latching (from memory)
        (N, Trigger.CONDITION_TRUE, U),
        (U, Trigger.ACKNOWLEDGE, A),
        (U, Trigger.CONDITION_CLEAR, R),
        (A, Trigger.CONDITION_CLEAR, N),
        (R, Trigger.ACKNOWLEDGE, N),
        (R, Trigger.CONDITION_TRUE, U),
        (N, Trigger.SHELVE, S),
        (U, Trigger.SHELVE, S),
        (A, Trigger.SHELVE, S),
        (R, Trigger.SHELVE, S),
        (S, Trigger.RELEASE_STANDING, U),
        (S, Trigger.RELEASE_CLEAR, N),
        (S, Trigger.CONDITION_TRUE, S),
        (S, Trigger.CONDITION_CLEAR, S),
    ],
)
def test_transitions_are_those_of_alarm_management(
    before: State, trigger: Trigger, after: State
) -> None:
    """The published state model, less latching and suppression by design."""
    assert advance(before, trigger) is after


def test_diagram_and_table_show_every_pair() -> None:
    """What the developers' page shows is made from the table, whole."""
    assert diagram().count(" : ") == len(TRANSITIONS) + 1  # and one state's longer name
    assert table().count("\n") == len(PAIRS) + 2
    assert table().count("impossible: ") == len(IMPOSSIBLE)


# ------------------------------------------------------------------------------------- register


def record(name: str, number: int, level: Level = Level.WARNING, t: float = T0) -> Exceedance:
    """Make a limit's record that was just raised."""
    return Exceedance(key=f"{name}#{number}", id=name, level=level, onset=t - 1.0, raised=t)


def cleared(register: Register, exceedance: Exceedance, t: float) -> None:
    """Clear as the judge does."""
    exceedance.cleared = t
    register.take(LifeChange(False, exceedance))


def keys(register: Register) -> list[str]:
    """Give the keys in the order listed."""
    return [exceedance.key for exceedance in register.listed()]


def test_standing_are_listed_worst_first_then_first_out_and_cleared_newest_first() -> None:
    """Nothing scrolls a standing warning out of sight."""
    register = Register()
    names = ["a", "b", "c", "d", "e", "f"]
    levels = [Level.CAUTION, Level.WARNING, Level.ADVISORY, Level.WARNING, Level.CAUTION, Level(2)]
    records = [record(n, 1, level) for n, level in zip(names, levels, strict=True)]
    for each in records:
        register.raise_(each)
    cleared(register, records[5], T0 + 1)
    cleared(register, records[0], T0 + 2)
    assert keys(register) == ["b#1", "d#1", "e#1", "c#1", "a#1", "f#1"]
    assert [e.key for e in register.listed(1)] == ["b#1", "d#1", "e#1", "c#1", "a#1"]
    assert register.worst_standing() is Level.WARNING


def test_acknowledging_is_kept_with_name_and_time_and_changes_no_condition() -> None:
    """Standing stays standing; a second hand confirms nothing more."""
    register = Register()
    first = register.raise_(record("a", 1))
    assert register.unacknowledged() == (first,)
    assert register.acknowledge("a#1", "KT", T0 + 3) is first
    assert (first.acknowledged_by, first.acknowledged_t) == ("KT", T0 + 3)
    assert first.stands
    assert register.state(("a", None, Level.WARNING)) is State.ACKNOWLEDGED
    assert register.acknowledge("a#1", "XX", T0 + 4) is None
    assert register.acknowledge("nothing", "XX", T0 + 4) is None
    assert first.acknowledged_by == "KT"


def test_what_cleared_unseen_waits_and_waits_beside_its_successor() -> None:
    """Returned unacknowledged, then raised again: both records ask to be confirmed."""
    register = Register()
    life = ("a", None, Level.WARNING)
    first = register.raise_(record("a", 1))
    cleared(register, first, T0 + 1)
    assert register.state(life) is State.RETURNED
    second = register.raise_(record("a", 2))
    assert register.state(life) is State.UNACKNOWLEDGED
    register.acknowledge("a#2", "KT", T0 + 2)
    assert register.state(life) is State.UNACKNOWLEDGED
    cleared(register, second, T0 + 3)
    assert register.state(life) is State.RETURNED
    register.acknowledge("a#1", "KT", T0 + 4)
    assert register.state(life) is State.NORMAL


def test_acknowledge_all_confirms_everything_in_the_order_raised() -> None:
    """One key for all that waits."""
    register = Register()
    for name in "cab":
        register.raise_(record(name, 1))
    register.acknowledge("a#1", "KT", T0)
    assert [e.key for e in register.acknowledge_all("KT", T0 + 1)] == ["c#1", "b#1"]
    assert register.unacknowledged() == ()


def test_data_checks_stand_per_source_and_level() -> None:
    """Two sources may be frozen at once, and stale may be caution and warning at once."""
    register = Register()
    a = register.raise_data("data:frozen", "optical", Level.WARNING, T0, T0 + 1, "12 equal ranges")
    b = register.raise_data("data:frozen", "radio", Level.WARNING, T0, T0 + 1, "12 equal ranges")
    c = register.raise_data("data:link", "radio", Level.CAUTION, T0, T0 + 1, "silent for 1 s")
    d = register.raise_data("data:link", "radio", Level.WARNING, T0, T0 + 5, "silent for 5 s")
    assert len({e.key for e in (a, b, c, d)}) == 4
    assert register.standing(("data:link", "radio", Level.CAUTION)) is c
    register.clear_data(c, T0 + 6)
    assert (c.cleared, register.standing(("data:link", "radio", Level.CAUTION))) == (T0 + 6, None)
    again = register.raise_data("data:link", "radio", Level.CAUTION, T0, T0 + 9, "again")
    assert again.key != c.key
    assert again.words == "again"


def test_raising_what_stands_and_clearing_what_does_not_are_defects() -> None:
    """Such calls raise instead of losing a record."""
    register = Register()
    first = register.raise_(record("a", 1))
    with pytest.raises(UsageError, match="stands already"):
        register.raise_(record("a", 2))
    with pytest.raises(UsageError, match="used before"):
        register.raise_(record("a", 1))
    cleared(register, first, T0 + 1)
    with pytest.raises(UsageError):
        register.clear(first)
    register.shelve(("a", None, Level.WARNING), "KT", "noisy", T0, 60.0)
    register.raise_(record("a", 3))
    with pytest.raises(UsageError, match="stands already"):
        register.raise_(record("a", 4))
    with pytest.raises(UsageError, match="does not stand"):
        register.clear(record("a", 5))


# -------------------------------------------------------------------------------------- shelving

LIFE = ("a", None, Level.WARNING)


def test_a_shelved_limit_is_still_judged_and_recorded_but_asks_for_nothing() -> None:
    """The record is there, in its place; nobody is asked to confirm it."""
    register = Register()
    register.shelve(LIFE, "KT", "sun in the sensor", T0, 60.0)
    first = register.raise_(record("a", 1))
    assert not first.waits
    assert register.unacknowledged() == ()
    assert register.worst_standing() is None
    caution = register.raise_(record("b", 1, Level.CAUTION))
    assert keys(register) == ["b#1", "a#1"]
    assert (register.is_shelved(first), register.is_shelved(caution)) == (True, False)
    cleared(register, first, T0 + 2)
    assert register.state(LIFE) is State.SHELVED
    assert first in list(register)


def test_shelving_ends_by_itself_at_its_time_and_what_stands_comes_back_as_new() -> None:
    """Unacknowledged again, whoever had confirmed it before."""
    register = Register()
    first = register.raise_(record("a", 1))
    register.acknowledge("a#1", "KT", T0)
    shelving = register.shelve(LIFE, "KT", "sun in the sensor", T0, 60.0)
    other = register.shelve(("b", None, Level.CAUTION), "KT", "the same", T0, 30.0)
    assert register.shelvings() == (shelving, other)
    assert register.expire(T0 + 29.9) == ()
    assert register.expire(T0 + 60.0) == (other, shelving)
    assert register.shelvings() == ()
    assert register.state(LIFE) is State.UNACKNOWLEDGED
    assert register.state(("b", None, Level.CAUTION)) is State.NORMAL
    assert (first.waits, first.acknowledged_by) == (True, None)


def test_release_by_hand_is_idempotent() -> None:
    """Releasing what is not shelved does nothing."""
    register = Register()
    shelving = register.shelve(LIFE, "KT", "sun in the sensor", T0, 60.0)
    assert register.release(LIFE) == shelving
    assert register.release(LIFE) is None
    assert register.release(("other", None, Level.WARNING)) is None


@pytest.mark.parametrize(
    ("name", "initials", "reason", "for_s", "found"),
    [
        ("fixed", "KT", "noisy", 60.0, "never_shelve"),
        ("a", " ", "noisy", 60.0, "no initials"),
        ("a", "KT", "", 60.0, "no reason"),
        ("a", "KT", "noisy", 0.0, "for 0 s"),
        ("a", "KT", "noisy", float("nan"), "for nan s"),
        ("a", "KT", "noisy", LONGEST_SHELVING_S + 1, "for 1801 s"),
        ("shelved", "KT", "noisy", 60.0, "shelved already"),
    ],
)
def test_shelving_is_refused_with_the_reason(
    name: str, initials: str, reason: str, for_s: float, found: str
) -> None:
    """Who, why and for how long must be said; some limits may never be shelved."""
    register = Register({"fixed"})
    register.shelve(("shelved", None, Level.WARNING), "KT", "noisy", T0, 60.0)
    with pytest.raises(InputError, match=found):
        register.shelve((name, None, Level.WARNING), initials, reason, T0, for_s)
    assert len(register.shelvings()) == 1


# ------------------------------------------------------------------------------- bounded history


def test_history_is_bounded_drops_the_oldest_confirmed_first_and_counts() -> None:
    """Standing records are never dropped; what waits goes last."""
    register = Register(capacity=2)
    standing = register.raise_(record("s", 1))
    for number in range(1, 6):
        each = register.raise_(record("a", number))
        if number != 1:
            register.acknowledge(each.key, "KT", T0)
        cleared(register, each, T0 + number)
    assert keys(register) == ["s#1", "a#5", "a#1"]
    assert register.dropped == 3
    assert standing.stands
    assert register.state(LIFE) is State.RETURNED


def test_what_is_dropped_unseen_no_longer_waits() -> None:
    """With nothing else to drop the oldest waiting one goes, and its life does not hang on it."""
    register = Register(capacity=0)
    first = register.raise_(record("a", 1))
    cleared(register, first, T0 + 1)
    assert (register.dropped, keys(register)) == (1, [])
    assert register.state(LIFE) is State.NORMAL
    assert register.acknowledge("a#1", "KT", T0) is None


class RegisterMachine(RuleBasedStateMachine):
    """Drive a register at random beside a model that keeps two yes-or-no answers a record."""

    def __init__(self) -> None:
        super().__init__()
        self.register = Register()
        self.standing: dict[str, Exceedance] = {}
        self.waiting: set[str] = set()
        self.shelved: set[str] = set()
        self.count = 0

    names = st.sampled_from(["a", "b"])

    @rule(name=names)
    def flip_condition(self, name: str) -> None:
        """Raise what is clear, clear what stands."""
        self.count += 1
        if name in self.standing:
            cleared(self.register, self.standing.pop(name), T0 + self.count)
            return
        self.standing[name] = self.register.raise_(record(name, self.count))
        if name not in self.shelved:
            self.waiting.add(self.standing[name].key)

    @rule(number=st.integers(1, 30), name=names)
    def acknowledge(self, number: int, name: str) -> None:
        """Confirm a key that may or may not wait."""
        key = f"{name}#{number}"
        assert (self.register.acknowledge(key, "KT", T0) is not None) == (key in self.waiting)
        self.waiting.discard(key)

    @rule(name=names)
    def flip_shelving(self, name: str) -> None:
        """Shelve, or release."""
        life = (name, None, Level.WARNING)
        if name in self.shelved:
            self.shelved.remove(name)
            self.register.release(life)
            if name in self.standing:
                self.waiting.add(self.standing[name].key)
            return
        self.register.shelve(life, "KT", "because", T0, 60.0)
        self.shelved.add(name)
        self.waiting = {key for key in self.waiting if not key.startswith(name)}

    @invariant()
    def states_follow_from_condition_and_waiting(self) -> None:
        """Check that each state is what standing and waiting say."""
        for name in ("a", "b"):
            stands = name in self.standing
            waits = any(key.startswith(name) for key in self.waiting)
            expected = {
                (False, False): State.NORMAL,
                (False, True): State.RETURNED,
                (True, False): State.ACKNOWLEDGED,
                (True, True): State.UNACKNOWLEDGED,
            }[stands, waits]
            if name in self.shelved:
                expected = State.SHELVED
            assert self.register.state((name, None, Level.WARNING)) is expected
        assert {e.key for e in self.register.unacknowledged()} == self.waiting
        assert {e.key for e in self.register.listed() if e.stands} == {
            e.key for e in self.standing.values()
        }


TestRegisterMachine = RegisterMachine.TestCase
TestRegisterMachine.settings = settings(max_examples=150, deadline=None)
