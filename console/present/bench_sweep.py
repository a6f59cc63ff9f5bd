"""A limit swept: nuisance against miss as a curve with its bounds, and the delay at each point."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from console.approach.words import DECIMALS
from console.bench.compare import Share
from console.bench.sweep import Knob, SweepPoint, neutral_value
from console.envelope.limits import Limit
from console.envelope.quantity import UNIT
from console.present.bench_summary import share_words
from console.present.plot_axis import Scale, nice_above
from console.present.plot_clear import along, clear_of
from console.present.plot_label import Wish, elided, longest_that_fits, place
from console.present.plot_legend import Entry, head
from console.present.plot_scene import (
    Box,
    Ink,
    Label,
    Line,
    Marker,
    Meter,
    Scene,
    Shape,
    Stroke,
    level_line,
    series,
    upright,
)
from console.present.text import UNKNOWN, number, signed

STEPS = 21
WORDS: dict[Knob, str] = {
    Knob.SCALE: "scale",
    Knob.OFFSET: "offset",
    Knob.ON_DELAY: "on-delay",
    Knob.DEADBAND: "dead band",
}
WAITING = "The sweep is being judged."
UNMARKED = "Mark passes good and bad with M: nuisance is held against misses."
UNMARKED_SHORT = "Mark passes good and bad with M."
AXES_WORDS = (
    "nuisance, % of good passes; upward missed, % of bad and faulty",
    "nuisance, % of good; upward missed, % of bad",
    "nuisance %; upward missed %",
)
WIDEST_FIGURES = (
    "−0.0000 m/s · 100.0 s · 100.0 % (00.0–100.0) nuisance · 100.0 % (00.0–100.0) missed"
)


@dataclass(frozen=True, slots=True)
class SweepView:
    """What the plot shows.

    Attributes
    ----------
    limit : Limit
        As drafted: the sweep goes out from it.
    points : tuple of SweepPoint
        In order of the knob; empty while the sweep runs.
    chosen : int
        Number of the point whose figures are told.
    """

    limit: Limit
    knob: Knob
    points: tuple[SweepPoint, ...] = ()
    chosen: int = 0

    @property
    def is_marked(self) -> bool:
        """Whether enough passes are marked for the curve to say anything."""
        return bool(self.points) and bool(self.points[0].nuisance.of or self.points[0].missed.of)


def knob_values(limit: Limit, knob: Knob) -> tuple[float, ...]:
    """Give the values a knob is swept through; the draft's own is one of them."""
    neutral = neutral_value(limit, knob)
    if knob is Knob.SCALE:
        return tuple(round(0.8 + 0.02 * n, 4) for n in range(STEPS))
    if knob is Knob.OFFSET:
        step = 0.02 * max(abs(value) for value in limit.curve.values[:2]) or 0.01
        return tuple(step * (n - STEPS // 2) for n in range(STEPS))
    step = 0.25 if knob is Knob.ON_DELAY else 10.0 ** -DECIMALS[limit.quantity]
    below = [neutral - step * n for n in range(STEPS // 2, 0, -1)]
    kept = [value for value in below if value >= 0.0]
    return (*kept, *(neutral + step * n for n in range(STEPS - len(kept))))


def neutral_at(view: SweepView) -> int:
    """Give the number of the point that is the draft itself."""
    neutral = neutral_value(view.limit, view.knob)
    gaps = [abs(point.value - neutral) for point in view.points]
    return gaps.index(min(gaps)) if gaps else 0


def value_words(view: SweepView, value: float) -> str:
    """Write a knob's value."""
    if view.knob is Knob.SCALE:
        return f"×{number(value, 2)}"
    if view.knob is Knob.ON_DELAY:
        return f"{number(value, 2)} s"
    text = number if view.knob is Knob.DEADBAND else signed
    decimals = DECIMALS[view.limit.quantity] + 1
    return f"{text(value, decimals)} {UNIT[view.limit.quantity]}"


def point_words(view: SweepView) -> str:
    """Say the chosen point in words."""
    if not view.points:
        return WAITING
    if not view.is_marked:
        return UNMARKED
    point = view.points[min(view.chosen, len(view.points) - 1)]
    delay = UNKNOWN if point.delay_s is None else f"{number(point.delay_s, 1)} s"
    beaten = "" if point.is_unbeaten else ", beaten by another"
    return (
        f"{WORDS[view.knob]} {value_words(view, point.value)}: nuisance "
        f"{share_words(point.nuisance)}, missed {share_words(point.missed)}, delay {delay}{beaten}"
    )


def figures(view: SweepView) -> tuple[str, str]:
    """Write the chosen point's figures short enough for the plot's head, in two halves."""
    point = view.points[min(view.chosen, len(view.points) - 1)]
    delay = "" if point.delay_s is None else f" · {number(point.delay_s, 1)} s"
    first = f"{value_words(view, point.value)}{delay} · {_short(point.nuisance)} nuisance"
    return first, f"{_short(point.missed)} missed"


def _head_rows(view: SweepView | None, width: float, meter: Meter) -> list[str]:
    """Give the lines of the head: as many for every point, or the plot would jump."""
    if view is None or not view.is_marked:
        words = WAITING if view is None else point_words(view)
        if words == UNMARKED:
            return [longest_that_fits((UNMARKED, UNMARKED_SHORT), width, meter)]
        return [elided(words, width, meter)]
    first, second = figures(view)
    if meter.width(WIDEST_FIGURES) <= width:
        return [f"{first} · {second}"]
    return [elided(first, width, meter), elided(second, width, meter)]


def sweep_scene(width: float, height: float, meter: Meter, view: SweepView | None) -> Scene:
    """Lay the curve out."""
    scene, line, pad = Scene(), meter.height, 0.5 * meter.height
    row = Box(pad, pad, width - 2.0 * pad, line)
    knob = Knob.SCALE if view is None else view.knob
    titles = (f"This limit alone, {WORDS[knob]} swept (W another)", f"{WORDS[knob]} swept")
    entries = [
        Entry(Shape.DISC, "unbeaten", Ink.TRACE_A),
        Entry(Stroke.DOTTED, "95 %", Ink.QUIET),
    ]
    scene.add(*head(titles, entries, row, meter).marks)
    for down, said in enumerate(_head_rows(view, row.width, meter), start=1):
        top = pad + (0.2 + down) * line
        scene.add(Label(said, Box(pad, top, meter.width(said), line), Ink.TEXT))
    if view is None or not view.is_marked:
        return scene
    plot, across, up = _frame(width, height, meter, view)
    _axes(scene, plot, across, up, meter)
    _course(scene, across, up, view, meter)
    _names(scene, plot, across, up, view, meter)
    return scene


def place_of(across: Scale, up: Scale, point: SweepPoint) -> tuple[float, float]:
    """Give where a point stands; a share of no pass counts as none."""
    return across.px(_percent(point.nuisance)), up.px(_percent(point.missed))


def _frame(width: float, height: float, meter: Meter, view: SweepView) -> tuple[Box, Scale, Scale]:
    line, pad = meter.height, 0.5 * meter.height
    most = max(_percent(point.nuisance) for point in view.points)
    worst = max(_percent(point.missed) for point in view.points)
    right = min(nice_above(max(1.15 * most, 2.0)), 100.0)
    top = min(nice_above(max(1.15 * worst, 2.0)), 100.0)
    left = pad + meter.width("100") + 1.2 * line
    rows = len(_head_rows(view, width - 2.0 * pad, meter))
    begin, end = pad + (1.7 + rows) * line, height - pad - 2.6 * line
    plot = Box(left, begin, max(width - pad - line - left, 10.0), max(end - begin, 10.0))
    across = Scale(0.0, right, plot.left, plot.right)
    return plot, across, Scale(0.0, top, plot.bottom, plot.top)


def _course(scene: Scene, across: Scale, up: Scale, view: SweepView, meter: Meter) -> None:
    places = [place_of(across, up, point) for point in view.points]
    x, y = series([p[0] for p in places]), series([p[1] for p in places])
    scene.add(Line(x, y, Ink.TRACE_A, 1.0))
    for at, point in enumerate(view.points):
        px, py = places[at]
        if point.is_unbeaten and at == view.chosen:
            _bounds(scene, across, up, point, px, py)
        size = (8.0 if point.is_unbeaten else 5.0) * meter.unit
        ink = Ink.TRACE_A if point.is_unbeaten else Ink.QUIET
        scene.add(Marker(px, py, Shape.DISC, size, ink, hollow=not point.is_unbeaten))
    draft = places[neutral_at(view)]
    scene.add(Marker(*draft, Shape.DISC, 12.0 * meter.unit, Ink.TEXT, hollow=True))
    chosen = places[min(view.chosen, len(places) - 1)]
    scene.add(Marker(*chosen, Shape.DIAMOND, 9.0 * meter.unit, Ink.TEXT))


def _bounds(
    scene: Scene, across: Scale, up: Scale, point: SweepPoint, px: float, py: float
) -> None:
    """Draw the chosen point's Wilson bounds as a cross, as far as the axes go."""
    if point.nuisance.of:
        low, high = (across.px(min(100.0 * b, across.high)) for b in point.nuisance.bounds)
        scene.add(level_line(py, low, high, Ink.QUIET, stroke=Stroke.DOTTED))
    if point.missed.of:
        low, high = (up.px(min(100.0 * b, up.high)) for b in point.missed.bounds)
        scene.add(upright(px, high, low, Ink.QUIET, stroke=Stroke.DOTTED))


def _names(
    scene: Scene, plot: Box, across: Scale, up: Scale, view: SweepView, meter: Meter
) -> None:
    """Name the draft, and of the unbeaten points the value and the delay, as many as have room.

    No name lies on the curve; the draft's only where it finds no other place.
    """
    wishes, texts = [], {}
    drawn = along([place_of(across, up, point) for point in view.points])
    order = [neutral_at(view), *(n for n, p in enumerate(view.points) if p.is_unbeaten)]
    for rank, at in enumerate(dict.fromkeys(order)):
        point = view.points[at]
        delay = "" if point.delay_s is None else f"  {number(point.delay_s, 1)} s"
        text = "draft" if rank == 0 else f"{value_words(view, point.value)}{delay}"
        px, py = place_of(across, up, point)
        width, line, gap = meter.width(text), meter.height, 0.6 * meter.height
        slots = tuple(
            Box(left, top, width, line)
            for left in (px + gap, px - gap - width)
            for top in (py - gap - line, py + gap * 0.5, py - 1.6 * gap - line, py + gap)
        )
        clear = clear_of(slots, (), drawn, 1.0)
        wishes.append(Wish(str(at), (*clear, *slots) if rank == 0 else clear))
        texts[str(at)] = (text, rank == 0)
    for key, found in place(wishes, plot, gap=6.0, gap_down=2.0).items():
        text, is_draft = texts[key]
        scene.add(Label(text, found.box, Ink.TEXT if is_draft else Ink.QUIET))


def _axes(scene: Scene, plot: Box, across: Scale, up: Scale, meter: Meter) -> None:
    line = meter.height
    scene.add(level_line(plot.bottom, plot.left, plot.right, Ink.EDGE))
    scene.add(upright(plot.left, plot.top, plot.bottom, Ink.EDGE))
    for tick in up.ticks(2.4 * line):
        width = meter.width(tick.text)
        box = Box(plot.left - 8.0 - width, tick.px - line / 2.0, width, line)
        scene.add(Label(tick.text, box))
    for tick in across.ticks(4.0 * line):
        width = meter.width(tick.text)
        scene.add(upright(tick.px, plot.bottom, plot.bottom + 4.0, Ink.EDGE))
        box = Box(tick.px - width / 2.0, plot.bottom + 0.55 * line, width, line)
        scene.add(Label(tick.text, box))
    words = longest_that_fits(AXES_WORDS, plot.width + 2.0 * line, meter)
    width = meter.width(words)
    left = max(plot.left + (plot.width - width) / 2.0, 0.5 * line)
    scene.add(Label(words, Box(left, plot.bottom + 1.5 * line, width, line)))


def nearest(
    width: float, height: float, meter: Meter, view: SweepView, place_px: Sequence[float]
) -> int | None:
    """Give the point nearest to a pixel, None where nothing is drawn."""
    if not view.is_marked:
        return None
    _, across, up = _frame(width, height, meter, view)
    x, y = place_px
    places = [place_of(across, up, point) for point in view.points]
    gaps = [(px - x) ** 2 + (py - y) ** 2 for px, py in places]
    return gaps.index(min(gaps))


def _short(share: Share) -> str:
    if not share.of:
        return UNKNOWN
    low, high = (100.0 * bound for bound in share.bounds)
    return f"{_percent(share):.1f} % ({low:.1f}–{high:.1f})"


def _percent(share: Share) -> float:
    return 100.0 * (share.share or 0.0)
