"""The word behind the tab of Watch, so that a warning is known in every other view."""

from __future__ import annotations

from console.approach.snapshot import Snapshot
from console.envelope.limits import Level
from console.present.tone import mark_of


def watch_mark(snapshot: Snapshot | None) -> str:
    """Give shape and number of the worst exceedances that stand, '' for none.

    What waits for its acknowledgement counts too, cleared or not; what is shelved does not.
    """
    if snapshot is None:
        return ""
    counts = dict.fromkeys((Level.WARNING, Level.CAUTION), 0)
    for one in snapshot.exceedances:
        stands = one.cleared is None and not one.shelved
        waits = one.waits and one.acknowledged_by is None
        if one.level in counts and (stands or waits):
            counts[one.level] += 1
    worst = next((level for level, count in counts.items() if count), None)
    return "" if worst is None else f"{mark_of(worst)} {counts[worst]}"
