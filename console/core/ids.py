"""Names that are types, so that a source cannot be passed for a limit."""

from typing import NewType

SourceId = NewType("SourceId", str)
LimitId = NewType("LimitId", str)
