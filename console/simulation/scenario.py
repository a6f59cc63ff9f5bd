"""A scenario as values: where the vehicle starts, how it is steered, what measures it, what fails.

Reading one from TOML is ``reading``; every field has the nominal default, so ``Scenario()`` is
the nominal approach from the 200 m hold.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

from console.core.ids import SourceId
from console.envelope.setup import LinearSigma, SourceNoise
from console.simulation.faults import Fault

START_T = 1_933_580_100.0
"""2031-04-10T09:35:00Z, the demo's day."""

LONGEST_RANGE_M = 2000.0
"""No approach starts farther out."""


class OrderKind(StrEnum):
    """What the vehicle can be ordered to do on the way."""

    HOLD = "hold"
    RETREAT = "retreat"


@dataclass(frozen=True, slots=True)
class Hold:
    """A planned stop: at which range and for how long (infinite: never released)."""

    range_m: float
    for_s: float


@dataclass(frozen=True, slots=True)
class Order:
    """A stop or retreat ordered on the way, when the true range first is ``at_range_m``.

    Attributes
    ----------
    for_s : float
        How long the vehicle waits once it has stopped, before it goes on; infinite: it stays.
    to_m, rate_mps : float
        Where to and how fast a retreat backs out; a hold takes no notice of them.
    """

    kind: OrderKind
    at_range_m: float
    for_s: float = math.inf
    to_m: float = 20.0
    rate_mps: float = 0.2


@dataclass(frozen=True, slots=True)
class Steering:
    """Guidance, thrusters and dead bands of the vehicle.

    Attributes
    ----------
    final_rate_mps, knee_m, slope_per_s : float or None
        Closing law |v| = final + slope * max(x - knee, 0); None takes that of the limits file's
        glide slope.
    braking_mps2 : float
        Deceleration planned for a stop at a hold.
    pulse_limit_mps : float
        Most that one control cycle of 1 s can change the velocity, per axis.
    pulse_mps : float
        Minimum impulse bit.
    rate_deadband_mps, lateral_deadband_mps : float
        Axial rate error, and lateral switching function y/25 + y', left alone.
    thrust_noise : float
        1-sigma of a pulse's size, as a share.
    nav_offset_m, nav_rate_offset_mps : float
        1-sigma of the fixed error of the guidance's own navigation, each axis.
    attitude_deadband_deg : tuple of float
        Least and largest attitude dead band; each axis draws its own.
    """

    final_rate_mps: float | None = None
    knee_m: float | None = None
    slope_per_s: float | None = None
    braking_mps2: float = 0.005
    pulse_limit_mps: float = 0.02
    pulse_mps: float = 0.002
    rate_deadband_mps: float = 0.004
    lateral_deadband_mps: float = 0.002
    thrust_noise: float = 0.05
    nav_offset_m: float = 0.008
    nav_rate_offset_mps: float = 0.0005
    attitude_deadband_deg: tuple[float, float] = (0.3, 0.5)


SENSOR_A = SourceNoise()
SENSOR_B = SourceNoise(
    range_m=LinearSigma(0.04, 0.002),
    lateral_m=LinearSigma(0.01, 0.0016),
    range_rate_mps=LinearSigma(0.008, 8e-5),
    lateral_rate_mps=LinearSigma(0.006, 8e-5),
    angle_deg=LinearSigma(0.2, 0.004),
    angle_rate_dps=LinearSigma(0.02, 0.0),
    range_bias_m=0.04,
    lateral_bias_m=0.02,
    range_rate_bias_mps=0.002,
    lateral_rate_bias_mps=0.0014,
)


@dataclass(frozen=True, slots=True)
class RandomDropouts:
    """So many stretches without samples, at random times of the pass, each between two lengths."""

    count: int = 0
    shortest_s: float = 1.0
    longest_s: float = 8.0


@dataclass(frozen=True, slots=True)
class Sensor:
    """A relative-navigation source.

    Attributes
    ----------
    rate_hz : float
        Samples a second.
    phase_s : float
        When in the second its first sample is taken.
    delay_s, jitter_s : float
        Time from measurement to publication: the least, and the width of what comes on top.
    noise : SourceNoise
        White 1-sigma over range, and 1-sigma of the fixed biases.
    coloured_share, coloured_s : float
        Size of the coloured noise as a share of the white one, and its time constant.
    scale : float
        1-sigma of the scale error of range and lateral position.
    outlier_share : float
        Share of values hit by an outlier of 10 to 60 sigma.
    dropouts : RandomDropouts
        None in the nominal pass.
    sends_lateral_rates, sends_body_rates : bool
        Whether these optional fields are sent.
    """

    name: SourceId
    rate_hz: float = 10.0
    phase_s: float = 0.0
    delay_s: float = 0.12
    jitter_s: float = 0.02
    noise: SourceNoise = SENSOR_A
    coloured_share: float = 0.5
    coloured_s: float = 3.0
    scale: float = 0.001
    outlier_share: float = 0.01
    dropouts: RandomDropouts = RandomDropouts()
    sends_lateral_rates: bool = True
    sends_body_rates: bool = True


OPTICAL = Sensor(name=SourceId("optical"))
RADIO = Sensor(
    name=SourceId("radio"),
    rate_hz=2.0,
    phase_s=0.23,
    delay_s=0.35,
    jitter_s=0.05,
    noise=SENSOR_B,
    sends_body_rates=False,
)


@dataclass(frozen=True, slots=True)
class Capture:
    """The docking mechanism and the vestibule after contact: how long each step takes.

    Attributes
    ----------
    soft_capture_s : float
        From contact to soft capture.
    damping_s : float
        From soft capture until the relative motion counts as damped.
    decay_s, period_s : float
        Time constant and period of the damped relative motion.
    alignment_s, retraction_s, settling_s : float
        Aligning the ring, drawing it in, and waiting before the hooks move.
    gang_s : float
        Driving one of the two gangs of hooks.
    seal_s : float
        From the last hook closed to hard capture.
    samples_s : float
        How long the relative-navigation sources go on after soft capture.
    vestibule_s : float
        How long the status goes on after hard capture.
    pressurise_after_s, pressurise_s : float
        Waiting after hard capture, and filling the vestibule.
    vestibule_kpa, vestibule_degc : float
        Pressure it is filled to, and its wall's temperature.
    leak_pa_per_h : float
        True leak once filled.
    charging_k : float
        How much the filling warms the gas; it cools with ``cooling_s``.
    sensor_lag_s : float
        Lag of the temperature sensor.
    pressure_noise_pa, temperature_noise_k : float
        1-sigma, white.
    """

    soft_capture_s: float = 1.4
    damping_s: float = 55.0
    decay_s: float = 12.0
    period_s: float = 4.0
    alignment_s: float = 20.0
    retraction_s: float = 75.0
    settling_s: float = 8.0
    gang_s: float = 46.0
    seal_s: float = 5.0
    samples_s: float = 10.0
    vestibule_s: float = 600.0
    pressurise_after_s: float = 20.0
    pressurise_s: float = 100.0
    vestibule_kpa: float = 101.3
    vestibule_degc: float = 21.0
    leak_pa_per_h: float = 2.0
    charging_k: float = 2.0
    cooling_s: float = 40.0
    sensor_lag_s: float = 0.0
    pressure_noise_pa: float = 1.0
    temperature_noise_k: float = 0.004


@dataclass(frozen=True, slots=True)
class Scenario:
    """One approach to simulate.

    Attributes
    ----------
    title, watch_for : str
        What it is, and what whoever watches should see.
    start_t : float
        UTC seconds of the first measurement.
    start_range_m : float
        True range at the start. Within a metre of a planned hold the vehicle starts at rest
        there, elsewhere it starts on the closing law.
    demo_range_m : float
        Where a demo starts that is not told from where: far enough out to show what there is to
        watch for.
    start_y_m, start_z_m : float
        Lateral position at the start.
    holds : tuple of Hold
        Planned stops, outermost first.
    orders : tuple of Order
        Stops and retreats ordered on the way, each once.
    stay_s : float
        A pass in which the vehicle stays at a hold for ever ends this long after it stopped.
    longest_s : float
        No pass is longer than this before contact.
    """

    title: str = "Nominal approach"
    watch_for: str = "Everything inside the envelope from the 200 m hold to hard capture."
    start_t: float = START_T
    start_range_m: float = 200.0
    demo_range_m: float = 20.0
    start_y_m: float = 0.3
    start_z_m: float = -0.2
    holds: tuple[Hold, ...] = (Hold(200.0, 45.0), Hold(20.0, 60.0))
    orders: tuple[Order, ...] = ()
    steering: Steering = Steering()
    sensors: tuple[Sensor, ...] = (OPTICAL, RADIO)
    faults: tuple[Fault, ...] = ()
    capture: Capture = Capture()
    stay_s: float = 60.0
    longest_s: float = 7200.0
