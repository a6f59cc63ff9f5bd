"""The docking mechanism after contact: capture status up to hard capture, then the vestibule.

The order of things (contact, soft capture, attenuation, alignment, retraction, hooks, seal) is
that of Syromiatnikov, *Spacecraft Docking Devices* (1990), pp. 31 and 98; the times are invented.

Statuses come twice a second, and ten times a second from soft capture until the motion counts as
damped: a decay is only known as well as it was sampled, and what is fast is over within a minute.
Whatever changes is told at once. After hard capture one a second tells of the vestibule.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from console.core.ids import SourceId
from console.core.records import CaptureStatus
from console.core.units import KELVIN_AT_0_DEGC, PA_PER_KPA, S_PER_H
from console.simulation.scenario import Capture
from console.simulation.touch import REBOUND_S, Damped

Array = NDArray[np.float64]

MECHANISM = SourceId("mechanism")
HOOKS = 12
GANGS = 2
READY_SENSORS = 3
STATUS_STEP_S = 0.5
DAMPING_STEP_S = 0.1
VESTIBULE_STEP_S = 1.0
MISSED_CONTACT_S = 0.6
REL_RATE_NOISE_MPS = 2e-4
REL_RATE_NOISE_DPS = 2e-3
EMPTY_KPA = 0.02


@dataclass(frozen=True, slots=True)
class Timeline:
    """Seconds from contact at which each step happens."""

    soft_capture_s: float
    damped_s: float
    retraction_s: float
    retracted_s: float
    ready_s: tuple[float, ...]
    hook_start_s: tuple[float, ...]
    hook_end_s: tuple[float, ...]
    hard_capture_s: float

    @classmethod
    def of(cls, capture: Capture, rng: np.random.Generator) -> Timeline:
        """Lay out the steps; ready flags and hooks each draw their own times."""
        damped = capture.soft_capture_s + capture.damping_s
        aligned = damped + capture.alignment_s
        retracted = aligned + capture.retraction_s
        driven = retracted + capture.settling_s
        ready = retracted + 0.1 + rng.uniform(0.0, 0.4, READY_SENSORS) * capture.settling_s
        gang = np.arange(HOOKS) % GANGS
        start = driven + gang * capture.gang_s + rng.uniform(0.0, 0.03, HOOKS) * capture.gang_s
        end = driven + gang * capture.gang_s + rng.uniform(0.82, 0.97, HOOKS) * capture.gang_s
        return cls(
            capture.soft_capture_s,
            damped,
            aligned,
            retracted,
            tuple(ready.tolist()),
            tuple(start.tolist()),
            tuple(end.tolist()),
            float(end.max()) + capture.seal_s,
        )

    def regular(self) -> list[float]:
        """Give the times at which a status is sent whether or not anything changed."""
        slow = np.arange(0.0, self.hard_capture_s, STATUS_STEP_S)
        fast = np.arange(self.soft_capture_s, self.damped_s, DAMPING_STEP_S)
        between = slow[(slow <= self.soft_capture_s) | (slow >= self.damped_s)]
        return [*between.tolist(), *fast.tolist()]

    def changes(self) -> list[float]:
        """Give the times at which a status is sent because something changed."""
        return [
            0.0,
            self.soft_capture_s,
            *self.ready_s,
            *self.hook_end_s,
            self.hard_capture_s,
        ]


def statuses(
    t_contact: float, motion: Damped, capture: Capture, seed: np.random.SeedSequence
) -> tuple[CaptureStatus, ...]:
    """Give the capture statuses of a contact that holds, in order of time.

    Parameters
    ----------
    t_contact : float
        UTC seconds.
    motion : Damped
        Relative motion after contact, six axes.
    capture : Capture
        How long each step takes.
    seed : numpy.random.SeedSequence
        The mechanism's own.
    """
    rngs = [np.random.default_rng(child) for child in seed.spawn(3)]
    timeline = Timeline.of(capture, rngs[0])
    since = sorted({round(s, 6) for s in [*timeline.regular(), *timeline.changes()]})
    _, rate = motion.at(np.asarray(since))
    noise = rngs[1].standard_normal((len(since), 2))
    rel_mps = np.abs(
        np.linalg.norm(rate[:, :3], axis=1) + REL_RATE_NOISE_MPS * noise[:, 0]
    ).tolist()
    rel_dps = np.abs(
        np.linalg.norm(rate[:, 3:], axis=1) + REL_RATE_NOISE_DPS * noise[:, 1]
    ).tolist()
    out = [
        _mechanical(i, t_contact, s, timeline, round(rel_mps[i], 5), round(rel_dps[i], 4))
        for i, s in enumerate(since)
    ]
    out += _vestibule(len(out), t_contact + timeline.hard_capture_s, capture, rngs[2])
    return tuple(out)


def missed_statuses(t_contact: float) -> tuple[CaptureStatus, ...]:
    """Give the statuses of a touch that does not hold: contact for a moment, no capture."""
    count = int(REBOUND_S / STATUS_STEP_S)
    return tuple(
        CaptureStatus(
            source=MECHANISM,
            seq=i,
            t=round(t_contact + i * STATUS_STEP_S, 6),
            contact=i * STATUS_STEP_S < MISSED_CONTACT_S,
            soft_capture=False,
            ring_extension=1.0,
            ready_to_hook=(False,) * READY_SENSORS,
            hooks=(0.0,) * HOOKS,
            hard_capture=False,
        )
        for i in range(count)
    )


def _mechanical(
    seq: int, t_contact: float, s: float, line: Timeline, rel_mps: float, rel_dps: float
) -> CaptureStatus:
    return CaptureStatus(
        source=MECHANISM,
        seq=seq,
        t=round(t_contact + s, 6),
        contact=True,
        soft_capture=_reached(s, line.soft_capture_s),
        ring_extension=ring_extension(s, line),
        ready_to_hook=tuple(_reached(s, ready) for ready in line.ready_s),
        hooks=hook_positions(s, line),
        hard_capture=_reached(s, line.hard_capture_s),
        rel_rate_mps=rel_mps,
        rel_rate_dps=rel_dps,
    )


def _reached(s: float, at_s: float) -> bool:
    return s >= at_s - 1e-6


def ring_extension(s: float, line: Timeline) -> float:
    """Give the ring's extension, 1 to 0: slow at both ends of its travel."""
    share = (s - line.retraction_s) / (line.retracted_s - line.retraction_s)
    share = min(max(share, 0.0), 1.0)
    return round(0.5 * (1.0 + math.cos(math.pi * share)), 4)


def hook_positions(s: float, line: Timeline) -> tuple[float, ...]:
    """Give how far each hook is driven, 0 open to 1 closed."""
    return tuple(
        round(min(max((s - start) / (end - start), 0.0), 1.0), 4) if s < end - 1e-6 else 1.0
        for start, end in zip(line.hook_start_s, line.hook_end_s, strict=True)
    )


def _vestibule(
    first_seq: int, t_hard_capture: float, capture: Capture, rng: np.random.Generator
) -> list[CaptureStatus]:
    since = np.arange(VESTIBULE_STEP_S, capture.vestibule_s + 1e-9, VESTIBULE_STEP_S)
    kpa, degc = vestibule_truth(since, capture)
    noise = rng.standard_normal((since.size, 2))
    shown = _lagged(degc, capture.sensor_lag_s) + capture.temperature_noise_k * noise[:, 1]
    kpa = np.maximum(kpa + capture.pressure_noise_pa * noise[:, 0] / PA_PER_KPA, 0.0)
    return [
        CaptureStatus(
            source=MECHANISM,
            seq=first_seq + i,
            t=round(t_hard_capture + s, 6),
            contact=True,
            soft_capture=True,
            ring_extension=0.0,
            ready_to_hook=(True,) * READY_SENSORS,
            hooks=(1.0,) * HOOKS,
            hard_capture=True,
            vestibule_kpa=round(float(kpa[i]), 4),
            vestibule_degc=round(float(shown[i]), 3),
        )
        for i, s in enumerate(since.tolist())
    ]


def vestibule_truth(since_s: Array, capture: Capture) -> tuple[Array, Array]:
    """Give the true pressure and gas temperature at times after hard capture.

    Parameters
    ----------
    since_s : ndarray, shape (n,)
        Seconds since hard capture.
    capture : Capture
        Filling, warming, cooling and leak.

    Returns
    -------
    kpa, degc : ndarray, shape (n,)

    Notes
    -----
    Perfect gas in a fixed volume: p = p0 m T/T0 with m the share of the full mass. Filling
    slows toward its end; the gas it warms cools to the wall with one time constant.
    """
    filling = (since_s - capture.pressurise_after_s) / capture.pressurise_s
    mass = np.sin(0.5 * math.pi * np.clip(filling, 0.0, 1.0))
    filled_s = np.maximum(since_s - capture.pressurise_after_s - capture.pressurise_s, 0.0)
    full_pa = capture.vestibule_kpa * PA_PER_KPA
    mass = mass * (1.0 - capture.leak_pa_per_h * filled_s / S_PER_H / full_pa)
    warm = capture.charging_k * np.clip(filling, 0.0, 1.0) * np.exp(-filled_s / capture.cooling_s)
    wall = capture.vestibule_degc + KELVIN_AT_0_DEGC
    kpa = np.maximum(capture.vestibule_kpa * mass * (1.0 + warm / wall), EMPTY_KPA)
    return kpa, capture.vestibule_degc + warm


def _lagged(degc: Array, lag_s: float) -> Array:
    """Give what a sensor with a first-order lag shows of a temperature sampled every second."""
    if lag_s <= 0.0 or not degc.size:
        return degc
    keep = math.exp(-VESTIBULE_STEP_S / lag_s)
    shown = degc.copy()
    for i in range(1, degc.size):
        shown[i] = keep * shown[i - 1] + (1.0 - keep) * degc[i]
    return shown
