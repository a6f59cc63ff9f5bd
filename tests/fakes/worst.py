"""The longest texts that may come at once: nothing of them may be cut or lie on another."""

from __future__ import annotations

from fakes.approach import countdown, source_now
from fakes.snapshots import approach_at, exceedance

from console.approach.snapshot import CallLine, Counts, Snapshot
from console.envelope.limits import Level
from console.envelope.quantity import Quantity
from console.present.port import WatchStatus
from tests.fakes.changed import replace

FINDING = "range rate shows 1234 mm/s slower closing than the slope of range over 60 s"


def worst_snapshot() -> Snapshot:
    """Give a snapshot whose every text is as long as it gets."""
    s = approach_at(150.0)
    t = s.t
    lines = [
        exceedance("data:rate#9", Level.WARNING, t - 3599.0, FINDING, source="optical"),
        exceedance("data:disagree#9", Level.CAUTION, t - 3599.0, FINDING, source="radio"),
        exceedance("pitch-yaw-rate-caution#9", Level.CAUTION, t - 3599.0,
                   "Pitch / yaw rate 10.18 against 10.16 deg/s", quantity=Quantity.PITCH_YAW_RATE,
                   action="watch; hold if above limit for 3 s", value=10.18, limit=10.16),
        exceedance("roll#9", Level.WARNING, t - 3599.0, "Roll 14.65 against 14.30 deg",
                   quantity=Quantity.ROLL, action="call hold", cleared=t - 9.0),
    ]  # fmt: skip
    calls = (
        CallLine("mark:200", "200 metres, closing 55 centimetres a second, contact in 958 seconds",
                 "done", t - 3000.0, None),
        CallLine("step:11", "Step 11  cabin ready and suits closed, confirmed", "done", t - 100.0,
                 None),
        CallLine("mark:150", "150 metres, closing 51 centimetres a second, contact in 858 seconds",
                 "now", t, None),
        CallLine("mark:100", "100 metres", "next", None, 114.0),
        CallLine("step:14", "Step 14  hands-off point, no command from on board", "next", None,
                 3834.0),
        CallLine("contact", "Contact, confirm soft capture", "later", None, 3858.0),
    )  # fmt: skip
    return replace(
        s, exceedances=tuple(lines), calls=calls, coasted=True, stale=True, age_s=59.9,
        to_contact=countdown(3858.0, 0.2, 3294.0), to_hands_off=countdown(3834.0, 0.2),
        next_mark_m=100.0, to_next_mark=countdown(3540.0),
        counts=Counts(
            123456, 4321, (("too many sources", 4000), ("quaternion not of unit length", 300),
                           ("not decodable", 21)), 98765, repeated=4567, late=890, restarts=12,
            leapt=34,
        ),
        sources=(
            source_now("optical", True, 59.9, stale=True, lost_link=True),
            source_now("radio", False, 59.9, gap_m=-10.52, agrees=False, stale=True),
            source_now("lidar", False, 0.1, gap_m=-0.52, agrees=False, flags=("data:frozen",)),
            source_now("camera", False, 0.1, clock_offset_s=-3600.0),
        ),
        limits=tuple(
            replace(n, value=-10.127, limit=None if n.limit is None else n.limit + 10.0,
                    violates_in_s=31.0, standing=n.level is Level.CAUTION)
            for n in s.limits
        ),
    )  # fmt: skip


def worst_status() -> WatchStatus:
    """Give a status with everything to complain about."""
    return WatchStatus(
        mode="Replay 0.25×", endpoint="tcp://192.168.100.200:15556, tcp://192.168.100.201:15557",
        samples_per_s=10000.0, lost=123456, recording=None,
        not_recording_because="no room left on the disk", limits_title="Port C final approach",
        limits_revision=127, limits_sha256="3f9a" * 16, insecure=True, overflowed=98765,
        rejected=4321, notice="limits file refused: line 12: unknown key on_delay, keeping r127",
        behind_s=123.4, recording_moved_because="the file was removed or replaced",
        unrecorded=65432, link_cuts=23, link_given_up=1234567, events_dropped=1234,
        deeds_dropped=5,
    )  # fmt: skip
