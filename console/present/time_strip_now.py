"""The time strip's changing marks: events and their names, link gaps, light."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from console.approach.snapshot import LightSpan, LinkGap, Snapshot
from console.present.plot_label import Wish, beside, elided, place
from console.present.plot_scene import (
    Bar,
    Box,
    Ink,
    Label,
    Line,
    Meter,
    Scene,
    Stroke,
    level_line,
    series,
    upright,
)
from console.present.text import duration
from console.present.time_strip import NOW, StripFrame
from console.present.time_strip_events import (
    CONTACT,
    HANDS_OFF,
    LAST_STOP_CALL,
    Rank,
    StripEvent,
    events,
)
from console.present.time_strip_facts import contact_ahead, fact_slots, fact_wordings

NO_ORBIT = "light: no orbit known"
PLANNED = "planned gap"
FACTS = "facts"
DAY, TWILIGHT, NIGHT = "day", "twilight", "night"
_WIDEST_NAME = 11.0
"""Most a name may take, in line heights."""
_WHOLE_SECONDS_BELOW_S = 99.5
_SPAN_RANKS = (Rank.CONTACT, Rank.HANDS_OFF, Rank.NEXT_MARK)


@dataclass(slots=True)
class StripMemory:
    """Places of the names in the frame before, so that none hops."""

    events: dict[str, int] | None = None
    gaps: dict[str, int] | None = None


def changing_strip(
    frame: StripFrame,
    snapshot: Snapshot | None,
    marks_m: Sequence[float],
    memory: StripMemory,
    meter: Meter,
) -> Scene:
    """Give the marks of one snapshot.

    Parameters
    ----------
    memory : StripMemory
        Renewed here.
    """
    scene = Scene()
    if snapshot is not None:
        _draw_light(scene, frame, snapshot, meter)
        shown = [
            e for e in events(snapshot, marks_m) if frame.time.low <= e.at_s <= frame.time.high
        ]
        _draw_lines(scene, frame, shown, meter)
        memory.gaps = _draw_link(scene, frame, snapshot, shown, memory.gaps, meter)
    else:
        shown = []
    scene.add(upright(frame.now_px, frame.plot.top, frame.plot.bottom, Ink.TEXT, 2.0))
    memory.events = _draw_names(scene, frame, shown, memory.events, meter)
    return scene


def _x(frame: StripFrame, at_s: float) -> float:
    return round(min(max(frame.time.px(at_s), frame.plot.left), frame.plot.right)) + 0.5


def _draw_lines(
    scene: Scene, frame: StripFrame, shown: Sequence[StripEvent], meter: Meter
) -> None:
    for event in reversed(shown):
        bottom = frame.plot.bottom if event.crosses_all else frame.spans.bottom
        width = 2.0 if event.rank is Rank.CONTACT else 1.0
        x = _x(frame, event.at_s)
        opacity = 1.0 if event.rank <= Rank.NEXT_MARK else 0.7
        scene.add(upright(x, frame.plot.top, bottom, event.ink, width, event.stroke, opacity))
        if event.rank in _SPAN_RANKS and event.low_s is not None and event.at_s > 0.0:
            _draw_span(scene, frame, event, meter)


def _draw_span(scene: Scene, frame: StripFrame, event: StripEvent, meter: Meter) -> None:
    """Draw a countdown's 95 % bounds as a bar with ends; an open late bound runs out dotted."""
    low = 0.0 if event.low_s is None else event.low_s
    level = _SPAN_RANKS.index(event.rank)
    y = frame.spans.top + frame.spans.height * (level + 0.6) / len(_SPAN_RANKS)
    left = _x(frame, low)
    right = frame.plot.right if event.high_s is None else _x(frame, event.high_s)
    stroke = Stroke.DOTTED if event.high_s is None else Stroke.SOLID
    half = 1.5 * meter.unit
    scene.add(level_line(y, left, right, event.ink, 1.5, stroke))
    for x, is_end in ((left, True), (right, event.high_s is not None)):
        if is_end:
            scene.add(upright(x, y - half, y + half, event.ink, 1.5))


def _draw_names(
    scene: Scene,
    frame: StripFrame,
    shown: Sequence[StripEvent],
    previous: Mapping[str, int] | None,
    meter: Meter,
) -> dict[str, int]:
    """Name now, then as many events as have room; give which slot each name took."""
    tops = [frame.names.top + i * meter.height for i in range(frame.name_rows)]
    names = {NOW: (NOW, Ink.TEXT)}
    strong = {e.key: _line_box(frame, e) for e in shown if e.crosses_all}
    strong[NOW] = Box(frame.now_px, frame.plot.top, 0.0, frame.plot.height)
    wishes = [Wish(NOW, _slots(frame.now_px, NOW, tops[:1], meter), strong[NOW])]
    for event in shown:
        words = elided(event.words, _WIDEST_NAME * meter.height, meter)
        names[event.key] = (words, event.name_ink)
        slots = _slots(_x(frame, event.at_s), words, tops, meter)
        wishes.append(Wish(event.key, slots, strong.get(event.key)))
    placed = place(wishes, frame.plot, taken=tuple(strong.values()), previous=previous, gap=3.0)
    for key, found in placed.items():
        words, ink = names[key]
        scene.add(Label(words, found.box, ink, patch=True))
    return {key: found.slot for key, found in placed.items()}


def _line_box(frame: StripFrame, event: StripEvent) -> Box:
    return Box(_x(frame, event.at_s), frame.plot.top, 0.0, frame.plot.height)


def _slots(x: float, words: str, tops: Sequence[float], meter: Meter) -> tuple[Box, ...]:
    """Give the places right of a line, the upper row first, then those left of it."""
    sides = [beside(words, x, top, meter) for top in tops]
    return tuple(pair[side] for side in (0, 1) for pair in sides)


@dataclass(frozen=True, slots=True)
class _Saying:
    """What a label of the link's row says in each of its places, and how loudly."""

    words: tuple[str, ...]
    is_loud: bool = False


def _draw_link(
    scene: Scene,
    frame: StripFrame,
    snapshot: Snapshot,
    shown: Sequence[StripEvent],
    previous: Mapping[str, int] | None,
    meter: Meter,
) -> dict[str, int]:
    """Hatch each link gap, had or planned, say its length, then what is well about contact."""
    row = frame.link
    bars: list[Bar] = []
    wishes: list[Wish] = []
    said: dict[str, _Saying] = {}
    had = [(gap, False) for gap in sorted(snapshot.link_gaps, key=lambda g: -g.t_start)]
    for gap, is_planned in (*had, *((gap, True) for gap in snapshot.planned_gaps)):
        box = _gap_box(frame, snapshot, gap)
        if box is None:
            continue
        bars.append(Bar(box, Ink.EDGE if is_planned else Ink.STALE, hatched=True))
        key = f"{PLANNED if is_planned else 'had'} {gap.t_start:.3f}"
        words = planned_words(gap) if is_planned else gap_words(gap, snapshot.t)
        short = _length((snapshot.t if gap.t_end is None else gap.t_end) - gap.t_start)
        said[key] = _Saying((words, words, short, short), gap.t_end is None)
        slots = (*_gap_slots(row, box, words, meter), *_gap_slots(row, box, short, meter))
        wishes.append(Wish(key, slots, box))
    contact = contact_ahead(shown)
    from_px = frame.now_px if contact is None else _x(frame, contact.at_s)
    places = fact_slots(fact_wordings(snapshot), row, from_px, meter)
    wishes.append(Wish(FACTS, tuple(box for box, _ in places)))
    said[FACTS] = _Saying(tuple(words for _, words in places))
    lines = [_line_box(frame, e) for e in shown if e.crosses_all]
    lines.append(Box(frame.now_px, frame.plot.top, 0.0, frame.plot.height))
    placed = place(
        wishes, row, taken=(*(bar.box for bar in bars), *lines), previous=previous, gap=2.0
    )
    scene.add(*bars)
    for key, found in placed.items():
        is_loud = said[key].is_loud
        ink = Ink.TEXT if is_loud else Ink.QUIET
        scene.add(Label(said[key].words[found.slot], found.box, ink, bold=is_loud))
    # a shortened name is not kept: the whole one comes back as soon as there is room
    return {key: found.slot for key, found in placed.items() if found.slot < 2}


def _gap_box(frame: StripFrame, snapshot: Snapshot, gap: LinkGap) -> Box | None:
    start = gap.t_start - snapshot.t
    end = 0.0 if gap.t_end is None else gap.t_end - snapshot.t
    if end < frame.time.low or start > frame.time.high:
        return None
    left, right = _x(frame, start), _x(frame, end)
    return Box(left, frame.link.top + 1.0, max(right - left, 2.0), frame.link.height - 2.0)


def _gap_slots(row: Box, box: Box, words: str, meter: Meter) -> tuple[Box, ...]:
    """Give places right and left of a gap; one that lasts is named beyond the line of now."""
    width = meter.width(words, bold=True)
    return (
        Box(box.right + 5.0, row.top, width, row.height),
        Box(box.left - 5.0 - width, row.top, width, row.height),
    )


def gap_words(gap: LinkGap, now_t: float) -> str:
    """Say how long a gap is, or has been so far."""
    return f"no link {_length((now_t if gap.t_end is None else gap.t_end) - gap.t_start)}"


def planned_words(gap: LinkGap) -> str:
    """Say how long a gap of the coverage plan is."""
    return PLANNED if gap.t_end is None else f"{PLANNED} {_length(gap.t_end - gap.t_start)}"


def _length(seconds: float) -> str:
    if seconds < _WHOLE_SECONDS_BELOW_S:
        return f"{math.floor(seconds + 0.5)} s"
    return duration(seconds)


def _draw_light(scene: Scene, frame: StripFrame, snapshot: Snapshot, meter: Meter) -> None:
    """Draw light as a line, high by day and low by night, with words."""
    row = frame.light
    if not snapshot.light:
        scene.add(_no_orbit(frame, meter))
        return
    xs: list[float] = []
    ys: list[float] = []
    for i, span in enumerate(snapshot.light):
        start, end = span.t_start - snapshot.t, span.t_end - snapshot.t
        if end < frame.time.low or start > frame.time.high:
            continue
        y0, y1 = _light_px(snapshot.light, i, row)
        x0, x1 = frame.time.px(start), frame.time.px(end)
        xs += [x0, x1]
        ys += [y0, y1]
        _say_light(scene, row, span, (max(x0, row.left), min(x1, row.right)), meter)
    scene.add(Line(series(xs), series(ys), Ink.EDGE, 1.0, clip=row.grown(1.0)))


def _no_orbit(frame: StripFrame, meter: Meter) -> Label:
    """Say that nothing is known of light, where the row's name stands too."""
    row = frame.light
    width = meter.width(NO_ORBIT)
    left = frame.gutter - round(meter.height * 0.5) - meter.width("light")
    return Label(
        NO_ORBIT, Box(left, row.middle - meter.height / 2.0, width, meter.height), patch=True
    )


def _light_px(spans: Sequence[LightSpan], index: int, row: Box) -> tuple[float, float]:
    """Give the line's height at both ends of a span; twilight leads from level to level."""
    high, low = row.top + 1.5, row.bottom - 1.5
    level = {DAY: high, NIGHT: low}
    state = spans[index].state
    if state in level:
        return level[state], level[state]
    middle = (high + low) / 2.0
    before = level.get(spans[index - 1].state, middle) if index > 0 else None
    after = level.get(spans[index + 1].state, middle) if index + 1 < len(spans) else None
    if before is None and after is None:
        return middle, middle
    start = before if before is not None else high + low - (after or middle)
    end = after if after is not None else high + low - start
    return start, end


def _say_light(
    scene: Scene, row: Box, span: LightSpan, seen: tuple[float, float], meter: Meter
) -> None:
    width = meter.width(span.state)
    left = seen[0] + meter.height * 0.6
    if left + width + 4.0 > seen[1]:
        return
    top = row.top + 2.0 if span.state != NIGHT else row.top - 1.0
    scene.add(Label(span.state, Box(left, top, width, meter.height), patch=span.state == TWILIGHT))


def strip_words(snapshot: Snapshot | None, marks_m: Sequence[float]) -> str:
    """Say what the time strip shows, for those who hear it."""
    if snapshot is None:
        return "No data yet."
    loud = {CONTACT, HANDS_OFF, LAST_STOP_CALL}
    parts = []
    for event in events(snapshot, marks_m):
        if event.at_s > 0.0 and (event.key in loud or event.rank is Rank.NEXT_MARK):
            parts.append(f"{event.words} in {duration(event.at_s)}")
        elif event.at_s <= 0.0 and event.rank <= Rank.STEP:
            parts.append(f"{event.words} {duration(-event.at_s)} ago")
    gaps = sorted(snapshot.link_gaps, key=lambda g: g.t_start)[-1:]
    parts += [gap_words(gap, snapshot.t) for gap in gaps]
    coming = [gap for gap in snapshot.planned_gaps if gap.t_start > snapshot.t][:1]
    parts += [f"{planned_words(gap)} in {duration(gap.t_start - snapshot.t)}" for gap in coming]
    now = [s.state for s in snapshot.light if s.t_start <= snapshot.t < s.t_end]
    parts.append(
        f"light: {now[0]}" if now else NO_ORBIT if not snapshot.light else "light unknown"
    )
    parts += [note.rstrip(".") for note in (*snapshot.outlook_notes, *snapshot.outlook_facts)]
    return ". ".join(parts) + "."
