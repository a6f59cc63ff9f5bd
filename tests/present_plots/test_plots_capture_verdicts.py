"""Damping, leak check, lagging hooks and what is awaited, as plots and headline say it."""

from __future__ import annotations

import math

import pytest
from fakes.captures import T_CONTACT, damping, docked, hooking
from fakes.limits import fake_limits
from fakes.plot_meter import outside, overlapping
from fakes.snapshots import nominal
from test_plots_capture import SIZES, drawn, trail_until

from console.approach.capture_now import (
    NOT_KNOWN,
    Awaited,
    DampingChannel,
    DampingNow,
    DampingVerdict,
    LeakNow,
    LeakState,
    Span,
    VestibuleStage,
)
from console.approach.snapshot import Snapshot
from console.envelope.quantity import AT_CONTACT
from console.present import text
from console.present.capture_plots_now import capture_words
from console.present.headline_capture import capture_cells
from console.present.ledger import ledger
from console.present.plot_scene import Area, Ink, Line, Stroke
from console.present.tone import Tone
from tests.fakes.changed import replace

DECAY_S = 22.0


def channel(
    unit: str, verdict: DampingVerdict, amplitude: float, level: float, reason: str = ""
) -> DampingChannel:
    """Give a fitted motion that began at soft capture."""
    first = T_CONTACT + 1.0
    best = first + DECAY_S * math.log(amplitude / level)
    return DampingChannel(
        unit, verdict, reason, level, first, amplitude, Span(DECAY_S, 20.4, 23.9), 5.0, 1e-3,
        Span(best, best - 6.0, best + 8.0),
    )  # fmt: skip


def with_damping(
    s: Snapshot, verdict: DampingVerdict = DampingVerdict.SETTLING, reason: str = ""
) -> Snapshot:
    """Give a snapshot whose motion is judged."""
    channels = (
        channel("m/s", verdict, 0.071, 0.002, reason),
        channel("deg/s", verdict, 0.15, 0.02, reason),
    )
    now = DampingNow(verdict, reason, "Damping", channels[0].t_settles, channels, False)
    assert s.capture is not None
    return replace(s, capture=replace(s.capture, damping=now))


def with_leak(state: LeakState, reason: str = "", minutes: float | None = None) -> Snapshot:
    """Give a snapshot at the end whose leak is judged."""
    is_known = state is not LeakState.REFUSED
    leak = LeakNow(
        VestibuleStage.CLOSED, state, reason, "Leak check", T_CONTACT + 600.0, None,
        Span(9.2, 3.1, 15.3) if is_known else NOT_KNOWN,
        Span(0.0026, 0.0009, 0.0043) if is_known else NOT_KNOWN,
        Span(0.0026, 0.0009, 0.0043) if is_known else NOT_KNOWN,
        20.0, 0.0057, minutes, minutes is not None, 1400,
    )  # fmt: skip
    s = docked()
    assert s.capture is not None
    return replace(s, capture=replace(s.capture, leak=leak))


def lagging() -> Snapshot:
    """Give hooks of which two lag, and evidence that is late."""
    s = hooking()
    assert s.capture is not None
    late = Awaited("hooks closed", s.t - 340.0, 340.0, 300.0)
    return replace(s, capture=replace(s.capture, lagging_hooks=(9, 12), awaited=(late,)))


SITUATIONS = {
    "settling": lambda: with_damping(damping()),
    "settled": lambda: with_damping(docked(), DampingVerdict.SETTLED),
    "not settling": lambda: with_damping(damping(), DampingVerdict.NOT_SETTLING, "moves again"),
    "undecided": lambda: with_damping(
        damping(), DampingVerdict.UNDECIDED, "signal 3.1 times its noise, needs 5"
    ),
    "leak passes": lambda: with_leak(LeakState.PASSES),
    "leak fails": lambda: with_leak(LeakState.FAILS),
    "leak watched": lambda: with_leak(LeakState.UNDECIDED, minutes=23.0),
    "leak refused": lambda: with_leak(
        LeakState.REFUSED, "the record bends, temperature not settled or its sensor lags"
    ),
    "lagging": lagging,
}


@pytest.mark.parametrize(("width", "height", "unit"), SIZES)
@pytest.mark.parametrize("situation", SITUATIONS)
def test_no_text_is_cut_or_covered(situation: str, width: int, height: int, unit: float) -> None:
    """In every situation, at every size, texts lie within the widget and not on each other."""
    s = SITUATIONS[situation]()
    _, stand, now = drawn(s, trail_until(s.t - T_CONTACT), width, height, unit)
    labels = (*stand.labels, *now.labels)
    assert overlapping(labels) == []
    assert outside(labels, width, height) == []


def test_envelope_is_the_fitted_one() -> None:
    """The dashed line goes through amplitude e^(-t/decay) and ends at the axis's end."""
    frame, _, now = drawn(SITUATIONS["settling"](), trail_until(40.0))
    panel = frame.panels[0]
    dashed = [m for m in now.marks if isinstance(m, Line) and m.stroke is Stroke.DASHED]
    assert len(dashed) == 2
    line = dashed[0]
    assert line.ink is Ink.PLAN
    for x, y in zip(line.x, line.y, strict=True):
        since_s = (x - panel.plot.left) / panel.plot.width * panel.time.high
        assert y == pytest.approx(
            panel.values.px(0.071 * math.exp(-(since_s - 1.0) / DECAY_S)), abs=0.01
        )
    assert line.x[-1] == pytest.approx(panel.plot.right)


def test_time_to_settle_stands_in_the_band_of_its_bounds() -> None:
    """A dotted line at the moment, within a band from its early to its late bound."""
    s = replace(SITUATIONS["settling"](), t=T_CONTACT + 110.0)
    frame, _, now = drawn(s, trail_until(110.0))
    panel = frame.panels[0]
    best_s = 1.0 + DECAY_S * math.log(0.071 / 0.002)
    band = next(m for m in now.marks if isinstance(m, Area))
    assert min(band.x) == pytest.approx(panel.time.px(best_s - 6.0))
    assert max(band.x) == pytest.approx(min(panel.time.px(best_s + 8.0), panel.plot.right))
    dotted = next(m for m in now.marks if isinstance(m, Line) and m.stroke is Stroke.DOTTED)
    assert dotted.x[0] == pytest.approx(panel.time.px(best_s), abs=0.6)


def test_verdicts_are_said_with_their_figures() -> None:
    """Verdict, decay time and time to settle with bounds stand in each motion's plot."""
    _, _, now = drawn(SITUATIONS["settling"](), trail_until(40.0))
    said = [m.text for m in now.labels]
    assert said.count("settling") == 2
    assert "decay time 22.0 s (20.4 to 23.9)" in said
    assert "settles in 40 s (34 to 48)" in said


def test_a_fault_carries_mark_and_colour() -> None:
    """Not settling is a caution, a failed leak check a warning, each with its shape."""
    _, _, now = drawn(SITUATIONS["not settling"](), trail_until(40.0))
    loud = [m for m in now.labels if m.ink is Ink.CAUTION]
    assert [m.text for m in loud] == ["◧ not settling: moves again"] * 2
    _, _, now = drawn(SITUATIONS["leak fails"](), trail_until(2100.0))
    assert [m.text for m in now.labels if m.ink is Ink.WARNING] == ["■ Leak check fails"]


@pytest.mark.parametrize(
    ("situation", "lines"),
    [
        ("leak passes", ("Leak check passes", "0.0026 kg/day (0.0009 to 0.0043), limit 0.0057",
                         "9 Pa/h (3 to 15), 0.0026 Pa·m³/s")),
        ("leak watched", ("Leak check not yet decidable", "about 23 min more, may never decide")),
    ],
)  # fmt: skip
def test_leak_lines(situation: str, lines: tuple[str, ...]) -> None:
    """The verdict, the leak with bounds and limit, and other units or the minutes left."""
    _, _, now = drawn(SITUATIONS[situation](), trail_until(2100.0))
    said = [m.text for m in now.labels]
    assert set(lines) <= set(said)


def test_refused_says_why_and_no_figure() -> None:
    """Where the record cannot carry a verdict the reason stands, and no kg/day."""
    s = SITUATIONS["leak refused"]()
    _, _, now = drawn(s, trail_until(2100.0), 1700, 1340)
    said = [m.text for m in now.labels]
    assert any(t.startswith("the record bends") for t in said)
    assert "Leak check refused" in said  # its own line, so that no plot is too narrow for it
    assert all("kg/day" not in t for t in said)
    assert not any("kg/day" in t for t in said)
    assert "the record bends" in capture_words(s)


def test_lagging_hooks_are_named_and_marked() -> None:
    """Numbers of lagging hooks in caution colour, and named with the mark in the head."""
    _, _, now = drawn(lagging(), trail_until(460.0))
    assert [m.text for m in now.labels if m.ink is Ink.CAUTION] == ["◧ 9, 12 lag", "9", "12"]


def test_headline_says_what_is_awaited() -> None:
    """What leads to the next phase, quietly; late, with mark, colour and the time waited."""
    s = lagging()
    assert s.capture is not None
    phase, *_ = capture_cells(s, fake_limits())
    assert phase.notes[1].text == "◧ hooks closed late, 5:40"
    assert phase.notes[1].tone is Tone.CAUTION
    early = replace(s.capture.awaited[0], waited_s=10.0)
    phase, *_ = capture_cells(
        replace(s, capture=replace(s.capture, awaited=(early,))), fake_limits()
    )
    assert phase.notes[1].text == "awaits hooks closed"


def test_ledger_sets_what_was_predicted_beside_what_was_measured() -> None:
    """After contact the last column holds the last prediction, and says how old it was."""
    before = nominal().at_contact
    assert before is not None
    s = docked()
    assert s.capture is not None
    capture = replace(s.capture, predicted=before, predicted_t=T_CONTACT - 0.6)
    view = ledger(replace(s, capture=capture), fake_limits())
    assert (view.contact_header, view.chance_header) == ("measured", "predicted")
    assert view.together.text == "predicted 0.6 s before contact"
    means = {q.quantity: q.predicted.mean for q in before.quantities if q.predicted}
    for row, quantity in zip(view.rows, AT_CONTACT, strict=False):
        assert row.chance == text.quantity(means.get(quantity), quantity)
        assert row.chance_tone is Tone.PLAIN
        assert "predicted" in row.spoken
    without = ledger(s, fake_limits())
    assert {row.chance for row in without.rows} == {text.UNKNOWN}
    assert without.together.text == ""
