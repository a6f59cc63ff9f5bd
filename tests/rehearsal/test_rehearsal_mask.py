"""What is hidden from the trainee: each part by itself, and nothing beside it."""

from __future__ import annotations

import pytest
from fakes.port import FakePort
from fakes.situations import ALL
from fakes.snapshots import LIMITS, nominal, warning_and_cautions

from console.approach.action import Say
from console.approach.event import CallMade, ExceedanceRaised, MarkPassed
from console.approach.snapshot import Snapshot, Verdict
from console.present.headline import headline
from console.present.ledger import ledger
from console.present.rehearse_keys import MarkChoice, marks_of, seen_keys
from console.present.rehearse_mask import MaskedPort, hidden_words, masked
from console.rehearsal.calls import subject_of
from console.rehearsal.exercise import Hidden
from console.rehearsal.true_events import stood_of
from console.tracking.outlook import Countdown

TOUCHED = {
    Hidden.EXCEEDANCES: {
        "exceedances", "shelved", "sources", "sources_disagree", "limits", "outlook_notes",
    },
    Hidden.MARGINS: {"limits"},
    Hidden.CALLS: {"calls", "next_mark_m", "to_next_mark", "timeline", "hands_off_t"},
    Hidden.TIME_TO_CONTACT: {"to_contact", "to_hands_off"},
    Hidden.STOP: {"stop"},
    Hidden.PREDICTION: {"at_contact", "if_thrust_stops", "path"},
}  # fmt: skip


def changed(before: Snapshot, after: Snapshot) -> set[str]:
    """Give the names of the fields that differ."""
    names = Snapshot.__struct_fields__
    return {name for name in names if getattr(before, name) != getattr(after, name)}


@pytest.mark.parametrize("name", ALL)
@pytest.mark.parametrize("part", Hidden)
def test_hiding_a_part_touches_that_part_alone(part: Hidden, name: str) -> None:
    """In every situation; nothing hidden leaves the snapshot as it is."""
    snapshot = ALL[name]()
    if snapshot is None:
        return
    assert changed(snapshot, masked(snapshot, frozenset({part}))) <= TOUCHED[part]
    assert masked(snapshot, frozenset()) is snapshot


def test_what_is_hidden_is_gone() -> None:
    """With everything hidden no exceedance, margin, call to make or countdown is left."""
    s = masked(warning_and_cautions(), frozenset(Hidden))
    assert s.exceedances == ()
    assert {Verdict.UNKNOWN} == {n.verdict for n in s.limits}
    assert not any(n.standing or n.margin is not None or n.limit is not None for n in s.limits)
    assert Countdown() == s.to_contact == s.to_hands_off == s.to_next_mark
    assert (s.stop, s.at_contact, s.path) == (None, None, ())
    assert not [line for line in s.calls if line.key.startswith("mark:")]
    assert not [flag for source in s.sources for flag in source.flags]


def test_a_hidden_margin_is_unknown_and_never_inside() -> None:
    """The ledger shows the value and no bar, the headline says the limit is not known."""
    s = masked(nominal(), frozenset({Hidden.MARGINS}))
    view = ledger(s, LIMITS)
    assert all(row.bar is None for row in view.rows)
    assert view.rows[0].now == ledger(nominal(), LIMITS).rows[0].now
    closing = headline(s, LIMITS).cells[1]
    assert "limit not known" in [note.text for note in closing.notes]


def test_the_port_masks_and_hands_on() -> None:
    """One snapshot object until there is a newer one; calls go through; hidden events do not."""
    port = FakePort(warning_and_cautions())
    told = MarkPassed(t=1.0, range_m=10.0, words="10 metres")
    mine = CallMade(t=1.0, initials="AB", call="mark:10", was_useful=None)
    raised = ExceedanceRaised(
        t=1.0, key="k", id="roll", level="caution", onset=0.0, source=None, value=None,
        limit=None, words="",
    )  # fmt: skip
    port.events = [told, mine, raised]
    trainee = MaskedPort(port, frozenset({Hidden.CALLS, Hidden.MARGINS}))
    assert trainee.snapshot() is trainee.snapshot()
    assert [mine, raised] == trainee.take_events()
    trainee.act(Say("AB", "hold"))
    assert [Say("AB", "hold")] == port.actions
    assert trainee.limits.limits == ()
    assert trainee.limits.marks_m == ()
    assert trainee.limits.contact_limits == port.limits.contact_limits
    assert port.status().endpoint not in trainee.status().endpoint
    assert port.status().lost == trainee.status().lost
    port.newest = None
    assert trainee.snapshot() is None


def test_what_is_hidden_is_named() -> None:
    """In the order of the page; empty where nothing is."""
    assert (
        hidden_words(frozenset({Hidden.STOP, Hidden.CALLS}))
        == "calls to make and range marks, last useful stop call"
    )
    assert hidden_words(frozenset()) == ""


def test_every_limit_can_be_called_seen_by_one_key() -> None:
    """Each limit of the file has a digit of its own subject, 0 is for the data; none is double."""
    keys = seen_keys(LIMITS)
    assert len(keys) == len({one.key for one in keys}) == len({one.call for one in keys})
    assert {subject_of(limit.quantity) for limit in LIMITS.limits} <= {one.call for one in keys}
    assert (keys[-1].key, keys[-1].call) == ("0", "seen:data")
    assert stood_of([], LIMITS) == ()


def test_the_mark_to_call_steps_inward_and_back() -> None:
    """From the outermost mark inside the start to none, never past either end."""
    choice = marks_of(LIMITS, 25.0)
    assert choice.range_m == max(m for m in LIMITS.marks_m if m < 25.0)
    assert choice.moved(-1) == choice
    last = choice.moved(len(choice.ranges_m))
    assert (last.range_m, last.key) == (None, None)
    assert min(LIMITS.marks_m) == last.moved(-1).range_m
    key = MarkChoice((5.0, 2.5), 1).key
    assert key is not None
    assert (key.call, key.words) == ("mark:2.5", "2.5 m")
