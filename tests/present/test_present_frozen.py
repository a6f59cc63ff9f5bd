"""A picture that nobody renews looks as old as it is."""

from __future__ import annotations

from fakes.limits import fake_limits
from fakes.snapshots import nominal

from console.approach.snapshot import Snapshot
from console.present.frozen import aged
from console.present.headline import headline
from console.present.ledger import ledger
from console.present.tone import Tone

LIMITS = fake_limits()
LOST_S = 5.0


def fresh() -> Snapshot:
    """Give an approach with fresh data."""
    snapshot = nominal()
    assert not snapshot.stale
    assert snapshot.age_s is not None
    return snapshot


def test_a_renewed_picture_is_shown_as_it_is() -> None:
    """The very same snapshot, so that nothing is painted twice."""
    snapshot = fresh()
    assert aged(snapshot, 0.9, LOST_S) is snapshot


def test_figures_are_struck_and_ages_go_on() -> None:
    """Headline and ledger say stale; the sources' ages are those of now."""
    snapshot = fresh()
    shown = aged(snapshot, 2.0, LOST_S)
    assert shown.age_s == snapshot.age_s + 2.0  # type: ignore[operator]
    cells = headline(shown, LIMITS).cells
    assert [cell.tone for cell in cells[:2]] == [Tone.STALE, Tone.STALE]
    assert ledger(shown, LIMITS).rows[0].now_tone is Tone.STALE
    assert all(source.stale for source in shown.sources)
    assert shown.to_contact == snapshot.to_contact


def test_no_countdown_outlives_the_engine() -> None:
    """As after a long silence of data: nothing is promised any more."""
    shown = aged(fresh(), LOST_S, LOST_S)
    assert shown.to_contact.best_s is None
    assert shown.stop is None
    assert shown.at_contact is None
    assert headline(shown, LIMITS).cells[2].value == "\N{EM DASH}"
