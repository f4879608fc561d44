"""Heading and lean along a path, about which the antenna's observations are linearised."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from lapkit.arrays import FloatArray

_SLOW_MPS = 3.0  # at less than this speed no lean is assumed, from twice this speed on the whole of it (our choice)


@dataclass(frozen=True, eq=False)
class Attitude:
    """Heading and lean along the last solution, about which the observations are linearised; arrays ``(n,)``.

    Attributes:
        left: unit vector to the rider's left, ``(2, n)``.
        sin_lean: sine of the balance lean, left positive.
        slope: d sin(lean) / d a_n, s²/m.
        across, along: acceleration to the left and ahead, m/s².
        turning: yaw rate, rad/s, left positive.
    """

    left: FloatArray
    sin_lean: FloatArray
    slope: FloatArray
    across: FloatArray
    along: FloatArray
    turning: FloatArray

    @classmethod
    def of(
        cls, vx: FloatArray, vy: FloatArray, ax: FloatArray, ay: FloatArray, load: FloatArray
    ) -> Attitude:
        """From velocity, acceleration (m/s, m/s²) and ``load``, gravity felt by the wheels, m/s².

        At a standstill or creeping, heading means nothing and the lean is taken as zero; the rest is taken from the path.
        """
        speed = np.maximum(np.hypot(vx, vy), 0.1)
        riding = np.clip(speed / _SLOW_MPS - 1.0, 0.0, 1.0)
        left_x, left_y = -vy / speed, vx / speed
        across = left_x * ax + left_y * ay
        hypotenuse = np.hypot(load, across)
        return cls(
            left=np.stack([left_x, left_y]),
            sin_lean=riding * across / hypotenuse,
            slope=riding * load**2 / hypotenuse**3,
            across=across,
            along=(vx * ax + vy * ay) / speed,
            turning=across / speed,
        )

    def aside_m(self, above_m: float) -> FloatArray:
        """How far lean carries an antenna ``above_m`` above the mass to the inside, metres east and north, ``(2, n)``."""
        return above_m * self.sin_lean * self.left

    def aside_mps(self, above_m: float, jerk_mps3: FloatArray) -> FloatArray:
        """How fast lean carries it there, metres per second east and north, ``(2, n)``, from the jerk, ``(2, n)``.

        The derivative of :meth:`aside_m`, with the left turning as the heading does.
        """
        ahead = np.stack([self.left[1], -self.left[0]])
        rolling = self.slope * (np.sum(jerk_mps3 * self.left, axis=0) - self.turning * self.along)
        return above_m * (rolling * self.left - self.sin_lean * self.turning * ahead)
