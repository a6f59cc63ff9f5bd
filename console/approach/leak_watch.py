"""The leak check as it goes: fill, hold, a look a minute, a verdict when it is sure.

A verdict that is looked for again and again must be surer than one looked for once; the fit's
rule for that is used at every look, and the looks follow the readings' own time, so that the same
statuses give the same verdict at the same moment. A passed check is over: what pressure does
afterwards, when hatches are equalised, is no leak. A failed one goes on, and begins anew when the
vestibule is filled again.
"""

from __future__ import annotations

from dataclasses import replace

from console.approach.capture_now import (
    NOT_KNOWN,
    LeakNow,
    LeakState,
    Span,
    VestibuleStage,
)
from console.approach.capture_words import leak_words
from console.approach.leak_record import AveragedRecord, Filling
from console.core.records import CaptureStatus
from console.core.units import KELVIN_AT_0_DEGC, MICROSECOND_S
from console.envelope.setup import Vestibule
from console.motion.leak import loss_kg_per_day, loss_pa_m3_per_s
from console.motion.leak_fit import CURVATURE_T, LeakFit, LeakVerdict, fit_leak

FIRST_LOOK_S = 180.0
LOOK_S = 60.0
TEMPERATURE_KEPT_S = 30.0
"""A temperature older than this says nothing of the pressure now."""
ROOM_K = KELVIN_AT_0_DEGC + 20.0
S_PER_MIN = 60.0


class LeakWatch:
    """Follows vestibule pressure and temperature from soft capture on.

    Parameters
    ----------
    vestibule : Vestibule
        Volume, limit and the temperature sensor's lag.
    """

    def __init__(self, vestibule: Vestibule) -> None:
        self._vestibule = vestibule
        self._filling = Filling()
        self._record = AveragedRecord()
        self._fit: LeakFit | None = None
        self._next_look_t: float | None = None
        self._needed_by_t: float | None = None
        self._degc: tuple[float, float] | None = None
        self._newest_t: float | None = None
        self._decided: LeakState | None = None
        self._t_verdict: float | None = None
        self._told: tuple[LeakState, str] | None = None

    @property
    def stage(self) -> VestibuleStage:
        """What the pressure does."""
        return self._filling.stage

    @property
    def passes(self) -> bool:
        """Whether the leak check has passed."""
        return self._decided is LeakState.PASSES

    @property
    def fails(self) -> bool:
        """Whether the leak check has failed, and was not made again since."""
        return self._decided is LeakState.FAILS

    def take(self, status: CaptureStatus) -> bool:
        """Take a status; tell whether what is said of the leak has become another."""
        t = status.t
        if self.passes:
            return False
        degc = status.vestibule_degc
        if degc is not None and (self._degc is None or t >= self._degc[0]):
            self._degc = (t, degc)
        kpa = status.vestibule_kpa
        if kpa is None or (self._newest_t is not None and t <= self._newest_t):
            return False
        self._newest_t = t
        before = self._filling.stage
        self._filling.take(t, kpa)
        if self._filling.stage is not VestibuleStage.CLOSED:
            if before is VestibuleStage.CLOSED:
                self._begin_again()
            return self._note()
        current = self._temperature(t)
        if current is not None:
            self._record.take(t, kpa, current)
            self._look(t)
        return self._note()

    def set_back(self) -> None:
        """Begin the record anew, the clock having been set back; a verdict stands."""
        if self.passes:
            return
        decided, t_verdict = self._decided, self._t_verdict
        self._begin_again()
        self._decided, self._t_verdict = decided, t_verdict
        self._filling = Filling()
        self._degc = self._newest_t = None

    def _begin_again(self) -> None:
        self._record = AveragedRecord()
        self._fit = None
        self._next_look_t = self._needed_by_t = None
        self._decided = self._t_verdict = None

    def _temperature(self, t: float) -> float | None:
        """Give the temperature that goes with a pressure read now."""
        if self._degc is None or t - self._degc[0] > TEMPERATURE_KEPT_S:
            return None
        return self._degc[1]

    def _look(self, t: float) -> None:
        if self._next_look_t is None:
            self._next_look_t = t + FIRST_LOOK_S
        if t < self._next_look_t - MICROSECOND_S:
            return
        self._next_look_t = t + LOOK_S
        fit = self._fit = fit_leak(*self._record.columns, self._vestibule.sensor_lag_s)
        if fit is None:
            return
        needs_s = fit.needs_s(self._vestibule.leak_limit_pa_per_h)
        self._needed_by_t = None if needs_s is None else t + needs_s
        verdict = fit.verdict(self._vestibule.leak_limit_pa_per_h)
        decided = _DECIDES.get(verdict)
        if decided is not None and decided is not self._decided:
            self._decided, self._t_verdict = decided, t

    def _note(self) -> bool:
        told = self._state()
        # the figures within a reason change from look to look: only its kind makes it another
        kind = (told[0], told[1].split(",", 1)[0])
        if kind == self._told:
            return False
        self._told = kind
        return True

    def _state(self) -> tuple[LeakState, str]:
        """Give what is said of the leak now, and why."""
        if self._decided is not None:
            return self._decided, ""
        if self.stage is not VestibuleStage.CLOSED:
            if self.stage is VestibuleStage.FILLING:
                return LeakState.REFUSED, "pressurising, a valve is open"
            return LeakState.UNDECIDED, self.stage.value
        if self._newest_t is not None and self._temperature(self._newest_t) is None:
            return LeakState.REFUSED, "temperature missing"
        fit = self._fit
        if fit is None:
            return LeakState.UNDECIDED, f"too few samples, {self._record.taken} so far"
        if fit.gains():
            return LeakState.REFUSED, "gas comes in, a valve open or temperature not settled"
        if fit.curvature_t > CURVATURE_T:
            return (
                LeakState.REFUSED,
                "the record bends, temperature not settled or its sensor lags",
            )
        return LeakState.UNDECIDED, ""

    def picture(self) -> LeakNow | None:
        """Give the leak check as the snapshot shows it; None before any pressure."""
        if self._newest_t is None:
            return None
        fit, vestibule = self._fit, self._vestibule
        state, reason = self._state()
        limit = vestibule.leak_limit_pa_per_h
        kelvin = ROOM_K if fit is None else fit.temperature_k
        now = LeakNow(
            stage=self.stage,
            state=state,
            reason=reason,
            words="",
            t_first=self._record.first_t,
            t_verdict=self._t_verdict,
            loss_pa_per_h=NOT_KNOWN,
            loss_kg_per_day=NOT_KNOWN,
            loss_pa_m3_per_s=NOT_KNOWN,
            limit_pa_per_h=limit,
            limit_kg_per_day=loss_kg_per_day(vestibule.volume_m3, limit, kelvin),
            minutes_needed=None,
            may_never=False,
            samples=self._record.taken,
        )
        if fit is not None:
            now = self._with_figures(now, fit)
        return replace(now, words=leak_words(now))

    def _with_figures(self, now: LeakNow, fit: LeakFit) -> LeakNow:
        volume, kelvin = self._vestibule.volume_m3, fit.temperature_k
        loss = (fit.loss_pa_per_h, fit.low_pa_per_h, fit.high_pa_per_h)
        now = replace(
            now,
            loss_pa_per_h=Span(*loss),
            loss_kg_per_day=Span(*(loss_kg_per_day(volume, each, kelvin) for each in loss)),
            loss_pa_m3_per_s=Span(*(loss_pa_m3_per_s(volume, each) for each in loss)),
        )
        if now.state is not LeakState.UNDECIDED:
            return now
        by_t, newest_t = self._needed_by_t, self._newest_t
        left_s = None if by_t is None or newest_t is None else max(by_t - newest_t, 0.0)
        return replace(
            now,
            minutes_needed=None if left_s is None else left_s / S_PER_MIN,
            may_never=fit.straddles(now.limit_pa_per_h),
        )


_DECIDES = {LeakVerdict.PASSES: LeakState.PASSES, LeakVerdict.FAILS: LeakState.FAILS}
