"""One axis of relative motion: position and rate, each seen by a noisy channel.

Theory of operation. A constant-velocity Kalman filter with two scalar updates a sample and no
matrix inverse. The orbit's own accelerations are left out on purpose: under closed-loop control
the controller cancels them, and what remains is small against the process noise.

Sensor errors are not white: a part of them changes slowly. A filter that believes they are white
averages them away and ends over-confident. So each channel has two variances: the *gate*
variance says how far a single healthy sample may lie off and decides whether it is believed at
all; the *gain* variance is the one that, if the noise were white, would leave the same error
after averaging, and it sets how much a believed sample moves the state.
"""

from __future__ import annotations

GATE_SQUARED = 16.0
"""A sample further than 4 sigma of its prediction is not believed."""
REJECTS_TO_RESET = 25
"""Running rejects after which the channel is believed again: slower than the frozen check (12)."""


class Axis:
    """Position ``p`` and rate ``v`` of one axis with covariance [[a, b], [b, c]].

    Units are the channel's own: m and m/s, or deg and deg/s.
    """

    __slots__ = ("a", "b", "c", "p", "position_rejects", "rate_rejects", "v")

    def __init__(self, p: float, v: float, a: float, c: float) -> None:
        self.p = p
        self.v = v
        self.a = a
        self.b = 0.0
        self.c = c
        self.position_rejects = 0
        self.rate_rejects = 0

    def copy(self) -> Axis:
        """Give an independent axis of the same state; its counts of rejects begin at zero."""
        twin = Axis(self.p, self.v, self.a, self.c)
        twin.b = self.b
        return twin

    def predict(self, dt_s: float, q: float, acceleration: float = 0.0) -> None:
        """Carry the state forward.

        Parameters
        ----------
        dt_s : float
            Time step, s, not negative.
        q : float
            Intensity of the white acceleration noise, unit^2/s^3.
        acceleration : float
            Known acceleration over the step, unit/s^2.

        Notes
        -----
        Bar-Shalom, Li, Kirubarajan, "Estimation with Applications to Tracking and Navigation",
        2001, section 6.2.2 (discretised continuous white noise acceleration; from memory).
        """
        b, c = self.b, self.c
        self.p += (self.v + 0.5 * acceleration * dt_s) * dt_s
        self.v += acceleration * dt_s
        qdt = q * dt_s
        self.a += dt_s * (2.0 * b + dt_s * c) + qdt * dt_s * dt_s / 3.0
        self.b = b + dt_s * c + 0.5 * qdt * dt_s
        self.c = c + qdt

    def take_position(self, residual: float, gate_variance: float, gain_variance: float) -> bool:
        """Update by a position measurement.

        Parameters
        ----------
        residual : float
            Measured minus predicted position (already wrapped where it is an angle).
        gate_variance, gain_variance : float
            The two variances of the channel, unit^2.

        Returns
        -------
        bool
            True where the sample was believed. After ``REJECTS_TO_RESET`` running rejects the
            position variance is opened by the residual's square and the sample is taken.

        Notes
        -----
        K = P H^T / S, x + K r, P - K S K^T with a scalar S (Kalman, "A new approach to linear
        filtering and prediction problems", Journal of Basic Engineering 82, 1960; as in
        Bar-Shalom, Li, Kirubarajan 2001, section 5.2.3; from memory). Gate: r^2 against S
        (section 2.3.2 of its companion on data association; from memory).
        """
        a, b = self.a, self.b
        if residual * residual >= GATE_SQUARED * (a + gate_variance):
            self.position_rejects += 1
            if self.position_rejects < REJECTS_TO_RESET:
                return False
            a += residual * residual
        self.position_rejects = 0
        s = a + gain_variance
        k1, k2 = a / s, b / s
        self.p += k1 * residual
        self.v += k2 * residual
        self.c -= k2 * b
        self.b = b * (1.0 - k1)
        self.a = a * (1.0 - k1)
        return True

    def take_rate(self, residual: float, gate_variance: float, gain_variance: float) -> bool:
        """Update by a rate measurement; as :meth:`take_position`, for the rate channel."""
        b, c = self.b, self.c
        if residual * residual >= GATE_SQUARED * (c + gate_variance):
            self.rate_rejects += 1
            if self.rate_rejects < REJECTS_TO_RESET:
                return False
            c += residual * residual
        self.rate_rejects = 0
        s = c + gain_variance
        k1, k2 = b / s, c / s
        self.p += k1 * residual
        self.v += k2 * residual
        self.a -= k1 * b
        self.b = b * (1.0 - k2)
        self.c = c * (1.0 - k2)
        return True


def coast(axes: tuple[Axis, ...], dt_s: float, q: float) -> None:
    """Carry free axes of one kind forward together; each as :meth:`Axis.predict` does it.

    Parameters
    ----------
    axes : tuple of Axis
        Changed in place.
    dt_s, q : float
        As there; the acceleration is 0.
    """
    qdt = q * dt_s
    to_a, to_b = qdt * dt_s * dt_s / 3.0, 0.5 * qdt * dt_s
    for x in axes:
        b, c = x.b, x.c
        dc = dt_s * c
        x.v = v = x.v + 0.0  # no acceleration: the sum that predict makes, to the sign of a zero
        x.p += v * dt_s
        x.a += dt_s * (2.0 * b + dc) + to_a
        x.b = b + dc + to_b
        x.c = c + qdt
