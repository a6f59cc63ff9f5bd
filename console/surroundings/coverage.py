"""Link coverage as planned: windows of each link, their union, gaps and handovers.

Windows are input and not computed from orbits: what the outpost's own structure hides makes them
shorter than geometry says. Outside the plan, before its first window of coverage and after its
last, coverage is unknown: neither given nor a gap.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from functools import cached_property
from heapq import heappop, heappush

from console.surroundings.condition import Condition
from console.surroundings.interval import Interval, held, union, without


class WindowKind(StrEnum):
    """What a window of the plan says."""

    COVERAGE = "coverage"
    """The link is planned to be there."""
    OUTAGE = "outage"
    """It is not, whatever the other windows of the same link say."""
    EVENT = "event"
    """Something to know of; says nothing about coverage."""


class Link(StrEnum):
    """What the plan says of a moment."""

    COVERED = "covered"
    GAP = "gap"
    UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True)
class Window:
    """One row of the plan."""

    span: Interval
    link: str
    kind: WindowKind
    note: str = ""


@dataclass(frozen=True, slots=True)
class Handover:
    """Coverage passes from one link to another.

    Attributes
    ----------
    span : Interval
        When both are there; where they only touch its length is 0.
    """

    giving: str
    taking: str
    span: Interval


@dataclass(frozen=True)
class Coverage:
    """A plan of link coverage.

    Attributes
    ----------
    windows : tuple of Window
        In any order.
    name : str
        What notes call the plan.
    """

    windows: tuple[Window, ...]
    name: str = ""

    @cached_property
    def per_link(self) -> dict[str, tuple[Interval, ...]]:
        """When each link is there: the union of its coverage less its outages."""
        spans: dict[str, dict[WindowKind, list[Interval]]] = {}
        for window in self.windows:
            if window.kind is not WindowKind.EVENT:
                mine = spans.setdefault(window.link, {})
                mine.setdefault(window.kind, []).append(window.span)
        return {
            name: without(
                union(mine.get(WindowKind.COVERAGE, ())), mine.get(WindowKind.OUTAGE, ())
            )
            for name, mine in spans.items()
        }

    @cached_property
    def covered(self) -> tuple[Interval, ...]:
        """When at least one link is there; windows that touch leave no gap."""
        return union(span for spans in self.per_link.values() for span in spans)

    @cached_property
    def extent(self) -> Interval | None:
        """From the first planned coverage to the last, outages or not; None where none is."""
        spans = [w.span for w in self.windows if w.kind is WindowKind.COVERAGE]
        if not spans:
            return None
        return Interval(min(s.t_start for s in spans), max(s.t_end for s in spans))

    @cached_property
    def gaps(self) -> tuple[Interval, ...]:
        """When no link is there, within the plan's extent."""
        if self.extent is None:
            return ()
        return without((self.extent,), self.covered)

    @cached_property
    def condition(self) -> Condition | None:
        """Where a link is planned to be there, and where not; None where nothing is planned."""
        return None if self.extent is None else Condition(self.extent, self.gaps)

    @cached_property
    def handovers(self) -> tuple[Handover, ...]:
        """Each passing of coverage from a link that ends to the one that lasts longest then.

        Only where the taking link is there when the giving one ends; else it is a gap.
        """
        rank = {name: place for place, name in enumerate(sorted(self.per_link))}
        every = [(name, span) for name, spans in self.per_link.items() for span in spans]
        begins = sorted(every, key=lambda one: one[1].t_start, reverse=True)
        found = []
        # Those begun, the one that lasts longest first, as a heap wants it: all signs turned.
        begun: list[tuple[float, int, float, str]] = []
        for giving, ending in sorted(every, key=lambda one: one[1].t_end):
            while begins and begins[-1][1].t_start <= ending.t_end:
                name, span = begins.pop()
                heappush(begun, (-span.t_end, -rank[name], -span.t_start, name))
            own = []
            while begun and begun[0][-1] == giving and -begun[0][0] > ending.t_end:
                own.append(heappop(begun))
            if begun and -begun[0][0] > ending.t_end:
                _, _, minus_start, taking = begun[0]
                both = Interval(max(-minus_start, ending.t_start), ending.t_end)
                found.append(Handover(giving, taking, both))
            for one in own:
                heappush(begun, one)
        return tuple(sorted(found, key=lambda h: h.span))

    @cached_property
    def events(self) -> tuple[Window, ...]:
        """What there is to know of, in order of time."""
        found = [w for w in self.windows if w.kind is WindowKind.EVENT]
        return tuple(sorted(found, key=lambda w: (w.span, w.link, w.note)))

    def at(self, t_s: float) -> Link:
        """Tell what the plan says of a moment."""
        if self.extent is None or not self.extent.holds(t_s):
            return Link.UNKNOWN
        return Link.GAP if held(self.covered, t_s) is None else Link.COVERED

    def links_at(self, t_s: float) -> tuple[str, ...]:
        """Give the links that are there at a moment."""
        return tuple(name for name, spans in self.per_link.items() if held(spans, t_s) is not None)

    def gap_at(self, t_s: float) -> Interval | None:
        """Give the gap a moment falls in."""
        return held(self.gaps, t_s)
