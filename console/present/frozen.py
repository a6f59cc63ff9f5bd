"""A picture that is no longer renewed, shown as old as it is.

Should the engine stop, the newest snapshot stands and says of itself that it is fresh. By the
window's own clock its ages go on, it becomes stale, and after a while no countdown is left: a
number that stands still must not look like one that is watched.
"""

from __future__ import annotations

from dataclasses import replace

import msgspec

from console.approach.snapshot import CaptureNow, Snapshot, SourceNow
from console.tracking.outlook import Countdown

FROZEN_AFTER_S = 1.0
"""A picture not renewed for so long is old; one is usually renewed ten times a second or more."""


def aged(snapshot: Snapshot, unchanged_s: float, lost_after_s: float) -> Snapshot:
    """Give a snapshot as it is to be shown so long after it was the newest.

    Parameters
    ----------
    snapshot : Snapshot
    unchanged_s : float
        Since when no newer one came, s, on the window's clock.
    lost_after_s : float
        From when on no countdown is shown, s.

    Returns
    -------
    Snapshot
        The same one while it is not old.
    """
    if unchanged_s < FROZEN_AFTER_S:
        return snapshot
    shown = msgspec.structs.replace(
        snapshot,
        age_s=_older(snapshot.age_s, unchanged_s),
        stale=snapshot.measured is not None,
        sources=tuple([_source(source, unchanged_s) for source in snapshot.sources]),
        capture=None if snapshot.capture is None else _capture(snapshot.capture, unchanged_s),
    )
    if unchanged_s < lost_after_s:
        return shown
    return msgspec.structs.replace(
        shown,
        withdrawn=snapshot.contact_t is None,
        to_contact=Countdown(),
        to_hands_off=Countdown(),
        next_mark_m=None,
        to_next_mark=Countdown(),
        at_contact=None,
        if_thrust_stops=None,
        stop=None,
        path=(),
    )


def _older(age_s: float | None, by_s: float) -> float | None:
    return None if age_s is None else age_s + by_s


def _source(source: SourceNow, unchanged_s: float) -> SourceNow:
    age_s = _older(source.age_s, unchanged_s)
    return msgspec.structs.replace(source, age_s=age_s, stale=True, gap_m=None, agrees=None)


def _capture(capture: CaptureNow, unchanged_s: float) -> CaptureNow:
    age_s = _older(capture.age_s, unchanged_s)
    return replace(capture, age_s=age_s, is_silent=age_s is not None)
