"""The slope of range over the last ten seconds, at a cost that does not grow with the rate."""

from __future__ import annotations

from bisect import insort
from collections import deque

from console.judging.threshold import has_lasted, is_longer

WINDOW_S = 10.0
LEAST_SAMPLES = 20
LEAST_SPAN_S = 5.0
CAPACITY = 100_000
"""Points kept at most; a faster source than 10 kHz gets a shorter window."""


class SlopeWindow:
    """Range against time of one source, with the sums a straight line needs.

    The sums are kept up by adding the newest point and taking off the oldest. What rounding that
    leaves is bounded by summing afresh, about a new origin, each time the window has been
    renewed once: the slope stays within about 1e-12 m/s of a fresh least-squares fit.
    """

    __slots__ = ("_origin_r", "_origin_t", "_points", "_r", "_t", "_taken_off", "_tr", "_tt")

    def __init__(self) -> None:
        self._points: deque[tuple[float, float]] = deque()
        self._taken_off = 1  # so that the first point becomes the origin
        self._origin_t = self._origin_r = 0.0
        self._t = self._r = self._tt = self._tr = 0.0

    def add(self, t: float, range_m: float) -> None:
        """Take a point and let go those more than ten seconds older than the newest."""
        points = self._points
        if points and t < points[-1][0]:
            ordered = list(points)
            insort(ordered, (t, range_m))
            points.clear()
            points.extend(ordered)
            self._drop_old()
            self._sum_afresh()
            return
        points.append((t, range_m))
        dt, dr = t - self._origin_t, range_m - self._origin_r
        self._t += dt
        self._r += dr
        self._tt += dt * dt
        self._tr += dt * dr
        self._drop_old()
        if self._taken_off >= len(points):
            self._sum_afresh()

    def slope_mps(self) -> float | None:
        """Give the slope by least squares, or None under 20 samples or 5 s.

        Notes
        -----
        (n Str - St Sr) / (n Stt - St^2), the textbook form of ordinary least squares, with times
        and ranges counted from a point of the window.
        """
        points = self._points
        n = len(points)
        if n < LEAST_SAMPLES or not has_lasted(points[-1][0] - points[0][0], LEAST_SPAN_S):
            return None
        return (n * self._tr - self._t * self._r) / (n * self._tt - self._t * self._t)

    def _drop_old(self) -> None:
        points = self._points
        newest = points[-1][0]
        while is_longer(newest - points[0][0], WINDOW_S) or len(points) > CAPACITY:
            t, range_m = points.popleft()
            dt, dr = t - self._origin_t, range_m - self._origin_r
            self._t -= dt
            self._r -= dr
            self._tt -= dt * dt
            self._tr -= dt * dr
            self._taken_off += 1

    def _sum_afresh(self) -> None:
        points = self._points
        self._origin_t, self._origin_r = points[len(points) // 2]
        self._taken_off = 0
        shifted = [(t - self._origin_t, r - self._origin_r) for t, r in points]
        self._t = sum(dt for dt, _ in shifted)
        self._r = sum(dr for _, dr in shifted)
        self._tt = sum(dt * dt for dt, _ in shifted)
        self._tr = sum(dt * dr for dt, dr in shifted)
