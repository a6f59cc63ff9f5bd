"""A naive reading of the judging rules, for comparison.

It looks at whole lists and searches them over and over; it keeps no timers and shares no code
with the judge. A pass is a list of :class:`Moment`, already those of the source in use.
"""

from __future__ import annotations

from dataclasses import dataclass

MICROSECOND = 1e-6


@dataclass
class Rule:
    """One limit, in plain words."""

    id: str
    level: str
    allow: str
    points: list[tuple[float, float]]
    deadband: float
    on_delay_s: float
    off_delay_s: float


@dataclass
class Moment:
    """One sample as one limit sees it."""

    t: float
    sample_range_m: float
    range_m: float | None
    """Where the limit is looked up: the sample's range, or the estimator's."""
    value: float | None
    valid: bool = True
    first_of_source: bool = False
    """Whether another source came into use just before this sample."""


def limit_at(points: list[tuple[float, float]], r: float) -> float | None:
    """Give L0 + (L1-L0)*(r-r0)/(r1-r0), or None outside."""
    if len(points) == 1:
        return points[0][1] if points[0][0] == r else None
    for k in range(len(points) - 1):
        (r0, low), (r1, high) = points[k], points[k + 1]
        if r0 <= r < r1 or (k == len(points) - 2 and r == r1):
            return low + (high - low) * (r - r0) / (r1 - r0)
    return None


def judged_moments(moments: list[Moment]) -> list[tuple[Moment, bool]]:
    """Give what is judged for one limit, each with whether timers restart at it."""
    judged: list[tuple[Moment, bool]] = []
    changed = False
    for m in moments:
        changed = changed or m.first_of_source
        known = m.value is not None and m.value == m.value and m.range_m is not None
        if not (m.valid and m.sample_range_m > 0 and known):
            continue
        judged.append((m, changed))
        changed = False
    return judged


def sides(rule: Rule, x: float, edge: float | None) -> tuple[bool, bool, float | None]:
    """Give whether a value is violating, whether it is clearing, and by how much it exceeds."""
    if edge is None:
        return False, True, None
    if rule.allow == "below":
        return x > edge, x <= edge - rule.deadband, x - edge
    return x < edge, x >= edge + rule.deadband, edge - x


class Pass:
    """One limit's judged moments as plain columns."""

    def __init__(self, rule: Rule, moments: list[Moment], stale_after_s: float) -> None:
        judged = judged_moments(moments)
        self.when = [m.t for m, _ in judged]
        self.value = [m.value for m, _ in judged]
        self.limit = [limit_at(rule.points, m.range_m) for m, _ in judged]
        told = [sides(rule, x, edge) for x, edge in zip(self.value, self.limit, strict=True)]
        self.violating = [violating for violating, _, _ in told]
        self.clearing = [clearing for _, clearing, _ in told]
        self.excess = [excess for _, _, excess in told]
        self.restarts = [
            changed or (n > 0 and self.when[n] - self.when[n - 1] - stale_after_s > MICROSECOND)
            for n, (_, changed) in enumerate(judged)
        ]

    def reached_at(self, flags: list[bool], first: int, delay_s: float) -> tuple[int, int] | None:
        """Find the first sample up to which a flag has held for a delay, and since which one."""
        for last in range(first, len(flags)):
            runs = [
                start
                for start in range(first, last + 1)
                if all(flags[start : last + 1]) and not any(self.restarts[start + 1 : last + 1])
            ]
            if runs and delay_s - (self.when[last] - self.when[runs[0]]) <= MICROSECOND:
                return runs[0], last
        return None


def exceedances(rule: Rule, moments: list[Moment], stale_after_s: float) -> list[dict]:
    """Give every exceedance of one limit, in order of onset."""
    seen = Pass(rule, moments, stale_after_s)
    results: list[dict] = []
    free: int | None = 0
    while free is not None:
        raising = seen.reached_at(seen.violating, free, rule.on_delay_s)
        if raising is None:
            break
        onset, raised = raising
        clearing = seen.reached_at(seen.clearing, raised + 1, rule.off_delay_s)
        free = None if clearing is None else clearing[1] + 1
        span = [n for n in range(onset, free or len(seen.when)) if seen.excess[n] is not None]
        worst = max(seen.excess[n] for n in span)
        peak = min(n for n in span if seen.excess[n] == worst)
        results.append(
            {
                "id": rule.id,
                "level": rule.level,
                "onset": seen.when[onset],
                "raised": seen.when[raised],
                "cleared": None if clearing is None else seen.when[clearing[1]],
                "peak": seen.value[peak],
                "peak_limit": seen.limit[peak],
                "peak_t": seen.when[peak],
            }
        )
    return results
