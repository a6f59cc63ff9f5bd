"""Random inputs of a live watch, from a seed: frames of two sources, faults, actions, silence."""

from __future__ import annotations

import random
from typing import NamedTuple

from approach_tools import OPTICAL, RADIO, T0, sample, status

from console.approach.action import (
    AcknowledgeAll,
    AnyAction,
    ChooseSource,
    Note,
    ReleaseHold,
    Say,
)
from console.approach.engine_time import EngineTime
from console.approach.event import AnyEvent
from console.approach.intake import Intake
from console.core.records import Frame, Heartbeat, Record
from console.wire.encode import encode


class Step(NamedTuple):
    """One input: a frame, an action, or time alone."""

    at_s: float
    frame: Frame | None = None
    action: AnyAction | None = None


def random_steps(seed: int, count: int = 400) -> list[Step]:
    """Draw an approach that is never quiet: noise, loss, lateness, rejects, gaps, actions."""
    rng = random.Random(seed)
    steps: list[Step] = []
    now, range_m, rate, seq = T0, rng.choice([2.0, 5.0, 12.0, 40.0]), -rng.choice([0.09, 0.5]), 0
    while len(steps) < count:
        now += rng.choice([0.02, 0.05, 0.1, 0.1, 0.13])
        if rng.random() < 0.01:
            now += rng.choice([0.9, 1.5, 6.0, 14.0, 60.0])
        seq += 1
        range_m += rate * 0.1
        if rng.random() < 0.01:
            rate = rng.choice([0.0, -0.09, -0.3, 0.2, 0.7])
        kind = rng.random()
        if kind < 0.72:
            steps.append(Step(now, _frame(now, _sample(rng, now, range_m, rate, seq))))
        elif kind < 0.80:
            steps.append(Step(now, Frame(now, b"rel/optical", rng.randbytes(30))))
        elif kind < 0.84:
            beat = Heartbeat(rng.choice([OPTICAL, RADIO]), now, seq + rng.randint(-3, 3))
            steps.append(Step(now, _frame(now, beat)))
        elif kind < 0.90:
            steps.append(Step(now, action=_action(rng)))
        elif kind < 0.97:
            steps.append(Step(now))
        else:
            steps.append(Step(now, _frame(now, _status(rng, now, seq, range_m))))
    return steps


def _frame(now: float, record: Record) -> Frame:
    return Frame(now, *encode(record))


def _sample(rng: random.Random, now: float, range_m: float, rate: float, seq: int) -> Record:
    past_s = now - T0 - rng.choice([0.01, 0.05, 0.05, 0.05, 0.3])
    changes: dict[str, object] = {
        "source": rng.choice([OPTICAL, OPTICAL, RADIO]),
        "range_rate_mps": rate + rng.gauss(0, 0.02),
        "y_m": rng.gauss(0, 0.05), "z_m": rng.gauss(0, 0.05), "roll_deg": rng.gauss(0, 1.0),
        "valid": rng.random() > 0.05,
    }  # fmt: skip
    if rng.random() < 0.3:
        changes |= {"y_rate_mps": None, "roll_rate_dps": None}
    if rng.random() < 0.01:
        seq = rng.randint(0, 5)
    glitch = rng.choice([0.0] * 30 + [-3.0, 5.0])
    return sample(max(past_s, 0.0), range_m + rng.gauss(0, 0.02) + glitch, seq, **changes)


def _status(rng: random.Random, now: float, seq: int, range_m: float) -> Record:
    touched = range_m < 0.0
    return status(
        now - T0, seq, contact=touched, soft_capture=touched and rng.random() < 0.5,
        ring_extension=rng.choice([None, 1.0, 0.5]), rel_rate_mps=rng.choice([None, 0.01]),
        hooks=rng.choice([None, (0.0,) * 12, (0.5,) * 12]) if touched else None,
    )  # fmt: skip


def _action(rng: random.Random) -> AnyAction:
    return rng.choice(
        [
            AcknowledgeAll("AB"), Note("AB", "said so"), ChooseSource("AB", "radio"),
            ChooseSource("AB", None), Say("AB", "hold"), Say("AB", "mark:10"), ReleaseHold("AB"),
        ]
    )  # fmt: skip


def play(intake: Intake, step: Step) -> list[AnyEvent]:
    """Feed one input."""
    if step.frame is not None:
        return intake.frame(step.frame)
    if step.action is not None:
        at_s = step.at_s if intake.mode is EngineTime.RECEIVE else intake.now
        return intake.action(at_s, step.action)
    return intake.advance(step.at_s) if intake.mode is EngineTime.RECEIVE else []
