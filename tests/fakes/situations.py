"""Every situation by name, from the first silence to docked."""

from __future__ import annotations

from fakes.captures import CAPTURES
from fakes.procedures import PROCEDURES
from fakes.snapshots import SITUATIONS

ALL = {**SITUATIONS, **PROCEDURES, **CAPTURES}
