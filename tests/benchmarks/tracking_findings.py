"""Count what the data checks say of a pass in which nothing is wrong."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field

from console.envelope.limits import Level
from console.tracking.tracker import Tracker
from tests.benchmarks.tracking_tables import print_table

FALSE_AT_MOST = {"caution or warning": 2.0, "advisory": 12.0}
"""In a hundred hours."""
EDGES_SHOWN = 40


@dataclass(frozen=True)
class Edge:
    """A finding that was raised, or rose in level."""

    id: str
    source: str
    level: str
    range_m: float
    evidence: str


@dataclass
class Watch:
    """One fault-free watch up to contact: its length and its findings' rising edges."""

    first_t: float | None = None
    last_t: float = 0.0
    edges: list[Edge] = field(default_factory=list)
    standing: dict[tuple[str, str], Level] = field(default_factory=dict)

    @property
    def hours(self) -> float:
        """How long it has lasted."""
        return 0.0 if self.first_t is None else (self.last_t - self.first_t) / 3600.0

    def note(self, tracker: Tracker, t: float) -> None:
        """Look at the findings that stand after a sample."""
        if self.first_t is None:
            self.first_t = t
        self.last_t = t
        now = {}
        for one in tracker.findings(t):
            key = (one.id.value, str(one.source))
            now[key] = one.level
            before = self.standing.get(key)
            if before is None or one.level > before:
                range_m = tracker.estimate(t).range_m
                self.edges.append(Edge(*key, one.level.word, range_m, one.evidence))
        self.standing = now


def print_false(hours: float, edges: Iterable[Edge]) -> None:
    """Print how often each finding was raised, and whether the goals are met."""
    every = list(edges)
    counts = Counter((one.id, one.source, one.level) for one in every)
    print_table(
        ("finding", "source", "level", "times", "in 100 h"),
        [(*key, str(n), f"{100 * n / hours:.1f}") for key, n in sorted(counts.items())],
    )
    advisories = sum(one.level == Level.ADVISORY.word for one in every)
    for word, n in (("caution or warning", len(every) - advisories), ("advisory", advisories)):
        rate, most = 100 * n / hours, FALSE_AT_MOST[word]
        print(f"- {word}: {n} in {hours:.1f} h, {rate:.1f} in 100 h, ", end="")
        print(f"goal {most:g}, {verdict(rate, most)}")
    print()
    for one in every[:EDGES_SHOWN]:
        print(f"    {one.id} {one.source} {one.level} at {one.range_m:.1f} m: {one.evidence}")
    print()


def verdict(value: float, most: float) -> str:
    """Say whether a goal is met."""
    return "met" if value <= most else "**missed**"
