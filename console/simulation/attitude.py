"""The vehicle's attitude: one dead-band limit cycle an axis, with small kicks and failures.

Each axis turns freely until the switching function leaves the dead band; then a pulse turns it
back. Angles in degrees, against the mated attitude; small enough to treat the axes apart.
"""

from __future__ import annotations

from console.simulation.faults import Channel

LEAD_S = 8.0  # switching function: angle + lead * rate
RETURN_DPS = 0.008  # rate wanted after a switching, back into the band
PULSE_DPS = 0.002
PULSE_LIMIT_DPS = 0.02
SLEW_DPS = 0.08
SLEW_GAIN_S = 20.0
KICK_DPS = 0.0008  # 1-sigma that the other thrusters' pulses turn the vehicle by, each cycle

AXES = (Channel.ROLL, Channel.PITCH, Channel.YAW)


class Attitude:
    """Three angles with their rates, stepped once a control cycle of 1 s.

    Parameters
    ----------
    angles_deg, rates_dps : list of float
        Roll, pitch, yaw at the start.
    deadbands_deg : list of float
        Half width of each axis's dead band.
    """

    def __init__(
        self, angles_deg: list[float], rates_dps: list[float], deadbands_deg: list[float]
    ) -> None:
        self.angles_deg = angles_deg
        self.rates_dps = rates_dps
        self._deadbands_deg = deadbands_deg

    def control(
        self, kicks: tuple[float, float, float], runaway_dps2: tuple[float | None, ...]
    ) -> None:
        """Fire this cycle's attitude pulses.

        Parameters
        ----------
        kicks : tuple of float, length 3
            Standard normal draws: how the other thrusters turn the vehicle.
        runaway_dps2 : tuple of float or None, length 3
            An axis that is turned up and not controlled, deg/s^2; None where all is well.
        """
        for i in range(3):
            self.rates_dps[i] += KICK_DPS * kicks[i]
            failed = runaway_dps2[i]
            if failed is not None:
                self.rates_dps[i] += failed
            else:
                self.rates_dps[i] += self._pulse(i)

    def _pulse(self, i: int) -> float:
        angle, rate = self.angles_deg[i], self.rates_dps[i]
        lead = angle + LEAD_S * rate
        band = self._deadbands_deg[i]
        if abs(lead) <= band:
            return 0.0
        beyond = abs(lead) - band
        back = min(max(RETURN_DPS, beyond / SLEW_GAIN_S), SLEW_DPS)
        wanted = -back if lead > 0.0 else back
        error = wanted - rate
        if error * wanted <= 0.0:  # it already turns back fast enough
            return 0.0
        size = min(max(PULSE_DPS * round(abs(error) / PULSE_DPS), PULSE_DPS), PULSE_LIMIT_DPS)
        return size if error > 0.0 else -size

    def turn(self, dt_s: float) -> None:
        """Let the vehicle turn freely for a time."""
        for i in range(3):
            self.angles_deg[i] += self.rates_dps[i] * dt_s
