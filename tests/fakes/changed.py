"""A copy of a value with some fields changed, whatever kind of value it is."""

from __future__ import annotations

import dataclasses
from typing import TypeVar

import msgspec

T = TypeVar("T")


def replace(value: T, /, **changes: object) -> T:
    """Give a copy of a dataclass or msgspec struct with other values in some fields."""
    if isinstance(value, msgspec.Struct):
        return msgspec.structs.replace(value, **changes)
    return dataclasses.replace(value, **changes)  # type: ignore[type-var]
