"""A rehearsal's score as tables of words: what the score page and a terminal show."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from console.approach.words import plain
from console.core.utc import format_utc
from console.present import text
from console.present.rehearse_mask import hidden_words
from console.present.tone import Tone
from console.rehearsal.calls import MARK, STOP
from console.rehearsal.compare import Standing, by_exercise, by_trainee
from console.rehearsal.detection import Detection
from console.rehearsal.matching import CallOutcome, EventOutcome
from console.rehearsal.score import (
    CallScore,
    Delays,
    EventScore,
    MarkScore,
    RehearsalScore,
    StopVerdict,
)

EVENT_HEADS = ("UTC", "what happened", "outcome", "delay, s", "true range at call, m")
RUN_HEADS = (
    "begun, UTC", "trainee", "exercise", "hit", "missed", "false", "d′", "c", "delay, s",
    "mark off, m", "stop",
)  # fmt: skip
STANDING_HEADS = (
    "", "runs", "hit", "missed", "false", "mean d′", "delay, s", "mark off, m", "stops",
)  # fmt: skip
HIT, MISS, FALSE, LATE, AGAIN = "✓ hit", "✗ missed", "▲ false alarm", "◦ late", "◦ again"
BAD = frozenset({MISS, FALSE})


@dataclass(frozen=True, slots=True)
class ScoreRow:
    """One line of a table; the cell ``bad`` says what went wrong, and has the caution's voice."""

    cells: tuple[str, ...]
    bad: str = ""

    def tone(self, column: int) -> Tone:
        """How a cell is drawn."""
        return Tone.CAUTION if self.bad and self.cells[column] == self.bad else Tone.PLAIN


@dataclass(frozen=True, slots=True)
class ScoreView:
    """The whole page: headline lines, and three tables."""

    title: str
    facts: tuple[str, ...]
    figures: tuple[tuple[str, str], ...]
    """Name and value of each figure."""
    log: tuple[ScoreRow, ...]
    """Events and calls in one order of time; columns as ``EVENT_HEADS``."""


def score_view(score: RehearsalScore) -> ScoreView:
    """Give the page of a score."""
    return ScoreView(
        title=f"{score.trainee or '--'}: {score.title}",
        facts=_facts(score),
        figures=_figures(score),
        log=_log(score),
    )


def score_lines(score: RehearsalScore) -> list[str]:
    """Give a score as plain lines, for a terminal."""
    view = score_view(score)
    lines = [f"Rehearsal {view.title}", *(f"  {fact}" for fact in view.facts)]
    lines += [f"  {name}: {value}" for name, value in view.figures]
    lines += ["  " + "  ".join(cell for cell in row.cells if cell) for row in view.log]
    return lines


def compare_lines(scores: Sequence[RehearsalScore]) -> list[str]:
    """Give several runs compared, by trainee and by exercise, as plain lines."""
    lines = []
    for name, standings in (
        ("Trainees", by_trainee(scores)), ("Exercises", by_exercise(scores)),
    ):  # fmt: skip
        lines.append(f"{name}: " + ", ".join(head for head in STANDING_HEADS if head))
        lines += ["  " + "  ".join(row.cells) for row in standing_rows(standings)]
    return lines


def run_rows(scores: Sequence[RehearsalScore], mark: str = "") -> tuple[ScoreRow, ...]:
    """Give a line a run, columns as ``RUN_HEADS``; the recording named ``mark`` has an arrow."""
    return tuple(_run(score, "▸ " if score.recording == mark else "") for score in scores)


def standing_rows(standings: Sequence[Standing]) -> tuple[ScoreRow, ...]:
    """Give a line a trainee or exercise, columns as ``STANDING_HEADS``."""
    return tuple(
        ScoreRow(
            (
                one.who or "--", str(one.runs), str(one.hits), str(one.misses),
                str(one.false_alarms), text.number(one.mean_d_prime, 2),
                text.number(one.median_delay_s, 1), text.number(one.mean_mark_error_m, 2),
                f"{one.stops_in_time} of {one.stops_due}",
            )
        )
        for one in standings
    )  # fmt: skip


# ---------------------------------------------------------------------- the page's parts


def _facts(score: RehearsalScore) -> tuple[str, ...]:
    hidden = hidden_words(frozenset(score.hidden)) or "nothing"
    speed = "" if score.speed == 1.0 else f", at {score.speed:g}×"
    flown = f"{score.origin.value} {score.name}, seed {score.seed}{speed}"
    return (
        f"{flown}; exercise {score.exercise_sha256[:12]}",
        f"limits {score.limits_title} r{score.limits_revision}, {score.limits_sha256[:12]}",
        f"hidden: {hidden}",
        "faults: " + ("; ".join(_fault_words(score)) or "none"),
    )


def _fault_words(score: RehearsalScore) -> list[str]:
    return [f"{fault.words} from {text.clock(fault.t_start)}" for fault in score.faults]


def _figures(score: RehearsalScore) -> tuple[tuple[str, str], ...]:
    trials, rules = score.trials, score.rules
    called = f"{trials.hits} of {trials.signal} with an exceedance, "
    called += f"{trials.false_alarms} of {trials.noise} without"
    return (
        ("Called", f"{score.hits} of {score.hits + score.misses} events"),
        ("False alarms", str(score.false_alarms)),
        ("Sensitivity d′", _with_interval(score.detection, is_d=True)),
        ("Criterion c", _with_interval(score.detection, is_d=False)),
        ("Trials called", f"{called}; {rules.trial_s:g} s each"),
        ("Exceedances seen after", _delay_words(score.exceedance_delays)),
        ("Marks and milestones after", _delay_words(score.milestone_delays)),
        ("Marks called at", _mark_words(score)),
        ("Stop", _stop_words(score)),
    )


def _with_interval(found: Detection | None, *, is_d: bool) -> str:
    if found is None:
        return "not known: no signal trial or no noise trial"
    value = found.d_prime if is_d else found.criterion
    low, high = found.d_interval if is_d else found.c_interval
    number = text.number(value, 2)
    return f"{number} ({text.number(low, 2)} to {text.number(high, 2)}, 95 %)"


def _delay_words(delays: Delays) -> str:
    missed = f", {delays.missed} missed" if delays.missed else ""
    if delays.median_s is None:
        return f"none answered{missed}"
    return (
        f"{text.number(delays.median_s, 1)} s median, {text.number(delays.p90_s, 1)} s 90th "
        f"percentile of {delays.count}{missed}"
    )


def _mark_words(score: RehearsalScore) -> str:
    mean = score.mean_mark_error_m
    if mean is None:
        return "none called"
    worst = max((m for m in score.marks if m.error_m is not None), key=_error_size)
    return (
        f"{text.number(mean, 2)} m off on average; {plain(worst.range_m)} m was called at "
        f"{text.number(worst.true_range_m, 2)} m"
    )


def _error_size(mark: MarkScore) -> float:
    return abs(mark.error_m or 0.0)


def _stop_words(score: RehearsalScore) -> str:
    stop = score.stop
    if stop.spare_s is None or stop.verdict is StopVerdict.UNPROMPTED:
        return stop.verdict.value
    due_t, called_t = stop.due_t, stop.called_t
    if stop.verdict is StopVerdict.TOO_EARLY and due_t is not None and called_t is not None:
        early_s = text.number(due_t - called_t, 1)
        return f"{stop.call} {stop.verdict.value}, {early_s} s early"
    side = "to spare" if stop.spare_s >= 0.0 else "too late"
    return f"{stop.call} {stop.verdict.value}, {text.number(abs(stop.spare_s), 1)} s {side}"


def _log(score: RehearsalScore) -> tuple[ScoreRow, ...]:
    at_m = {(call.t, call.call): call.true_range_m for call in score.calls}
    rows = [(one.event.t, _event_row(one, at_m)) for one in score.events]
    rows += [
        (call.t, _call_row(call)) for call in score.calls if call.outcome is not CallOutcome.HIT
    ]
    return tuple(row for _, row in sorted(rows, key=lambda pair: pair[0]))


def _event_row(one: EventScore, at_m: dict[tuple[float, str], float | None]) -> ScoreRow:
    event = one.event
    outcome = HIT if one.outcome is EventOutcome.HIT else MISS
    ranges = [m for (t, _), m in at_m.items() if t == one.called_t and m is not None]
    words = event.words
    if event.level:
        words = f"stop due: {words}" if event.subject == STOP else f"{event.level}: {words}"
    if event.was_true is False:
        words += " (not so in truth)"
    shown = text.number(ranges[0], 2) if ranges and _is_at_range(event.subject) else ""
    delay = "" if one.delay_s is None else text.signed(one.delay_s, 1)
    return ScoreRow(
        (text.clock(event.t), words, outcome, delay, shown), outcome if outcome in BAD else ""
    )


def _is_at_range(subject: str) -> bool:
    return subject.startswith(MARK) or subject in (STOP, "hands_off")


def _call_row(call: CallScore) -> ScoreRow:
    outcome = {
        CallOutcome.FALSE_ALARM: FALSE, CallOutcome.LATE: LATE, CallOutcome.REPEAT: AGAIN,
    }[call.outcome]  # fmt: skip
    at = text.number(call.true_range_m, 2) if call.true_range_m is not None else ""
    return ScoreRow(
        (text.clock(call.t), f"called: {call.words}", outcome, "", at),
        outcome if outcome in BAD else "",
    )


def _run(score: RehearsalScore, arrow: str) -> ScoreRow:
    found = score.detection
    return ScoreRow(
        (
            arrow + format_utc(score.started_s, 0), score.trainee or "--", score.title,
            str(score.hits), str(score.misses), str(score.false_alarms),
            text.number(None if found is None else found.d_prime, 2),
            text.number(None if found is None else found.criterion, 2),
            text.number(score.exceedance_delays.median_s, 1),
            text.number(score.mean_mark_error_m, 2), score.stop.verdict.value,
        )
    )  # fmt: skip
