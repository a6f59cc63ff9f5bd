"""What a pass came to, in the form ``score --json`` writes, read off the state model."""

from __future__ import annotations

from typing import Any

from console.approach.state import StateModel
from console.envelope.quantity import Quantity
from console.judging.exceedance import Exceedance

CONTACT_FIELD: dict[Quantity, str] = {
    Quantity.CLOSING_RATE: "closing_rate_mps",
    Quantity.LATERAL_OFFSET: "lateral_offset_m",
    Quantity.LATERAL_RATE: "lateral_rate_mps",
    Quantity.PITCH_YAW: "pitch_yaw_deg",
    Quantity.ROLL: "roll_deg",
    Quantity.PITCH_YAW_RATE: "pitch_yaw_rate_dps",
    Quantity.ROLL_RATE: "roll_rate_dps",
}


def outcome_of(
    state: StateModel, *, name: str, samples: int, rejected: int, duration_s: float
) -> dict[str, Any]:
    """Give a pass's outcome as plain values, keys in the order of the documented object.

    Parameters
    ----------
    state : StateModel
        At the end of the data.
    name : str
        The pass's file name.
    samples, rejected : int
        Relative-state samples accepted; rows or messages that did not validate.
    duration_s : float
        From the first record's ``t`` to the last's.
    """
    limits = state.limits
    hands_off = state.milestones.hands_off
    mine = [e for e in state.register if ":" not in e.id]  # no limit's id holds one
    data = [e for e in state.register if e.id.startswith("data:")]
    return {
        "pass": name,
        "samples": samples,
        "rejected": rejected,
        "lost": state.sequence.total().lost,
        "duration_s": duration_s,
        "source": state.board.in_use,
        "limits": {
            "title": limits.title,
            "revision": limits.revision,
            "sha256": limits.sha256,
        },
        "setup": {"sha256": state.setup.sha256},
        "marks": [
            {"range_m": passing.range_m, "t": passing.t}
            for passing in sorted(state.milestones.passed, key=lambda p: (p.t, -p.range_m))
        ],
        "hands_off": None
        if hands_off is None
        else {"t": hands_off.t, "closing_rate_mps": hands_off.closing_rate_mps},
        "contact": _contact(state),
        "exceedances": [_exceedance(e) for e in sorted(mine, key=lambda e: (e.onset, e.id))],
        "data_exceedances": [
            {
                "id": e.id,
                "source": e.source,
                "level": e.level.word,
                "raised": e.raised,
                "cleared": e.cleared,
                "evidence": e.words,
            }
            for e in sorted(data, key=lambda e: (e.raised, e.id, e.source or ""))
        ],
    }


def has_warning(outcome: dict[str, Any]) -> bool:
    """Tell whether a limit's warning stood at any time of the pass."""
    return any(e["level"] == "warning" for e in outcome.get("exceedances", ()))


def outside_of(contact: dict[str, Any]) -> list[tuple[Quantity, float | None]]:
    """Give what an outcome's ``contact`` names as outside, with its value there."""
    outside = [Quantity(name) for name in contact["outside"]]
    return [(quantity, contact[CONTACT_FIELD[quantity]]) for quantity in outside]


def _contact(state: StateModel) -> dict[str, Any] | None:
    contact = state.contact.measured()
    if contact is None:
        return None
    values: dict[str, Any] = {"t": contact.t}
    values |= {field: contact.values[quantity] for quantity, field in CONTACT_FIELD.items()}
    values["within_limits"] = not contact.outside
    values["outside"] = [quantity.value for quantity in contact.outside]
    return values


def _exceedance(exceedance: Exceedance) -> dict[str, Any]:
    return {
        "id": exceedance.id,
        "level": exceedance.level.word,
        "onset": exceedance.onset,
        "raised": exceedance.raised,
        "cleared": exceedance.cleared,
        "peak": exceedance.peak,
        "peak_limit": exceedance.peak_limit,
        "peak_t": exceedance.peak_t,
    }
