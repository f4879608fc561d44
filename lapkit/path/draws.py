"""An ensemble of ridden paths at given times, and what follows from each by arithmetic.

Row 0 of every array is the path estimate itself, rows 1.. are draws from its posterior. A measure is an
ordinary function of a path applied to all rows at once; :mod:`lapkit.path.summary` turns its rows into
value, interval and probability.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from functools import cached_property

import numpy as np

from lapkit.arrays import FloatArray, locked
from lapkit.counting import counted

SLOWEST_MPS = 0.5
"""The least speed that anything is divided by, m/s: while the rider stands, his heading and curvature are unknown anyway."""


@dataclass(frozen=True, eq=False)
class PathDraws:
    """Ridden paths (machine and rider's centre of mass) on the course's plane.

    All arrays are read-only. Their shape is ``(1 + draws, n)`` unless it is given.

    Attributes:
        time_s: seconds on the log's clock, ``(n,)``.
        x_m, y_m: metres east and north, the receiver's slow offset taken out.
        vx_mps, vy_mps: velocity east and north, m/s.
        ax_mps2, ay_mps2: acceleration east and north, m/s².
        lean_tangent: tangent of the balance lean from the vertical, left positive.
        com_height_m: height of the centre of mass above the road, the machine upright, ``(1 + draws, 1)``.
    """

    time_s: FloatArray
    x_m: FloatArray
    y_m: FloatArray
    vx_mps: FloatArray
    vy_mps: FloatArray
    ax_mps2: FloatArray
    ay_mps2: FloatArray
    lean_tangent: FloatArray
    com_height_m: FloatArray

    def __post_init__(self) -> None:
        # What is derived from the arrays is cached, and would not follow a value that is changed afterwards.
        for field in fields(self):
            object.__setattr__(self, field.name, locked(getattr(self, field.name)))

    def __repr__(self) -> str:
        """Short: a notebook shows it where nobody asked for every path."""
        return f"<PathDraws: the estimate and {counted(len(self.x_m) - 1, 'draw')} at {counted(len(self.time_s), 'time')}>"

    @cached_property
    def speed_mps(self) -> FloatArray:
        """Speed, m/s, ``(1 + draws, n)`` like all that follows."""
        # Written out: hypot guards against overflow, which no speed comes near, and takes six times as long.
        return np.sqrt(self.vx_mps * self.vx_mps + self.vy_mps * self.vy_mps)

    @cached_property
    def _divisor_mps(self) -> FloatArray:
        """The speed, as far as it may be divided by."""
        return np.maximum(self.speed_mps, SLOWEST_MPS)

    @cached_property
    def heading_rad(self) -> FloatArray:
        """Heading counter-clockwise from east, unwrapped along the path, radians."""
        return np.unwrap(np.arctan2(self.vy_mps, self.vx_mps), axis=-1)

    @cached_property
    def curvature_1pm(self) -> FloatArray:
        """Curvature in plan, 1/m, left positive."""
        cross = self.vx_mps * self.ay_mps2 - self.vy_mps * self.ax_mps2
        speed = self._divisor_mps
        return cross / (speed * speed * speed)

    @cached_property
    def accel_mps2(self) -> FloatArray:
        """Acceleration along the path, m/s²."""
        dot = self.vx_mps * self.ax_mps2 + self.vy_mps * self.ay_mps2
        return dot / self._divisor_mps

    @cached_property
    def distance_m(self) -> FloatArray:
        """Length of path ridden since the first time, metres."""
        step = np.diff(self.time_s) * 0.5 * (self.speed_mps[..., 1:] + self.speed_mps[..., :-1])
        return np.concatenate([np.zeros_like(step[..., :1]), np.cumsum(step, axis=-1)], axis=-1)

    @cached_property
    def lean_deg(self) -> FloatArray:
        """Balance lean from the vertical, degrees, left positive."""
        return np.arctan(self.lean_tangent) * (180.0 / np.pi)

    @cached_property
    def tyre_xy_m(self) -> tuple[FloatArray, FloatArray]:
        """Where the tyres ran, metres east and north: this path moved out of the corner by ``com_height_m`` × sin(lean)."""
        sin_lean = self.lean_tangent / np.sqrt(1.0 + self.lean_tangent * self.lean_tangent)
        out = self.com_height_m * sin_lean / self._divisor_mps
        return self.x_m + out * self.vy_mps, self.y_m - out * self.vx_mps
