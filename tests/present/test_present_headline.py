"""The headline strip's cells and sources, situation by situation."""

from __future__ import annotations

import pytest
from fakes.captures import docked, soft_captured
from fakes.limits import fake_limits
from fakes.situations import ALL
from fakes.snapshots import (
    approach_at,
    coasted,
    disagreeing,
    far_150m,
    hold_20m,
    inside_hands_off,
    no_data,
    nominal,
    retreating,
    stale,
    warning_and_cautions,
    withdrawn,
)

from console.approach.capture_now import Awaited
from console.approach.event import Phase
from console.approach.snapshot import Authority, MeasuredContact, Snapshot
from console.envelope.quantity import Quantity
from console.present.cell import Cell
from console.present.headline import HeadlineView, headline
from console.present.tone import Tone
from console.tracking.outlook import Countdown, StopFigures
from tests.fakes.changed import replace

LIMITS = fake_limits()


def view(s: Snapshot | None) -> HeadlineView:
    """Give the strip."""
    return headline(s, LIMITS)


def cell(s: Snapshot | None, title: str) -> Cell:
    """Give the cell whose title begins so."""
    return next(c for c in view(s).cells if c.title.startswith(title))


def notes(c: Cell) -> list[str]:
    """Give a cell's notes that say something."""
    return [n.text for n in c.notes if n.text]


def test_the_nominal_strip_answers_where_how_fast_when_and_who() -> None:
    """Range, closing with its band, contact with doubt and UTC, hands-off with the stop call."""
    s = nominal()
    assert cell(s, "Range").value == "5.10"
    assert "next mark 5 m" in notes(cell(s, "Range"))[0]
    closing = cell(s, "Closing")
    assert (closing.value, closing.unit) == ("0.083", "m/s")
    assert notes(closing)[0] == "allowed 0.050–0.110 here"
    contact = cell(s, "Time to contact")
    assert (contact.value, contact.unit) == ("1:06", "± 4 s")
    assert notes(contact) == ["contact about 09:42:22 UTC"]
    hands_off = cell(s, "Hands-off")
    assert hands_off.title == "Hands-off point (1.80 m)"
    assert (hands_off.value, hands_off.unit) == ("0:41", "to go")
    assert notes(hands_off) == [
        "a stop must be called within 0:30",
        "on the safe side within 0:28",
    ]
    authority = cell(s, "Abort authority")
    assert (authority.value, authority.unit) == ("CREW", "+ GROUND")
    assert notes(authority) == ["passes to VEHICLE at 1.80 m"]


def test_outside_the_knee_the_constant_rate_figure_stands_beside() -> None:
    """Far out both figures are given, and which is which is said."""
    s = far_150m()
    present = s.to_contact.at_present_rate_s
    assert present is not None
    minutes, seconds = divmod(round(present), 60)
    assert f"{minutes}:{seconds:02d} at the present rate" in notes(cell(s, "Time to contact"))


def test_a_hold_is_not_closing_and_a_retreat_is_opening() -> None:
    """Words in place of a wild number."""
    assert cell(hold_20m(), "Time to contact").value == "not closing"
    assert cell(hold_20m(), "Hands-off").value == "—"
    assert notes(cell(hold_20m(), "Hands-off"))[0] == "not closing"
    assert "hold for 4:00" in notes(cell(hold_20m(), "Range"))
    assert cell(retreating(), "Time to contact").value == "opening"
    assert cell(retreating(), "Closing").value == "−0.190"


def test_an_open_late_bound_is_said() -> None:
    """Where contact may never come, the early bound is given as a time."""
    s = replace(nominal(), to_contact=Countdown(64.0, 61.0, None))
    contact = cell(s, "Time to contact")
    assert contact.unit == "or later"
    assert any(n.startswith("not before 09:4") for n in notes(contact))


def test_stale_figures_are_struck_and_the_countdown_goes_on_as_coasted() -> None:
    """Range and closing are marked stale; time to contact says that it is coasted."""
    s = stale()
    assert cell(s, "Range").tone is Tone.STALE
    assert cell(s, "Closing").tone is Tone.STALE
    contact = cell(s, "Time to contact")
    assert contact.tone is Tone.STRONG
    assert notes(contact)[-1] == "◧ coasted, data 1.6 s old"


def test_lost_data_speaks_as_a_warning() -> None:
    """The phase is said with the filled mark."""
    phase = cell(coasted(), "Range").notes[1]
    assert phase.text.startswith("■ data lost for 0:0")
    assert phase.tone is Tone.WARNING


def test_a_withdrawn_countdown_is_a_dash_that_says_why() -> None:
    """No number is given after a long coast."""
    for title in ("Time to contact", "Hands-off"):
        found = cell(withdrawn(), title)
        assert found.value == "—"
        assert found.notes[0].text == "■ coasted 24.0 s: not given"
        assert found.notes[0].tone is Tone.WARNING


def test_without_data_every_figure_is_a_dash_with_its_reason() -> None:
    """Nothing that is unknown looks like a number."""
    for title in ("Range", "Closing", "Time to contact", "Hands-off"):
        assert cell(no_data(), title).value == "—"
        assert cell(None, title).value == "—"
    assert notes(cell(no_data(), "Time to contact")) == ["no data yet"]
    assert notes(cell(no_data(), "Range")) == ["waiting for data"]


def test_inside_hands_off_no_call_helps() -> None:
    """The cell says when it was passed and who alone may abort."""
    hands_off = cell(inside_hands_off(), "Hands-off")
    assert hands_off.value == "inside"
    assert notes(hands_off)[0].startswith("passed at 09:4")
    assert notes(hands_off)[1] == "only the vehicle itself may abort"
    assert cell(inside_hands_off(), "Abort authority").value == "VEHICLE"


@pytest.mark.parametrize(
    ("hold", "safe", "contact", "expected"),
    [
        (31.9, 30.2, 60.0, ["a stop must be called within 0:31", "on the safe side within 0:30"]),
        (0.4, -0.7, 20.0, ["a stop must be called within 0:00", "no longer on the safe side"]),
        (-0.1, None, 12.6, ["too late to stop outside hands-off", "before contact: within 0:12"]),
        (None, None, None,
         ["too late to stop outside hands-off", "too late to stop before contact"]),
    ],
)  # fmt: skip
def test_the_last_useful_stop_call_is_cut_to_whole_seconds(
    hold: float | None, safe: float | None, contact: float | None, expected: list[str]
) -> None:
    """It never promises more than there is, and says so when it is too late."""
    stop = StopFigures(0.5, 9.0, 4.0, hold, safe, contact, None, None, None, None, None)
    assert expected == notes(cell(replace(nominal(), stop=stop), "Hands-off"))


def test_a_standing_warning_colours_the_rate_and_marks_its_title() -> None:
    """Colour is doubled by the mark."""
    closing = cell(warning_and_cautions(), "Closing")
    assert (closing.tone, closing.mark) == (Tone.WARNING, "■")


def test_sources_say_age_use_and_agreement() -> None:
    """In use first; the other with its difference."""
    lines = view(nominal()).sources
    assert [(line.name, line.age, line.state) for line in lines] == [
        ("optical", "0.1 s", "in use"),
        ("radio", "0.2 s", "agrees Δ 0.03 m"),
    ]


def test_a_disagreeing_source_is_marked() -> None:
    """The difference has its sign, and the caution its shape."""
    line = view(disagreeing()).sources[1]
    assert line.state == "disagrees Δ −0.52 m"
    assert (line.mark, line.tone) == ("◧", Tone.CAUTION)


def test_a_lost_source_is_a_warning_and_a_chosen_one_says_so() -> None:
    """Lost outranks stale; the operator's choice is told."""
    line = view(coasted()).sources[0]
    assert (line.mark, line.state, line.is_stale) == ("■", "in use, lost", True)
    forced = view(replace(nominal(), source_is_forced=True)).sources[0]
    assert forced.state == "in use, chosen"


def test_no_authority_is_a_dash() -> None:
    """Nobody holding it is not shown as somebody."""
    s = replace(nominal(), authority=Authority((), None, None))
    assert cell(s, "Abort authority").value == "—"
    assert notes(cell(s, "Abort authority")) == ["held by nobody"]


def test_before_any_data_the_holder_of_authority_is_not_known() -> None:
    """Before the first data the strip does not claim that nobody may call a stop."""
    s = replace(nominal(), phase=Phase.WAITING, authority=Authority((), None, None))
    assert cell(s, "Abort authority").value == "—"
    assert notes(cell(s, "Abort authority")) == ["not known"]


def test_after_contact_old_navigation_has_ended_and_is_no_fault() -> None:
    """The capture status comes first with its age; what stands on a source is still said."""
    s = soft_captured()
    old = replace(s.sources[0], stale=True, lost_link=True, age_s=28.8)
    lines = view(replace(s, sources=(old,))).sources
    assert [(line.name, line.age, line.state, line.mark) for line in lines] == [
        ("capture", "0.0 s", "status", ""),
        ("optical", "28.8 s", "ended", ""),
    ]
    ended = lines[1]
    assert (ended.is_stale, ended.tone) == (False, Tone.QUIET)
    standing = replace(coasted().exceedances[0], raised=s.t - 2.0)
    loud = view(replace(s, sources=(old,), exceedances=(standing,))).sources[1]
    assert (loud.mark, loud.state) == ("■", "in use, lost")


def test_without_any_capture_status_the_strip_says_so() -> None:
    """Contact known by range alone: no age is made up, and nothing is called late."""
    s = soft_captured()
    assert s.capture is not None
    late = (Awaited("soft capture", s.t - 20.0, 20.0, 15.0),)
    unheard = replace(s, capture=replace(s.capture, age_s=None, awaited=late))
    assert notes(cell(unheard, "Phase"))[-1] == "no capture status received"
    first = view(unheard).sources[0]
    assert (first.name, first.age, first.state, first.mark) == ("capture", "—", "not received", "")
    heard = replace(s, capture=replace(s.capture, awaited=late))
    assert notes(cell(heard, "Phase"))[-1] == "◧ soft capture late, 0:20"


def test_after_contact_the_strip_speaks_of_capture() -> None:
    """Phase, measured closing rate at contact, time since, hooks."""
    s = soft_captured()
    assert cell(s, "Phase").value == "soft capture"
    rate = cell(s, "Closing rate at contact")
    assert rate.value == "0.071"
    assert notes(rate) == ["limit 0.050–0.100", "contact inside all limits"]
    assert cell(s, "Since contact").value == "+0:03"
    assert notes(cell(s, "Since contact")) == ["contact at 09:42:22 UTC"]
    hooks = cell(docked(), "Hooks")
    assert (hooks.value, hooks.unit) == ("12", "of 12")
    assert "hard capture" in notes(hooks)


def test_contact_outside_its_limits_is_a_warning() -> None:
    """How many values were outside is said, and the rate is marked if it was one of them."""
    s = soft_captured()
    assert s.capture is not None
    assert s.capture.contact is not None
    out = MeasuredContact(
        s.capture.contact.t,
        {**s.capture.contact.values, Quantity.CLOSING_RATE: 0.131},
        (Quantity.CLOSING_RATE, Quantity.ROLL),
    )
    rate = cell(replace(s, capture=replace(s.capture, contact=out)), "Closing rate at contact")
    assert (rate.value, rate.tone, rate.mark) == ("0.131", Tone.WARNING, "■")
    assert notes(rate)[1] == "■ 2 values outside limits"
    for unknown, words in (
        ((Quantity.ROLL,), "■ 1 outside limits, 1 unknown"),
        ((Quantity.ROLL, Quantity.CLOSING_RATE), "■ 2 values unknown"),
    ):
        blind = replace(out, values={**out.values, **dict.fromkeys(unknown)})
        now = cell(
            replace(s, capture=replace(s.capture, contact=blind)), "Closing rate at contact"
        )
        assert notes(now)[1] == words


@pytest.mark.parametrize("name", ALL)
def test_every_coloured_text_carries_a_mark(name: str) -> None:
    """No caution or warning is told by colour alone, in any situation."""
    shown = view(ALL[name]())
    for c in shown.cells:
        if c.tone in (Tone.CAUTION, Tone.WARNING):
            assert c.mark
        for note in c.notes:
            if note.tone in (Tone.CAUTION, Tone.WARNING):
                assert note.text[0] in "◧■"
    for line in shown.sources:
        assert (line.tone in (Tone.CAUTION, Tone.WARNING)) == bool(line.mark)


@pytest.mark.parametrize("name", ALL)
def test_every_cell_can_be_spoken(name: str) -> None:
    """The words for a screen reader hold title and value."""
    for c in view(ALL[name]()).cells:
        assert c.title in c.spoken
        assert c.value in c.spoken


def test_one_sided_bands_are_said_in_words() -> None:
    """Where only one limit applies, its side is named."""
    s = approach_at(60.0)
    assert notes(cell(s, "Closing"))[0].startswith("allowed to 0.2")
    none = replace(s, limits=())
    assert notes(cell(none, "Closing"))[0] == "no limit here"


def test_the_data_cell_says_what_no_sample_can_show():
    """Before contact it stands beside the sources; after it nothing is left to be seen."""
    assert view(nominal()).unseen == "not seen: small stuck thruster, shared bias"
    assert view(soft_captured()).unseen == ""
    assert view(None).unseen == ""


def test_figures_far_behind_what_was_received_are_struck_and_said_to_be_late() -> None:
    """An engine that is over a second behind shows no figure as if it were of now."""
    fresh = headline(nominal(), LIMITS, behind_s=0.9)
    assert fresh == headline(nominal(), LIMITS)
    late = headline(nominal(), LIMITS, behind_s=2.14)
    assert notes(late.cells[0])[0] == "■ shown 2.1 s late"
    assert late.cells[0].notes[0].tone is Tone.WARNING
    for before, after in zip(fresh.cells[:4], late.cells[:4], strict=True):
        assert after.value == before.value
        assert after.tone is (Tone.STALE if before.tone is Tone.STRONG else before.tone)
    assert Tone.STALE in {c.tone for c in late.cells[:4]}
    assert late.cells[4] == fresh.cells[4]
