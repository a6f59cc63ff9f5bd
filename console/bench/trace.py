"""One row of derived numbers for each judged sample, taken from the snapshot."""

from __future__ import annotations

from console.approach.snapshot import Snapshot
from console.envelope.quantity import Quantity
from console.tracking.outlook import ContactPrediction

COLUMNS = (
    "pass",
    "t",
    "source",
    "phase",
    "coasted",
    "range_est_m",
    "range_sigma_m",
    "closing_est_mps",
    "closing_sigma_mps",
    "ttc_s",
    "ttc_low_s",
    "ttc_high_s",
    "hands_off_s",
    "hands_off_low_s",
    "hands_off_high_s",
    "hold_call_s",
    "contact_closing_mps",
    "contact_lateral_m",
    "contact_pitch_yaw_deg",
    "chance_all",
)

Cell = str | float | bool | None


def trace_row(name: str, snapshot: Snapshot) -> tuple[Cell, ...]:
    """Give the row of a snapshot, in the order of :data:`COLUMNS`; None for no value."""
    estimate = snapshot.estimate
    contact, hands_off = snapshot.to_contact, snapshot.to_hands_off
    prediction = snapshot.at_contact
    return (
        name,
        snapshot.t,
        snapshot.source,
        snapshot.phase.value,
        snapshot.coasted,
        None if estimate is None else estimate.range_m,
        None if estimate is None else estimate.range_sigma_m,
        None if estimate is None else estimate.closing_rate_mps,
        None if estimate is None else estimate.closing_sigma_mps,
        contact.best_s,
        contact.low_s,
        contact.high_s,
        hands_off.best_s,
        hands_off.low_s,
        hands_off.high_s,
        None if snapshot.stop is None else snapshot.stop.hold_call_s,
        _predicted(prediction, Quantity.CLOSING_RATE),
        _predicted(prediction, Quantity.LATERAL_OFFSET),
        _predicted(prediction, Quantity.PITCH_YAW),
        None if prediction is None else prediction.chance_all,
    )


def _predicted(prediction: ContactPrediction | None, quantity: Quantity) -> float | None:
    if prediction is None:
        return None
    for one in prediction.quantities:
        if one.quantity is quantity and one.predicted is not None:
            return one.predicted.mean
    return None
