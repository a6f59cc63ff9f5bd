"""The table from contact to docked: every pair of state and evidence, written out by hand."""

import itertools

import pytest

from console.approach.capture_table import FORWARD, TABLE, Evidence, Sense, diagram
from console.approach.event import Phase
from console.approach.phase import CHAIN

E = Evidence
COLUMNS = (
    E.CONTACT, E.SOFT_CAPTURE, E.MOTION, E.RING_MOVING, E.READY, E.HOOKS_MOVING, E.HOOKS_CLOSED,
    E.HARD_CAPTURE, E.LEAK_PASSED,
    E.CONTACT_LOST, E.CAPTURE_LOST, E.HOOKS_EARLY, E.HOOK_OPEN, E.HARD_CAPTURE_LOST,
)  # fmt: skip
# E next phase expected, I next phase implied by a later one, K known, W waits,
# X contradicts and stays, P parted: back to contact, . says nothing
ROWS = {
    None:                  "E I I I I I I I W  . . . . .",
    Phase.CONTACT:         "K E I I I I I I W  X . X X .",
    Phase.SOFT_CAPTURE:    "K K E I I I I I W  . P X X .",
    Phase.DAMPING:         "K K K E I I I I W  . P X X .",
    Phase.RING_RETRACTION: "K K K K E I I I W  . P X X .",
    Phase.READY_TO_HOOK:   "K K K K K E I I W  . P X X .",
    Phase.HOOKS:           "K K K K K K E I W  . X X X .",
    Phase.HOOKS_CLOSED:    "K K K K K K K E W  . . . X .",
    Phase.HARD_CAPTURE:    "K K K K K K K K E  . . . X X",
    Phase.DOCKED:          "K K K K K K K K K  . . . X X",
}  # fmt: skip
SENSE = {
    "E": Sense.EXPECTED, "I": Sense.IMPLIED, "K": Sense.KNOWN, "W": Sense.WAITS,
    "X": Sense.CONTRADICTS, "P": Sense.PARTED, ".": Sense.NOTHING,
}  # fmt: skip
NEXT = dict(zip((None, *CHAIN[:-1]), CHAIN, strict=True))
PAIRS = [
    (state, evidence, letter)
    for state, row in ROWS.items()
    for evidence, letter in zip(COLUMNS, row.split(), strict=True)
]


@pytest.mark.parametrize(("state", "evidence", "letter"), PAIRS)
def test_every_pair(state, evidence, letter):
    """Each pair of state and evidence leads where it should, and is taken as it should."""
    move = TABLE[state, evidence]
    assert move.sense is SENSE[letter]
    to = {"E": NEXT.get(state), "I": NEXT.get(state), "P": Phase.CONTACT}.get(letter, state)
    assert move.to is to


def test_the_table_holds_every_pair_and_no_other():
    """States are none and the chain; evidence is all there is."""
    assert set(TABLE) == set(itertools.product((None, *CHAIN), Evidence))
    assert {(state, evidence) for state, evidence, _ in PAIRS} == set(TABLE)


def test_no_move_skips_a_phase():
    """Forward is one link at a time; the one way back is to contact."""
    for (state, _), move in TABLE.items():
        at = -1 if state is None else CHAIN.index(state)
        to = -1 if move.to is None else CHAIN.index(move.to)
        assert to - at in (0, 1) or (move.sense is Sense.PARTED and to == 0)


def test_each_link_has_its_evidence():
    """Every phase of the chain is shown by exactly one piece of evidence."""
    assert list(FORWARD.values()) == list(CHAIN)


def test_the_diagram_names_every_expected_move():
    """One arrow for each link of the chain and each way back."""
    text = diagram()
    assert text.count("-->") == len(CHAIN) + 4
    assert "HooksClosed --> HardCapture : hard capture reported" in text
    assert "Damping --> Contact : soft capture lost" in text
