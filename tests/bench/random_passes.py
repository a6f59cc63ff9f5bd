"""Random passes and random limits, each from a seed: rows of a table and the text of a file."""

from __future__ import annotations

import random
from dataclasses import dataclass, field
from itertools import pairwise

T0 = 1_932_100_000.0
QUANTITIES = (
    "closing_rate", "lateral_offset", "lateral_rate", "pitch_yaw", "roll", "pitch_yaw_rate",
    "roll_rate", "corridor_angle", "source_gap", "range_rate_gap",
)  # fmt: skip
CONTACT_QUANTITIES = QUANTITIES[:7]
TYPICAL = {
    "closing_rate": 0.4, "lateral_offset": 0.3, "lateral_rate": 0.05, "pitch_yaw": 2.0,
    "roll": 1.0, "pitch_yaw_rate": 0.2, "roll_rate": 0.1, "corridor_angle": 5.0,
    "source_gap": 0.2, "range_rate_gap": 0.05,
}  # fmt: skip
RATES = ("y_rate_mps", "z_rate_mps", "roll_rate_dps", "pitch_rate_dps", "yaw_rate_dps")


@dataclass
class Case:
    """A pass with its limits."""

    seed: int
    rows: list[dict] = field(default_factory=list)
    limits_text: str = ""
    only: str | None = None
    has_all_rates: bool = True
    sources: int = 1
    has_capture: bool = False


def make_case(seed: int) -> Case:
    """Make everything about one comparison from a seed."""
    rng = random.Random(seed)
    case = Case(seed)
    stale_s = rng.choice([0.3, 0.5, 1.0, 1.0, 2.0])
    case.limits_text = limits_text(rng, stale_s)
    case.sources = rng.choice([1, 2, 2])
    case.has_all_rates = rng.random() < 0.6
    case.has_capture = rng.random() < 0.4
    path = flight(rng)
    case.rows = source_rows(rng, "optical", path, stale_s, case)
    if case.sources == 2:
        case.rows += source_rows(rng, "radio", path, stale_s, case)
        if rng.random() < 0.25:
            case.only = rng.choice(["optical", "radio"])
    if case.has_capture:
        case.rows += capture_rows(rng, path)
    if rng.random() < 0.5:
        rng.shuffle(case.rows)
    return case


def make_live_case(seed: int) -> tuple[Case, float]:
    """Make a case whose rows are received one by one, some late; give when the watch ended."""
    case = make_case(seed)
    rng = random.Random(seed + 1_000_000)
    rows = sorted(case.rows, key=lambda row: row["t"])
    delay = {name: rng.choice([0.0, 0.02, 0.1, 0.3]) for name in ("optical", "radio")}
    numbers = [[row["seq"] for row in rows if row["source"] == name] for name in delay]
    restarts = any(b < a for mine in numbers for a, b in pairwise(mine))
    late = 0.0 if restarts else rng.choice([0.0, 0.03, 0.1])
    for place, row in enumerate(rows):
        row["at"] = row["t"] + delay.get(row["source"], rng.choice([0.0, 0.2, 0.9]))
        if place > 30 and rng.random() < late:
            row["at"] += rng.choice([0.06, 0.15, 0.6])
    rows.sort(key=lambda row: row["at"])
    case.rows = rows
    end = rows[-1]["at"] if rows else T0
    return case, end + rng.choice([0.0, 0.5, 7.0])


def limits_text(rng: random.Random, stale_s: float) -> str:
    """Write a limits file with every delay, dead-band and curve one may think of."""
    lines = [
        "format = 1", 'title = "random"', "revision = 1", 'author = "x"', 'reason = "x"',
        "[hands_off]", f"range_m = {rng.choice([0.7, 1.8, 3.0, 6.0])}", "link_delay_s = 1.5",
        "reaction_s = 4.0", "braking_mps2 = 0.01",
        "[glide_slope]", "curve = [[0, 0.09], [20, 0.09], [200, 0.55]]",
        "[marks]",
        f"ranges_m = {rng.sample([30, 20, 10, 8, 5, 4, 3, 2, 1, 0.5], rng.randint(0, 8))}",
        "[data]", f"stale_after_s = {stale_s}",
        f"lost_after_s = {stale_s + rng.choice([0.0, 0.7, 3.0])}",
    ]  # fmt: skip
    for number in range(rng.randint(0, 6)):
        quantity = rng.choice(QUANTITIES)
        typical = TYPICAL[quantity]
        lines += [
            "[[limit]]", f'id = "limit-{number}"', f'quantity = "{quantity}"',
            'basis = "measured"', f'level = "{rng.choice(["caution", "warning"])}"',
            f'allow = "{rng.choice(["below", "below", "above"])}"',
            f"curve = {curve(rng, typical)}",
            f"deadband = {rng.choice([0.0, 0.02, 0.1, 0.5]) * typical}",
            f"on_delay_s = {rng.choice([0.0, 0.0, 0.1, 0.2, 0.3, 0.5, 2.0, stale_s])}",
            f"off_delay_s = {rng.choice([0.0, 0.0, 0.1, 0.3, 0.4, 1.0, 2.0, stale_s])}",
        ]  # fmt: skip
    for quantity in rng.sample(CONTACT_QUANTITIES, rng.randint(0, 4)):
        typical = TYPICAL[quantity]
        lines += ["[[contact_limit]]", f'quantity = "{quantity}"', f"max = {typical}"]
        if rng.random() < 0.3:
            lines.append(f"min = {0.5 * typical}")
    return "\n".join(lines) + "\n"


def curve(rng: random.Random, typical: float) -> list[list[float]]:
    """Draw a curve that may cover all, a part, or a single range."""
    count = rng.choice([1, 2, 2, 3, 4])
    ranges = sorted(rng.sample([0, 0.5, 1, 2, 3, 5, 8, 10, 15, 20, 50, 200], count))
    return [[r, round(typical * rng.uniform(0.2, 1.6), 4)] for r in ranges]


def flight(rng: random.Random) -> list[tuple[float, float, float]]:
    """Give (time past the start, range, range rate) at 20 Hz: inward, perhaps out again, in."""
    x = rng.choice([2.0, 6.0, 12.0, 35.0])
    legs = [(-rng.choice([0.3, 0.6, 1.5]), rng.uniform(5.0, 40.0))]
    if rng.random() < 0.4:
        legs = [(-0.8, 6.0), (rng.choice([0.0, 0.5, 0.9]), rng.uniform(2.0, 10.0)), (-0.9, 20.0)]
    elif rng.random() < 0.3:  # about the ranges at which marks are armed again
        legs = [(v, rng.uniform(0.5, 1.5)) for v in (-1.2, 1.0, -1.0, 0.9, -1.1, 1.0, -0.8) * 2]
    points, t = [], 0.0
    for v, lasts in legs:
        for _ in range(int(lasts * 20)):
            if x < -0.4 or len(points) > 500:
                return points
            points.append((t, x, v))
            x += v * 0.05
            t = round(t + 0.05, 6)
    return points


def source_rows(
    rng: random.Random, source: str, path: list[tuple[float, float, float]], stale_s: float,
    case: Case,
) -> list[dict]:  # fmt: skip
    """Measure the flight: noise, glitches, gaps, invalid samples, restarts, duplicates."""
    every = rng.choice([1, 2, 2, 4]) if source == "optical" else rng.choice([2, 4, 10])
    t_start = T0 + rng.choice([0.0, 0.03, 0.5]) * (source == "radio")
    jitter = rng.random() < 0.3
    noise = rng.choice([0.0, 0.005, 0.05])
    outliers = rng.choice([0.0, 0.0, 0.03])
    silent = gaps(rng, stale_s)
    digits = rng.choice([None, None, 2, 3])
    invalid_share = rng.choice([0.0, 0.05, 0.3])
    y = z = yaw = pitch = roll = 0.0
    rows: list[dict] = []
    seq = rng.randint(0, 5000)
    for place in range(0, len(path), every):
        past, x, v = path[place]
        seq += 1
        y, z = y + rng.gauss(0, 0.02), z + rng.gauss(0, 0.02)
        yaw, pitch, roll = (a + rng.gauss(0, 0.15) for a in (yaw, pitch, roll))
        if any(begin < past < end for begin, end in silent):
            continue
        if rng.random() < 0.01:
            seq = rng.randint(0, 20)
        t = t_start + past + (rng.choice([0.0, 1e-6, -1e-6, 0.01, 0.02]) if jitter else 0.0)
        x_seen = x + rng.gauss(0, noise)
        if rng.random() < outliers:
            x_seen += rng.choice([-3.0, -1.0, 2.0, 30.0, -x - 0.1])
        row = {
            "source": source, "seq": seq, "t": t, "range_m": x_seen,
            "range_rate_mps": v + rng.gauss(0, noise), "y_m": y, "z_m": z, "roll_deg": roll,
            "pitch_deg": pitch, "yaw_deg": yaw, **rates(rng, case.has_all_rates),
            "valid": False if rng.random() < invalid_share else None,
        }  # fmt: skip
        row = {name: rounded(value, digits) for name, value in row.items()}
        rows.append(row)
        if rng.random() < 0.02:
            rows.append({**row, "range_m": x_seen + 5.0})
        if rng.random() < 0.01:
            seq += 1
            rows.append({**row, "seq": seq, "range_m": x_seen - 0.01})
    return rows


def gaps(rng: random.Random, stale_s: float) -> list[tuple[float, float]]:
    """Draw stretches without samples, many of them about as long as makes data stale."""
    begins = [rng.uniform(0.0, 20.0) for _ in range(rng.choice([0, 1, 2, 4]))]
    more = [-0.2, -0.05, 0.0, 0.05, 0.4, 4.0, 12.0]
    return [(begin, begin + stale_s + rng.choice(more)) for begin in begins]


def rounded(value: object, digits: int | None) -> object:
    """Quantise a measured value, as sensors do; times are large and stay."""
    if digits is None or not isinstance(value, float) or value > T0 / 2:
        return value
    return round(value, digits)


def rates(rng: random.Random, has_all: bool) -> dict:
    """Draw the optional rates, or some of them."""
    return {name: rng.gauss(0, 0.05) for name in RATES if has_all or rng.random() < 0.5}


def capture_rows(rng: random.Random, path: list[tuple[float, float, float]]) -> list[dict]:
    """Give capture statuses around contact, from a source of its own or in rows of a sensor."""
    touch = next((t for t, x, _ in path if x <= 0.0), path[-1][0] if path else 1.0)
    begin = touch + rng.choice([-2.0, -0.3, 0.0, 0.1, 0.12])
    name = rng.choice(["mechanism", "zenith"])
    first = rng.choice(["contact", "soft_capture"])
    rows = [
        {"source": name, "seq": 1, "t": T0 + begin - 1.0, "contact": False},
        {"source": name, "seq": 2, "t": T0 + begin, first: True},
        {"source": name, "seq": 3, "t": T0 + begin + 0.5, "contact": True, "soft_capture": True},
    ]
    return rows if rng.random() < 0.8 else rows[:1]
