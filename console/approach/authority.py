"""Who may call or execute an abort now.

Outside the hands-off point the crew holds it, and the ground with them for as long as a stop
called there still halts the vehicle outside that point; inside it only the vehicle's own logic
may abort; after soft capture nobody, since both vehicles drift freely. Common practice, no
source; the ranges and delays come from the limits file.
"""

from __future__ import annotations

from console.approach.event import Phase
from console.approach.phase import FROM_SOFT_CAPTURE
from console.approach.snapshot import Authority

CREW = "crew"
GROUND = "ground"
VEHICLE = "vehicle"
CONTACT = Phase.CONTACT
NOBODY = FROM_SOFT_CAPTURE | {Phase.WAITING}
"""Phases in which nobody may abort: nothing is known yet, or both vehicles drift freely."""
REGAIN_S = 5.0
"""The ground regains its part only when the last useful call is this far off again."""


class AuthorityBook:
    """Abort authority over time; ``take`` is asked at each tick and sample."""

    def __init__(self, hands_off_m: float, ground_may: bool) -> None:
        self._hands_off_m = hands_off_m
        self._ground_may = ground_may
        self._ground_in_time = True
        self.now = Authority((), None, None)

    def take(
        self, phase: Phase, hold_call_s: float | None, *, is_holding: bool, is_inside: bool
    ) -> bool:
        """Work out the holders; tell whether they changed.

        Parameters
        ----------
        phase : Phase
            The phase now.
        hold_call_s : float or None
            Seconds until the last useful stop call, None where the vehicle does not close or
            nothing is known.
        is_holding : bool
            The range is not closing, so a call from the ground is in time.
        is_inside : bool
            The vehicle is inside the hands-off point, or was when last heard.
        """
        if is_holding:
            self._ground_in_time = True
        elif hold_call_s is not None:
            least_s = 0.0 if self._ground_in_time else REGAIN_S
            self._ground_in_time = hold_call_s > least_s
        before = self.now.holders
        self.now = self._work_out(phase, is_inside)
        return self.now.holders != before

    def _work_out(self, phase: Phase, is_inside: bool) -> Authority:
        if phase in NOBODY:
            return Authority((), None, None)
        if is_inside or phase is CONTACT:
            return Authority((VEHICLE,), None, None)
        ground = self._ground_may and self._ground_in_time
        holders = (CREW, GROUND) if ground else (CREW,)
        return Authority(holders, VEHICLE, self._hands_off_m)
