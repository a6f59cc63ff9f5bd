"""One run of a campaign: drawn, flown, watched by the engine, and summed up in one row."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from typing import Any, Final, TypeAlias

import numpy as np

from console.approach.engine_time import EngineTime
from console.approach.intake import Intake
from console.approach.state import StateModel
from console.bench.campaign_order import Prepared
from console.bench.outcome import CONTACT_FIELD
from console.bench.ready_pass import Tap
from console.bench.stop_range import last_stop
from console.core.records import RelativeSample
from console.envelope.limits import Level, LimitsFile
from console.envelope.quantity import Quantity
from console.judging.columns import PassColumns
from console.judging.exceedance import Exceedance
from console.judging.stack import PassStack
from console.judging.whole_pass import LimitJudge
from console.simulation.simulate import simulate
from console.simulation.spread import Drawn, draw_run
from console.simulation.truth import ContactTruth, Truth

Row: TypeAlias = dict[str, Any]
KEPT: Final = 100_000
RAISED, MARGIN, OUTSIDE = "raised:", "margin:", "outside:"
"""Prefixes of the columns that every limit and every contact limit has."""


def drawn_of(prepared: Prepared, run: int) -> Drawn:
    """Draw one run of an order."""
    order = prepared.order
    return draw_run(
        prepared.dispersion, prepared.scenario, prepared.limits.hands_off, order.seed, run
    )


def fly_run(prepared: Prepared, run: int) -> Row:
    """Fly and watch one run with the engine itself, sample by sample.

    The samples are taken in order of time, as of a table; contact is told by range alone.
    """
    drawn = drawn_of(prepared, run)
    flown = simulate(drawn.scenario, prepared.limits, prepared.setup, drawn.seed)
    samples = sorted(
        (m.record for m in flown.messages if isinstance(m.record, RelativeSample)),
        key=lambda sample: (sample.t, sample.source, sample.seq),
    )
    exceedances, columns = watched(samples, prepared)
    return row_of(prepared.limits, run, drawn, flown.truth, exceedances, columns)


def watched(
    samples: Iterable[RelativeSample], prepared: Prepared
) -> tuple[list[Exceedance], PassColumns]:
    """Put samples through the state model; give the limits' exceedances and what was judged."""
    limits = prepared.limits
    model = StateModel(limits, prepared.setup, ordered=True, kept=KEPT)
    tap = Tap(model)
    model.desk = tap
    intake = Intake(model, EngineTime.NEWEST)
    for sample in samples:
        intake.record(sample)
    mine = [one for one in model.register if ":" not in one.id]  # no limit's id holds one
    mine.sort(key=lambda one: (one.onset, one.id))
    restarts = [number for number in tap.restarts if number < len(tap.readings)]
    return mine, PassColumns.of(tap.readings, restarts)


def row_of(
    limits: LimitsFile,
    run: int,
    drawn: Drawn,
    truth: Truth,
    exceedances: list[Exceedance],
    columns: PassColumns,
) -> Row:
    """Sum a run up, what was true and what was judged.

    Returns
    -------
    dict
        Keys as :func:`console.bench.campaign_table.schema` has them; times before contact in
        seconds, NaN where there is none.
    """
    row = true_row(limits, run, drawn, truth)
    return row | judged_row(limits, truth.t_contact, exceedances, columns)


def true_row(limits: LimitsFile, run: int, drawn: Drawn, truth: Truth) -> Row:
    """Sum up what was true of a run."""
    scenario = drawn.scenario
    end = truth.t_contact if truth.t_contact is not None else float(truth.t[-1])
    stop = last_stop(truth, drawn.stopping, scenario.sensors[0].delay_s)
    hands_off_t = truth.time_at_range(limits.hands_off.range_m)
    row: Row = {
        "run": run,
        "seed": drawn.seed,
        "faults": ",".join(sorted({fault.kind.value for fault in scenario.faults})),
        "duration_s": end - float(truth.t[0]),
        "captured": truth.captured,
        "hands_off_s": _before(truth.t_contact, hands_off_t),
        "hands_off_closing_mps": _closing_at(truth, hands_off_t),
        "stop_range_m": stop.range_m,
        "stop_call_s": stop.before_contact_s,
    }
    return row | _contact(limits, truth.contact)


def judged_row(
    limits: LimitsFile,
    t_contact: float | None,
    exceedances: list[Exceedance],
    columns: PassColumns,
) -> Row:
    """Sum up what was judged of a run."""
    row: Row = {
        "first_caution_s": _first(t_contact, exceedances, Level.CAUTION),
        "first_warning_s": _first(t_contact, exceedances, Level.WARNING),
    }
    stack = PassStack.of([columns])
    for limit in limits.limits:
        margins, _ = LimitJudge(limit, limits.data.stale_after_s).least_margins(stack)
        row[RAISED + limit.id] = sum(one.id == limit.id for one in exceedances)
        row[MARGIN + limit.id] = float(margins[0])
    return row


def _contact(limits: LimitsFile, contact: ContactTruth | None) -> Row:
    values: Mapping[Quantity, float] = {} if contact is None else contact.values
    row: Row = {"contact": contact is not None}
    for quantity, field in CONTACT_FIELD.items():
        row[f"contact_{field}"] = values.get(quantity, math.nan)
    outside = {
        one.quantity: contact is not None and not one.holds(values[one.quantity])
        for one in limits.contact_limits
    }
    row["within_limits"] = contact is not None and not any(outside.values())
    return row | {OUTSIDE + quantity.value: broken for quantity, broken in outside.items()}


def _before(t_contact: float | None, t: float | None) -> float:
    return math.nan if t is None or t_contact is None else t_contact - t


def _closing_at(truth: Truth, t: float | None) -> float:
    return math.nan if t is None else -float(np.interp(t, truth.t, truth.range_rate_mps))


def _first(t_contact: float | None, exceedances: list[Exceedance], level: Level) -> float:
    """Give how long before contact the first exceedance of a level was raised."""
    raised = [one.raised for one in exceedances if one.level is level]
    return _before(t_contact, min(raised)) if raised else math.nan
