"""A naive reading of the judging rules over a whole pass, for comparison with ``score``.

A table's rows come in any order and are sorted; a recording's rows carry in ``at`` when they were
received, and are taken as they come.

Plain lists and dicts, searched over and over; limits are read with the standard library's TOML
reader. Nothing of the console is used. What only an estimator can know (rates that a source does
not send, and which sources carry a data warning) is asked of an ``estimator`` that is handed in.
"""

from __future__ import annotations

import math
from itertools import pairwise
from typing import Any

US = 1e-6
AT_CONTACT = {
    "closing_rate": "closing_rate_mps",
    "lateral_offset": "lateral_offset_m",
    "lateral_rate": "lateral_rate_mps",
    "pitch_yaw": "pitch_yaw_deg",
    "roll": "roll_deg",
    "pitch_yaw_rate": "pitch_yaw_rate_dps",
    "roll_rate": "roll_rate_dps",
}
RATES = ("y_rate_mps", "z_rate_mps", "roll_rate_dps", "pitch_rate_dps", "yaw_rate_dps")
STATE = ("range_m", "range_rate_mps", "y_m", "z_m", "roll_deg", "pitch_deg", "yaw_deg", *RATES)


class NoEstimator:
    """Knows nothing: no rates, no warnings."""

    def take(self, sample: dict) -> None:
        """Take an accepted sample."""

    def change(self, source: str) -> None:
        """Take that another source came into use."""

    def rates(self, t: float) -> dict:
        """Give the rates at a time."""
        return {}

    def warned(self) -> set:
        """Give the sources that carry a data warning."""
        return set()


def records_of(rows: list[dict]) -> list[dict]:
    """Turn rows into records in the order they are taken."""
    records = []
    for place, row in enumerate(rows):
        base = {"source": row["source"], "seq": row["seq"], "t": row["t"], "row": place}
        base["at"] = row.get("at", row["t"])
        has_capture = row.get("contact") is not None or row.get("soft_capture") is not None
        if has_capture:
            capture = {name: row.get(name) for name in ("contact", "soft_capture")}
            records.append({**base, **capture, "kind": 0})
        if any(row.get(name) is not None for name in STATE):
            state = {name: row.get(name) for name in STATE}
            valid = True if row.get("valid") is None else row["valid"]
            records.append({**base, **state, "valid": valid, "kind": 1})
    if not any("at" in row for row in rows):
        records.sort(key=lambda r: (r["t"], r["source"], r["seq"], r["row"], r["kind"]))
    return records


def without_duplicates(records: list[dict]) -> tuple[list[dict], int]:
    """Drop second samples of one number in one run; count what never came."""
    runs: dict[Any, list[dict]] = {}
    kept = []
    for r in records:
        mine = runs.setdefault((r["kind"], r["source"]), [])
        if mine:
            run = mine[-1]
            if r["seq"] < max(run["seen"]) and r["t"] > run["t"]:
                mine.append({"seen": {r["seq"]}, "t": r["t"]})
            elif r["seq"] in run["seen"]:
                continue
            else:
                run["seen"].add(r["seq"])
                run["t"] = max(run["t"], r["t"])
        else:
            mine.append({"seen": {r["seq"]}, "t": r["t"]})
        kept.append(r)
    lost = 0
    for mine in runs.values():
        for run in mine:
            lost += max(run["seen"]) - min(run["seen"]) + 1 - len(run["seen"])
    return kept, lost


def curve_at(curve: list, r: float) -> float | None:
    """Give the limit at a range, None outside."""
    if r < curve[0][0] or r > curve[-1][0]:
        return None
    if len(curve) == 1:
        return curve[0][1]
    for (r0, l0), (r1, l1) in pairwise(curve):
        if r0 <= r < r1 or (r == r1 and [r1, l1] == list(curve[-1])):
            return l0 + (l1 - l0) * (r - r0) / (r1 - r0)
    raise AssertionError("a curve covers all between its ends")


def length(a: float | None, b: float | None) -> float | None:
    """Give sqrt(a*a + b*b)."""
    return None if a is None or b is None else math.sqrt(a * a + b * b)


def source_gap(s: dict, earlier: list[dict], stale_s: float) -> float | None:
    """Give the gap against the other source's newest valid sample taken so far."""
    others = [
        o for o in earlier
        if o["kind"] == 1 and o["valid"] and o["source"] != s["source"] and o["t"] <= s["t"]
    ]  # fmt: skip
    if not others:
        return None
    newest = max(o["t"] for o in others)
    o = [o for o in others if o["t"] == newest][-1]
    age = s["t"] - o["t"]
    if age - stale_s > US:
        return None
    return abs(s["range_m"] - (o["range_m"] + o["range_rate_mps"] * age))


def range_rate_gap(s: dict, earlier: list[dict]) -> float | None:
    """Give the gap between range rate and the slope of range over the last ten seconds."""
    mine = [
        o for o in earlier
        if o["kind"] == 1 and o["valid"] and o["source"] == s["source"]
        and s["t"] - o["t"] <= 10.0 + US
    ]  # fmt: skip
    mine.append(s)
    if len(mine) < 20 or mine[-1]["t"] - mine[0]["t"] < 5.0 - US:
        return None
    n = len(mine)
    t_mean = math.fsum(o["t"] - s["t"] for o in mine) / n
    r_mean = math.fsum(o["range_m"] for o in mine) / n
    up = math.fsum((o["t"] - s["t"] - t_mean) * (o["range_m"] - r_mean) for o in mine)
    down = math.fsum((o["t"] - s["t"] - t_mean) ** 2 for o in mine)
    return abs(s["range_rate_mps"] - up / down)


def values_of(s: dict, rates: dict, earlier: list[dict], stale_s: float, wanted: set) -> dict:
    """Give the measured quantities of a sample."""
    known = {name: rates.get(name) if s[name] is None else s[name] for name in RATES}
    offset = length(s["y_m"], s["z_m"])
    roll_rate = known["roll_rate_dps"]
    values = {
        "closing_rate": -s["range_rate_mps"],
        "lateral_offset": offset,
        "lateral_rate": length(known["y_rate_mps"], known["z_rate_mps"]),
        "pitch_yaw": length(s["pitch_deg"], s["yaw_deg"]),
        "roll": abs(s["roll_deg"]),
        "pitch_yaw_rate": length(known["pitch_rate_dps"], known["yaw_rate_dps"]),
        "roll_rate": None if roll_rate is None else abs(roll_rate),
        "corridor_angle": math.degrees(math.atan2(offset, s["range_m"])),
    }
    if "source_gap" in wanted:
        values["source_gap"] = source_gap(s, earlier, stale_s)
    if "range_rate_gap" in wanted:
        values["range_rate_gap"] = range_rate_gap(s, earlier)
    return values


class Chooser:
    """Which source is in use, by the written rule, looked at when time passes and data comes."""

    def __init__(self, stale_s: float, only: str | None) -> None:
        self.stale_s = stale_s
        self.only = only
        self.newest: dict[str, float] = {}
        self.in_use: str | None = None
        self.changed_at: float | None = None
        self.is_over = False

    def look(self, now: float, warned: set) -> bool:
        """Apply the rule; tell whether the source in use changed."""
        if self.is_over:
            return False
        if self.only is not None:
            begins = self.in_use is None and self.only in self.newest
            self.in_use = self.only if begins else self.in_use
            return begins
        if self.in_use is None:
            self.in_use = next(iter(self.newest), None)
            return self.in_use is not None
        is_stale = {name: now - t - self.stale_s > US for name, t in self.newest.items()}
        if not is_stale[self.in_use] and self.in_use not in warned:
            return False
        rests = self.changed_at is not None and 10.0 - (now - self.changed_at) > US
        if rests and not is_stale[self.in_use]:
            return False
        for name in self.newest:
            if name != self.in_use and not is_stale[name] and name not in warned:
                self.in_use = name
                self.changed_at = now
                return True
        return False


class Silence:
    """When each source was stale and lost, as exceedances."""

    def __init__(self, stale_s: float, lost_s: float) -> None:
        self.after = (("data:stale", "caution", stale_s), ("data:link", "warning", lost_s))
        self.standing: dict[Any, dict] = {}
        self.all: list[dict] = []

    def look(self, now: float, newest: dict[str, float]) -> set:
        """Raise and clear; give the sources whose link is silent."""
        for source, t in newest.items():
            for name, level, after_s in self.after:
                is_silent = now - t - after_s > US
                if is_silent and (name, source) not in self.standing:
                    made = {
                        "id": name, "source": source, "level": level, "raised": now,
                        "cleared": None,
                    }  # fmt: skip
                    self.standing[name, source] = made
                    self.all.append(made)
                elif not is_silent and (name, source) in self.standing:
                    self.standing.pop((name, source))["cleared"] = now
        return {source for name, source in self.standing if name == "data:link"}


class Walk:
    """The pass walked through once: who was in use when, and what was judged."""

    def __init__(
        self, records: list[dict], limits: dict, only: str | None, estimator: Any,
        end_at: float | None,
    ) -> None:  # fmt: skip
        data = limits.get("data", {})
        self.stale_s = data.get("stale_after_s", 1.0)
        self.chooser = Chooser(self.stale_s, only)
        self.silence = Silence(self.stale_s, data.get("lost_after_s", 5.0))
        self.estimator = estimator
        self.wanted = {one["quantity"] for one in limits.get("limit", [])}
        self.records = records
        self.judged: list[dict] = []
        self.used: list[dict] = []
        self.valid_of: dict[str, list[dict]] = {}
        self.status_t: float | None = None
        self.range_t: float | None = None
        self.changed = False
        self.tick = 0
        self.newest_judged = -math.inf
        self.walk()
        if end_at is not None:
            self.pass_time(end_at)

    @property
    def contact_t(self) -> float | None:
        """Give the time of contact."""
        times = [t for t in (self.status_t, self.range_t) if t is not None]
        return min(times, default=None)

    def look(self, now: float) -> None:
        """Look at the sources at a moment."""
        warned = self.silence.look(now, self.chooser.newest) | self.estimator.warned()
        self.chooser.is_over = self.contact_t is not None
        if self.chooser.look(now, warned):
            self.changed = True
            self.estimator.change(self.chooser.in_use)

    def walk(self) -> None:
        """Go through the records in order, and through the ticks between them."""
        for place, r in enumerate(self.records):
            if place == 0:
                self.tick = math.floor(r["at"] * 10) + 1
            self.pass_time(r["at"])
            if r["kind"] == 0:
                if r["contact"] or r["soft_capture"]:
                    self.status_t = min(
                        r["t"], math.inf if self.status_t is None else self.status_t
                    )
                continue
            is_newest = r["valid"] and r["t"] >= self.chooser.newest.get(r["source"], -math.inf)
            if is_newest:
                self.chooser.newest[r["source"]] = r["t"]
                self.valid_of.setdefault(r["source"], []).append(r)
            self.estimator.take(r)
            self.look(r["at"])
            if r["valid"] and r["source"] == self.chooser.in_use:
                self.use(r, self.records[:place], is_newest)

    def pass_time(self, until: float) -> None:
        """Look at every whole tenth of a second that has passed."""
        while self.tick <= math.floor((until + US) * 10):
            if self.chooser.newest:
                self.look(self.tick / 10)
            self.tick += 1

    def use(self, s: dict, earlier: list[dict], is_newest: bool) -> None:
        """Take a valid sample of the source in use."""
        rates = self.estimator.rates(s["t"])
        values = values_of(s, rates, earlier, self.stale_s, self.wanted)
        if is_newest:
            self.follow(s, values)
        if self.contact_t is None and s["range_m"] > 0 and s["t"] >= self.newest_judged:
            self.newest_judged = s["t"]
            self.judged.append({"s": s, "values": values, "changed": self.changed})
            self.changed = False

    def follow(self, s: dict, values: dict) -> None:
        """Look whether the source's newest samples show contact; keep them for the ranges."""
        recent = self.valid_of[s["source"]][-3:]
        self.used.append({"s": s, "values": values, "recent": recent})
        if len(recent) > 1 and recent[-1]["range_m"] <= 0 and recent[-2]["range_m"] <= 0:
            t = recent[-2]["t"]
            self.range_t = t if self.range_t is None else min(t, self.range_t)


def passings(used: list[dict], m: float, contact_t: float | None) -> list[tuple[float, float]]:
    """Give when a range was passed inward, and the closing rate then."""
    if not used:
        return []
    is_armed = used[0]["s"]["range_m"] > m
    found = []
    for one in used:
        recent = one["recent"]
        if len(recent) < 2:
            continue
        first, second = recent[-2], recent[-1]
        if not is_armed:
            above = 1.01 * m + 0.5
            is_armed = first["range_m"] > above and second["range_m"] > above
        elif first["range_m"] <= m and second["range_m"] <= m:
            is_armed = False
            before = recent[-3] if len(recent) == 3 else None
            t, rate = first["t"], -first["range_rate_mps"]
            if before is not None and before["range_m"] > m:
                share = (before["range_m"] - m) / (before["range_m"] - first["range_m"])
                t = before["t"] + share * (first["t"] - before["t"])
                rate = -(
                    before["range_rate_mps"]
                    + share * (first["range_rate_mps"] - before["range_rate_mps"])
                )
            if contact_t is None or t <= contact_t:
                found.append((t, rate))
    return found


def exceedances_of(limit: dict, judged: list[dict], stale_s: float) -> list[dict]:
    """Give the exceedances of a limit."""
    moments = []
    changed = False
    for one in judged:
        changed = changed or one["changed"]
        x = one["values"][limit["quantity"]]
        if x is None:
            continue
        edge = curve_at(limit["curve"], one["s"]["range_m"])
        t = one["s"]["t"]
        restarts = changed or (bool(moments) and t - moments[-1]["t"] - stale_s > US)
        moments.append({"t": t, "x": x, "edge": edge, "restarts": restarts})
        changed = False
    below = limit["allow"] == "below"
    for m in moments:
        x, edge, band = m["x"], m["edge"], limit["deadband"]
        m["violating"] = edge is not None and (x > edge if below else x < edge)
        m["clearing"] = edge is None or (x <= edge - band if below else x >= edge + band)
        m["excess"] = None if edge is None else (x - edge if below else edge - x)
    found = []
    place = 0
    while place is not None and place < len(moments):
        raising = first_lasting(moments, place, "violating", limit["on_delay_s"])
        if raising is None:
            break
        onset, raised = raising
        clearing = first_lasting(moments, raised + 1, "clearing", limit["off_delay_s"])
        end = len(moments) if clearing is None else clearing[1]
        span = [m for m in moments[onset:end] if m["excess"] is not None]
        most = max(m["excess"] for m in span)
        peak = next(m for m in span if m["excess"] == most)
        found.append(
            {
                "id": limit["id"], "level": limit["level"], "onset": moments[onset]["t"],
                "raised": moments[raised]["t"],
                "cleared": None if clearing is None else moments[end]["t"],
                "peak": peak["x"], "peak_limit": peak["edge"], "peak_t": peak["t"],
            }
        )  # fmt: skip
        place = None if clearing is None else end + 1
    return found


def first_lasting(
    moments: list[dict], begin: int, flag: str, delay_s: float
) -> tuple[int, int] | None:
    """Find the first moment up to which a flag has held for a delay, and since which one."""
    since: int | None = None
    for n in range(begin, len(moments)):
        if moments[n]["restarts"]:
            since = None
        if not moments[n][flag]:
            since = None
            continue
        if since is None:
            since = n
        if delay_s - (moments[n]["t"] - moments[since]["t"]) <= US:
            return since, n
    return None


def contact_of(walk: Walk, limits: dict) -> dict | None:
    """Give what was measured at contact."""
    t_c = walk.contact_t
    if t_c is None:
        return None
    before = [one for one in walk.used if one["s"]["t"] < t_c][-1:]
    after = [one for one in walk.used if one["s"]["t"] >= t_c][:1]
    values: dict[str, float | None] = dict.fromkeys(AT_CONTACT)
    if before or after:
        nearest = min(before + after, key=lambda one: abs(one["s"]["range_m"]))
        values = {name: nearest["values"][name] for name in AT_CONTACT}
    outside = []
    for limit in limits.get("contact_limit", []):
        x = values[limit["quantity"]]
        low, high = limit.get("min", -math.inf), limit.get("max", math.inf)
        if x is None or x < low or x > high:
            outside.append(limit["quantity"])
    return {
        "t": t_c,
        **{field: values[name] for name, field in AT_CONTACT.items()},
        "within_limits": not outside,
        "outside": outside,
    }


def naive_score(
    rows: list[dict],
    limits: dict,
    only: str | None = None,
    estimator: Any = None,
    end_at: float | None = None,
) -> dict:
    """Judge rows against a limits file read by ``tomllib``."""
    records, lost = without_duplicates(records_of(rows))
    walk = Walk(records, limits, only, estimator or NoEstimator(), end_at)
    times = [r["t"] for r in records]
    contact_t = walk.contact_t
    hands_off = passings(walk.used, limits["hands_off"]["range_m"], contact_t)
    marks = [
        {"range_m": m, "t": t}
        for m in limits["marks"]["ranges_m"]
        for t, _ in passings(walk.used, m, contact_t)
    ]
    found = []
    for limit in limits.get("limit", []):
        found += exceedances_of(limit, walk.judged, walk.stale_s)
    return {
        "samples": sum(r["kind"] == 1 for r in records),
        "lost": lost,
        "duration_s": max(times) - min(times) if times else 0.0,
        "source": walk.chooser.in_use,
        "marks": sorted(marks, key=lambda m: (m["t"], -m["range_m"])),
        "hands_off": {"t": hands_off[-1][0], "closing_rate_mps": hands_off[-1][1]}
        if hands_off
        else None,
        "contact": contact_of(walk, limits),
        "exceedances": sorted(found, key=lambda e: (e["onset"], e["id"])),
        "silences": sorted(walk.silence.all, key=lambda e: (e["raised"], e["id"], e["source"])),
        "judged": len(walk.judged),
    }
