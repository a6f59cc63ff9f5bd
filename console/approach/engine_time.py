"""What carries engine time forward: part of what a recording says of itself."""

from enum import StrEnum


class EngineTime(StrEnum):
    """What the state model's clock follows, and so what a replay must follow."""

    RECEIVE = "receive"
    """The receive time of each frame, as on a live link at speed 1."""
    NEWEST = "newest t"
    """The newest ``t`` of the samples, as for tables and runs at another speed."""
