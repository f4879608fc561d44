"""A ride with known truth: where machine and rider's centre of mass was at every moment, exactly.

The mass path is the primary curve, a spline of the fifth degree in time. Lean, tyre path and
antenna path follow from it without error: lean = atan(v²κ / (g + v²κ_v)), tyres com height ×
sin(lean) outward of it, the antenna (antenna height − com height) × sin(lean) inward.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy.interpolate import BSpline, CubicSpline

from lapkit.arrays import FloatArray
from lapkit.course.course import Course
from lapkit.lean import balance_tangent
from lapkit.simulate.style import RiderStyle

DENSE_HZ = 100.0
"""Rate of the dense truth."""

_MOVING_MPS = 0.05  # slower, a path has no direction
_DERIVATIVE_S = 1e-3  # each way: the error of the difference is far below a millimetre a second


@dataclass(frozen=True, eq=False)
class Moment:
    """The exact state at given times; every array has shape ``(n,)``, SI units, left positive."""

    time_s: FloatArray
    x_m: FloatArray
    y_m: FloatArray
    vx_mps: FloatArray
    vy_mps: FloatArray
    ax_mps2: FloatArray
    ay_mps2: FloatArray
    left_x: FloatArray
    left_y: FloatArray
    curvature_1pm: FloatArray
    sin_lean: FloatArray

    @property
    def speed_mps(self) -> FloatArray:
        """Speed of the mass path."""
        return np.hypot(self.vx_mps, self.vy_mps)

    @property
    def heading_rad(self) -> FloatArray:
        """Heading counter-clockwise from east, unwrapped."""
        return np.unwrap(np.arctan2(-self.left_x, self.left_y))

    @property
    def lean_deg(self) -> FloatArray:
        """Balance lean from the vertical, degrees, left positive."""
        return np.degrees(np.arcsin(self.sin_lean))

    def raised(self, above_com_m: float) -> tuple[FloatArray, FloatArray]:
        """East and north of a point of the leaning machine, metres above the centre of mass."""
        out = above_com_m * self.sin_lean
        return self.x_m + out * self.left_x, self.y_m + out * self.left_y


@dataclass(frozen=True, eq=False)
class Ride:
    """One run of one rider. Times count from ``epoch_s`` (seconds since 1970-01-01T00:00:00Z).

    ``mass`` is the mass path east and north; ``ground`` the unwrapped station, the road's vertical
    curvature and height under it, and the heading that he faces while he stands: each by time.
    """

    course: Course
    style: RiderStyle
    laps: int
    epoch_s: float
    end_s: float
    mass: BSpline
    ground: CubicSpline

    @cached_property
    def dense(self) -> Moment:
        """The state at 100 Hz from start to end."""
        return self.at(np.arange(0.0, self.end_s, 1.0 / DENSE_HZ))

    def at(self, time_s: FloatArray) -> Moment:
        """The exact state at times, shape ``(n,)``."""
        time = np.asarray(time_s, dtype=np.float64)
        (x, y), (vx, vy), (ax, ay) = (self.mass(time, k).T for k in range(3))
        _, vertical, _, facing = self.ground(time).T
        speed = np.hypot(vx, vy)
        moving = speed > _MOVING_MPS
        safe = np.where(moving, speed, 1.0)
        left_x = np.where(moving, -vy / safe, -np.sin(facing))
        left_y = np.where(moving, vx / safe, np.cos(facing))
        curvature = np.where(moving, (ax * left_x + ay * left_y) / safe**2, 0.0)
        tangent = balance_tangent(speed, curvature, vertical)
        sin_lean = tangent / np.sqrt(1.0 + tangent**2)
        return Moment(time, x, y, vx, vy, ax, ay, left_x, left_y, curvature, sin_lean)

    def station_at(self, time_s: FloatArray) -> FloatArray:
        """Unwrapped station of the reference at times, metres, ``(n,)``."""
        return self.ground(time_s)[..., 0]

    def height_at(self, time_s: FloatArray) -> FloatArray:
        """Height of the road under the rider at times, metres, ``(n,)``."""
        return self.ground(time_s)[..., 2]

    def tyre_xy(self, time_s: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Where the tyres were at times: metres east and north, ``(n,)`` each."""
        return self.at(time_s).raised(-self.style.com_height_m)

    def antenna_xy(self, time_s: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Where the antenna was at times: metres east and north, ``(n,)`` each."""
        return self.at(time_s).raised(self.style.antenna_height_m - self.style.com_height_m)

    def antenna_velocity(self, time_s: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Velocity of the antenna at times east and north, m/s, ``(n,)`` each."""
        time = np.asarray(time_s, dtype=np.float64)
        (x0, y0), (x1, y1) = (
            self.antenna_xy(time - _DERIVATIVE_S),
            self.antenna_xy(time + _DERIVATIVE_S),
        )
        return (x1 - x0) / (2 * _DERIVATIVE_S), (y1 - y0) / (2 * _DERIVATIVE_S)
