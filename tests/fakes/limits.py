"""A believable limits file as a value, for tests of views: no file is read."""

from __future__ import annotations

from console.core.ids import LimitId
from console.envelope.limits import (
    Allow,
    Basis,
    ContactLimit,
    Curve,
    DataRules,
    GlideSlope,
    HandsOff,
    Level,
    Limit,
    LimitsFile,
)
from console.envelope.quantity import Quantity

Q = Quantity

# id, quantity, allow, level, ranges, values, action
_ROWS: tuple[
    tuple[str, Quantity, Allow, Level, tuple[float, ...], tuple[float, ...], str], ...
] = (
    ("closing-fast", Q.CLOSING_RATE, Allow.BELOW, Level.WARNING,
     (0, 2, 20, 200), (0.10, 0.10, 0.16, 0.60), "call hold"),
    ("closing-fast-caution", Q.CLOSING_RATE, Allow.BELOW, Level.CAUTION,
     (0, 2, 20, 200), (0.09, 0.09, 0.14, 0.58), "watch"),
    ("closing-slow", Q.CLOSING_RATE, Allow.ABOVE, Level.WARNING, (0, 20), (0.05, 0.05),
     "expect a late contact"),
    ("lateral", Q.LATERAL_OFFSET, Allow.BELOW, Level.WARNING, (0, 5, 20, 200),
     (0.10, 0.22, 0.55, 4.0), "call hold"),
    ("lateral-caution", Q.LATERAL_OFFSET, Allow.BELOW, Level.CAUTION, (0, 5, 20, 200),
     (0.08, 0.18, 0.45, 3.2), "watch"),
    ("lateral-rate", Q.LATERAL_RATE, Allow.BELOW, Level.WARNING, (0, 20, 200),
     (0.04, 0.04, 0.10), "call hold"),
    ("lateral-rate-caution", Q.LATERAL_RATE, Allow.BELOW, Level.CAUTION, (0, 20, 200),
     (0.03, 0.03, 0.08), "watch"),
    ("pitch-yaw", Q.PITCH_YAW, Allow.BELOW, Level.WARNING, (0, 20, 200), (4.0, 5.0, 8.0),
     "call hold"),
    ("pitch-yaw-caution", Q.PITCH_YAW, Allow.BELOW, Level.CAUTION, (0, 20, 200),
     (3.0, 4.0, 6.0), "watch"),
    ("roll", Q.ROLL, Allow.BELOW, Level.WARNING, (0, 200), (4.0, 6.0), "call hold"),
    ("pitch-yaw-rate", Q.PITCH_YAW_RATE, Allow.BELOW, Level.WARNING, (0, 200), (0.20, 0.40),
     "hold if above the limit for 3 s"),
    ("pitch-yaw-rate-caution", Q.PITCH_YAW_RATE, Allow.BELOW, Level.CAUTION, (0, 200),
     (0.16, 0.30), "watch; hold if above limit for 3 s"),
    ("roll-rate", Q.ROLL_RATE, Allow.BELOW, Level.WARNING, (0, 200), (0.20, 0.40), "call hold"),
    ("corridor", Q.CORRIDOR_ANGLE, Allow.BELOW, Level.WARNING, (2, 200), (8.0, 8.0),
     "call hold"),
    ("corridor-caution", Q.CORRIDOR_ANGLE, Allow.BELOW, Level.CAUTION, (2, 200), (6.0, 6.0),
     "watch"),
    ("source-gap", Q.SOURCE_GAP, Allow.BELOW, Level.CAUTION, (0, 200), (0.3, 2.0),
     "compare the sources"),
    ("rate-gap", Q.RANGE_RATE_GAP, Allow.BELOW, Level.CAUTION, (0, 200), (0.02, 0.1),
     "distrust the range rate"),
)  # fmt: skip

CONTACT: tuple[ContactLimit, ...] = (
    ContactLimit(Q.CLOSING_RATE, 0.05, 0.10),
    ContactLimit(Q.LATERAL_OFFSET, None, 0.10),
    ContactLimit(Q.LATERAL_RATE, None, 0.04),
    ContactLimit(Q.PITCH_YAW, None, 4.0),
    ContactLimit(Q.ROLL, None, 4.0),
    ContactLimit(Q.PITCH_YAW_RATE, None, 0.20),
    ContactLimit(Q.ROLL_RATE, None, 0.20),
)


def fake_limits() -> LimitsFile:
    """Give port C's limits, revision 7, with a hash that looks like one."""
    limits = tuple(
        Limit(
            LimitId(name), quantity, Basis.MEASURED, level, allow,
            Curve(tuple(map(float, ranges)), values), 0.004, 0.5, 2.0, action,
        )
        for name, quantity, allow, level, ranges, values, action in _ROWS
    )  # fmt: skip
    return LimitsFile(
        title="Port C final approach",
        revision=7,
        author="limits desk",
        reason="corridor after the spring campaign",
        hands_off=HandsOff(1.8, 1.5, 4.0, 0.01),
        glide_slope=GlideSlope(Curve((0.0, 20.0, 200.0), (0.07, 0.09, 0.55))),
        marks_m=(200.0, 150.0, 100.0, 50.0, 30.0, 20.0, 10.0, 5.0, 4.0, 3.0, 2.0, 1.0),
        data=DataRules(),
        limits=limits,
        contact_limits=CONTACT,
        sha256="3f9a" + "0d" * 29 + "e7c1",
        text="format = 1\n",
    )
