"""What each capture plot is about, and the steps its axes may stand at."""

from __future__ import annotations

from dataclasses import dataclass

from console.approach.snapshot import CaptureNow, Snapshot
from console.present.plot_axis import Steps
from console.present.plot_scene import Ink
from console.present.trail import CaptureChannel

SPAN_S = Steps(
    (60.0, 120.0, 300.0, 600.0, 1200.0, 1800.0, 3600.0, 7200.0, 14400.0, 28800.0), 0.9, 1.0
)
_RATE_STEPS = tuple(m * 10.0**k for k in range(-2, 2) for m in (1.0, 2.0, 5.0))


@dataclass(frozen=True, slots=True)
class PanelSpec:
    """One plot against time.

    Attributes
    ----------
    tops : Steps
        Highest values its axis may have.
    decimals : int
        Of the newest value, said in the plot's head.
    is_late : bool
        Against the longer time axis, that of pressure.
    """

    titles: tuple[str, ...]
    unit: str
    channel: CaptureChannel
    ink: Ink
    tops: Steps
    decimals: int
    is_late: bool = False


PANELS: tuple[PanelSpec, ...] = (
    PanelSpec(
        ("Relative motion, along  m/s", "Motion  m/s", "Motion"), "m/s",
        CaptureChannel.REL_RATE_MPS, Ink.TRACE_A, Steps(_RATE_STEPS, 0.95, 1.0), 4,
    ),
    PanelSpec(
        ("Relative motion, turning  deg/s", "Turning  deg/s", "Turning"), "deg/s",
        CaptureChannel.REL_RATE_DPS, Ink.TRACE_B, Steps(_RATE_STEPS, 0.95, 1.0), 3,
    ),
    PanelSpec(
        ("Ring extension, 1 out to 0 in", "Ring extension", "Ring"), "",
        CaptureChannel.RING_EXTENSION, Ink.TRACE_C, Steps((1.0, 2.0, 5.0), 1.0, 1.05), 2,
    ),
    PanelSpec(
        ("Vestibule pressure  kPa", "Pressure  kPa", "Pressure"), "kPa",
        CaptureChannel.VESTIBULE_KPA, Ink.TRACE_A,
        Steps((1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 120.0, 200.0, 500.0), 0.95, 1.0), 3, True,
    ),
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class CaptureView:
    """Which steps the axes stand at."""

    early_s: float = 60.0
    late_s: float = 60.0
    tops: tuple[float, ...] = (0.1, 0.2, 1.0, 120.0)


class CaptureAxes:
    """Keeps the axes at their steps from frame to frame."""

    def __init__(self) -> None:
        self._view: CaptureView | None = None
        self._highest: tuple[float | None, ...] = (None,) * len(PANELS)

    def reset(self) -> None:
        """Forget the steps, as for another history."""
        self._view = None
        self._highest = (None,) * len(PANELS)

    def advance(self, snapshot: Snapshot | None, highest: tuple[float | None, ...]) -> CaptureView:
        """Give the steps to draw at.

        Parameters
        ----------
        highest : tuple of float or None
            Largest value so far of each panel's channel.
        """
        view = self._view
        early, late = _needed_s(snapshot)
        tops = []
        # Rows that memory gave up still count: an axis never comes down again.
        self._highest = tuple(map(_larger, self._highest, highest))
        for i, (spec, largest) in enumerate(zip(PANELS, self._highest, strict=True)):
            start = CaptureView().tops[i] if largest is None else None
            present = start if view is None else view.tops[i]
            tops.append(spec.tops.next(present, largest))
        view = CaptureView(
            SPAN_S.next(SPAN_S.sizes[0] if view is None else view.early_s, early),
            SPAN_S.next(SPAN_S.sizes[0] if view is None else view.late_s, late),
            tuple(tops),
        )
        self._view = view
        return view


def _larger(a: float | None, b: float | None) -> float | None:
    return b if a is None else a if b is None else max(a, b)


def t_origin(snapshot: Snapshot | None) -> float | None:
    """Give the time of contact, None before it."""
    if snapshot is None:
        return None
    told = None if snapshot.capture is None else snapshot.capture.t_contact
    return snapshot.contact_t if told is None else told


def _needed_s(snapshot: Snapshot | None) -> tuple[float | None, float | None]:
    """Give the spans to show: the early one ends soon after the ring is in."""
    start = t_origin(snapshot)
    if snapshot is None or start is None:
        return None, None
    now = max(snapshot.t - start, 0.0)
    capture = snapshot.capture
    retracted = None if capture is None else capture.t_retracted
    early = now if retracted is None else min(now, 1.1 * (retracted - start))
    return early, now


def happened(capture: CaptureNow | None, *, is_late: bool) -> list[tuple[str, float]]:
    """Give what happened and when, for the lines in the plots of one time axis."""
    if capture is None:
        return []
    early = (
        ("soft capture", capture.t_soft_capture),
        ("damped", capture.t_damped),
        ("ring in", capture.t_retracted),
    )
    late = (("hooks closed", capture.t_hooks_closed), ("hard capture", capture.t_hard_capture))
    return [(word, t) for word, t in (late if is_late else early) if t is not None]
