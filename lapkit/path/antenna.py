"""The antenna above a path: how far the lean of the machine carries it aside, and how fast it moves."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from lapkit.arrays import FloatArray
from lapkit.path.attitude import Attitude
from lapkit.path.load import Load
from lapkit.path.model import Observed
from lapkit.path.spline import Knots, values


@dataclass(frozen=True, eq=False)
class AntennaPath:
    """A mass path with the antenna above it.

    Attributes:
        knots: of the path.
        path: its spline coefficients, ``(coefficients, 2)``.
        above_m: height of the antenna above the centre of mass, metres.
        load_mps2: gravity felt by the wheels at the middles of the intervals, m/s², ``(intervals,)``.
    """

    knots: Knots
    path: FloatArray
    above_m: float
    load_mps2: FloatArray

    @classmethod
    def of(cls, knots: Knots, path: FloatArray, above_m: float, load: Load) -> AntennaPath:
        """Of a path ridden at its own speeds; ``load`` is that at the middles of the intervals."""
        (v,) = values(knots, path, knots.middle_s, 1)
        return cls(knots, path, above_m, load(np.hypot(*v.T)))

    def attitude(self, time_s: FloatArray) -> Attitude:
        """Heading and lean at times, ``(n,)``."""
        v, a = values(self.knots, self.path, time_s, 1, 2)
        (vx, vy), (ax, ay) = v.T, a.T
        return Attitude.of(vx, vy, ax, ay, np.interp(time_s, self.knots.middle_s, self.load_mps2))

    def attitudes(self, seen: Observed) -> tuple[Attitude, Attitude]:
        """Heading and lean at the times of positions and at those of velocities."""
        position = self.attitude(seen.time_s)
        return position, self.attitude(seen.velocity_time_s) if seen.lags else position

    def velocity(self, time_s: FloatArray) -> FloatArray:
        """Velocity of the antenna at times ``(n,)``, metres per second east and north, ``(2, n)``."""
        v, j = values(self.knots, self.path, time_s, 1, 3)
        return v.T + self.attitude(time_s).aside_mps(self.above_m, j.T)
