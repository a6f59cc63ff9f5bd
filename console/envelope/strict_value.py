"""Single values of a TOML file: what counts as a number, bounds, and how a value is shown."""

from __future__ import annotations

import json
import math
import re
from dataclasses import dataclass

_SHOWN_LENGTH = 40
INTEGER_BITS = 64
"""Of a whole number in TOML, its sign among them."""
_BARE_KEY = re.compile(r"[A-Za-z0-9_-]+")


@dataclass(frozen=True, slots=True)
class Bounds:
    """What a number must keep to; a side that is None is open."""

    least: float | None = None
    above: float | None = None
    most: float | None = None
    below: float | None = None

    def hold(self, value: float) -> bool:
        """Tell whether a value keeps to all of them."""
        return (
            (self.least is None or value >= self.least)
            and (self.above is None or value > self.above)
            and (self.most is None or value <= self.most)
            and (self.below is None or value < self.below)
        )

    def words(self, noun: str) -> str:
        """Write ``a number above 0 and at most 5``."""
        parts = [
            f"{word} {bound:g}"
            for word, bound in (
                ("of at least", self.least),
                ("above", self.above),
                ("at most", self.most),
                ("below", self.below),
            )
            if bound is not None
        ]
        return " ".join([noun, " and ".join(parts)]).rstrip()


NOT_NEGATIVE = Bounds(least=0.0)
POSITIVE = Bounds(above=0.0)


def finite_number(value: object) -> float | None:
    """Give a number as a float: an integer counts, a boolean, NaN and infinities do not."""
    if isinstance(value, bool) or not isinstance(value, int | float):
        return None
    try:
        number = float(value)
    except OverflowError:
        return None
    return number if math.isfinite(number) else None


def shown_value(value: object) -> str:
    """Write a value nearly as TOML does, cut to a readable length."""
    if isinstance(value, bool):
        text = "true" if value else "false"
    elif isinstance(value, str):
        text = json.dumps(value, ensure_ascii=False)
    elif isinstance(value, int) and value.bit_length() > INTEGER_BITS:
        text = f"an integer of {value.bit_length()} bits"
    elif isinstance(value, list):
        text = "[" + ", ".join(shown_value(each) for each in value[:8]) + "]"
    elif isinstance(value, dict):
        text = "a table"
    else:
        text = str(value)
    return text if len(text) <= _SHOWN_LENGTH else text[: _SHOWN_LENGTH - 1] + "…"


def shown_key(key: str) -> str:
    """Write a key as TOML does, in quotes where it needs them."""
    return key if _BARE_KEY.fullmatch(key) else json.dumps(key, ensure_ascii=False)


def kind_of(value: object) -> str:
    """Name what a value is, for a place where another kind of thing must stand."""
    if isinstance(value, dict):
        return "a table"
    if isinstance(value, list):
        return "a list"
    return shown_value(value)
