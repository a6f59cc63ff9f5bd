"""A small order for tests of campaigns: short approaches, some of them with faults."""

from __future__ import annotations

import math

from console.app.input_file import load_limits
from console.archive.shipped import shipped
from console.bench.campaign_order import CampaignOrder
from console.bench.campaign_run import Row

SPREAD = """
title = "short"
[start]
y_m = [-0.05, 0.05]
z_m = [-0.05, 0.05]
[steering]
final_rate_mps = { mean = 0.09, sigma = 0.01 }
[stop]
reaction_s = [2, 6]
[sensor.optical]
noise = [0.8, 1.5]
[[fault]]
kind = "dropout"
source = "optical"
odds = 0.25
at_range_m = 1.6
for_s = 3
[[fault]]
kind = "fast_closing"
odds = 0.3
at_range_m = 1.5
size = 1.6
"""


def small_order(runs: int, *, chunk: int = 2, seed: int = 4, from_m: float = 2.2) -> CampaignOrder:
    """Give an order of approaches from close by."""
    scenario = shipped("replay_data", "scenarios", "nominal.toml").read_text(encoding="utf-8")
    return CampaignOrder(
        runs=runs, seed=seed, limits=load_limits(None).text, setup="", scenario=scenario,
        spread=SPREAD, altitude_km=420.0, from_range_m=from_m, chunk=chunk,
    )  # fmt: skip


def same(one: Row, other: Row) -> list[str]:
    """Give the names of what differs between two rows; NaN is like NaN."""
    return [
        name
        for name in {*one, *other}
        if one[name] != other[name] and not (is_nan(one[name]) and is_nan(other[name]))
    ]


def is_nan(value: object) -> bool:
    """Tell whether a value is NaN."""
    return isinstance(value, float) and math.isnan(value)
