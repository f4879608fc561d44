"""A ride with known truth: where machine and rider's centre of mass was at every moment, exactly.

The mass path is the primary curve, a spline of the fifth degree in time. Lean, tyre path and antenna path
follow from it without error: lean = atan(v²κ / (g + v²κ_v)), tyres com height × sin(lean) outward of it,
the antenna (antenna height − com height) × sin(lean) inward. It is laid so that the tyres run where the
rider means them to run: M − h sin(lean) · left = T has one bounded solution, smoother than T.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy.interpolate import BSpline, CubicSpline, make_interp_spline
from scipy.linalg import solve_banded

from lapkit.course.course import Course
from lapkit.lean import balance_tangent
from lapkit.simulate.lines import Line, rounded
from lapkit.simulate.plan import Plan, plan_run
from lapkit.simulate.speed import profile
from lapkit.simulate.style import RiderStyle
from lapkit.units import GRAVITY_MPS2, FloatArray, read_only

KNOT_S = 0.05
"""Distance between the knots of the mass path, seconds."""

HOLD_S = 45.0
"""How long a rider stands at the hold point before going out and after coming in, seconds."""

MOST_ROLL_DPS = 62.0
"""Fastest roll aimed at, degrees per second."""

_DERIVATIVE_S = 1e-3


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
    def lean_deg(self) -> FloatArray:
        """Balance lean from the vertical, degrees, left positive."""
        return np.degrees(np.arcsin(self.sin_lean))

    def raised(self, above_com_m: float) -> tuple[FloatArray, FloatArray]:
        """The point of the leaning machine that far above the centre of mass (below when negative)."""
        out = above_com_m * self.sin_lean
        return self.x_m + out * self.left_x, self.y_m + out * self.left_y


@dataclass(frozen=True, eq=False)
class Ride:
    """One run of one rider. Times are seconds since ``epoch_s`` (seconds since 1970-01-01T00:00:00Z).

    ``path`` is the mass path, shape ``(2,)`` per time; ``station`` the unwrapped reference station,
    ``vertical`` the road's vertical curvature under it, ``standing`` the unit vector ahead where he stands.
    """

    course: Course
    style: RiderStyle
    laps: int
    epoch_s: float
    end_s: float
    path: BSpline
    station: CubicSpline
    vertical: CubicSpline
    facing: CubicSpline

    @cached_property
    def dense(self) -> Moment:
        """The state at 100 Hz from start to end."""
        return self.at(np.arange(0.0, self.end_s, 0.01))

    def at(self, time_s: FloatArray) -> Moment:
        """The exact state at times since the ride's epoch, shape ``(n,)``."""
        time = np.asarray(time_s, dtype=np.float64)
        (x, y), (vx, vy), (ax, ay) = (self.path(time, k).T for k in range(3))
        speed = np.hypot(vx, vy)
        facing = self.facing(time)
        moving = speed > 0.05
        safe = np.where(moving, speed, 1.0)
        left_x = np.where(moving, -vy / safe, -np.sin(facing))
        left_y = np.where(moving, vx / safe, np.cos(facing))
        across = np.where(moving, ax * left_x + ay * left_y, 0.0)
        curvature = np.where(moving, across / safe**2, 0.0)
        tangent = balance_tangent(speed, curvature, self.vertical(time))
        sin_lean = tangent / np.sqrt(1.0 + tangent**2)
        return Moment(time, x, y, vx, vy, ax, ay, left_x, left_y, curvature, sin_lean)

    def tyre_xy(self, time_s: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Where the tyres ran, metres."""
        return self.at(time_s).raised(-self.style.com_height_m)

    def antenna_xy(self, time_s: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Where the antenna was, metres."""
        return self.at(time_s).raised(self.style.antenna_height_m - self.style.com_height_m)

    def height_at(self, time_s: FloatArray) -> FloatArray:
        """Height of the road under the rider, metres."""
        return np.zeros_like(time_s)

    def antenna_velocity(self, time_s: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Velocity of the antenna east and north, m/s."""
        time = np.asarray(time_s, dtype=np.float64)
        before, after = time - _DERIVATIVE_S, time + _DERIVATIVE_S
        (x0, y0), (x1, y1) = self.antenna_xy(before), self.antenna_xy(after)
        return (x1 - x0) / (2 * _DERIVATIVE_S), (y1 - y0) / (2 * _DERIVATIVE_S)


def ride(
    course: Course, style: RiderStyle, *, laps: int = 6, seed: int = 0, epoch_s: float = 0.0
) -> Ride:
    """One run: standing at the hold point, out-lap, timed laps, in-lap, standing again.

    The same arguments give the same ride to the last bit.
    """
    rng = np.random.default_rng(seed)
    plan = plan_run(course, style, laps, rng)
    over = np.full_like(plan.station_m, 6.0)
    speed = _speed(course, plan, rounded(course, plan.station_m, plan.expected_m, over), style)
    wobble = rng.standard_normal(int((plan.station_m[-1] - plan.station_m[0]) * 4.0))
    over = np.clip(0.42 * style.roll_s * speed, 3.0, 14.0)
    for _ in range(6):
        line = rounded(course, plan.station_m, plan.offset_m, over)
        expected = rounded(course, plan.station_m, plan.expected_m, over)
        speed = _speed(course, plan, expected, style)
        result = _ridden(course, style, laps, epoch_s, line, speed, wobble)
        roll = np.gradient(result.dense.lean_deg, 0.01)
        fast = np.abs(roll) > MOST_ROLL_DPS
        if not fast.any():
            break
        hot = np.zeros_like(over)
        hot[np.searchsorted(line.station_m, result.station(result.dense.time_s[fast])) - 1] = 1.0
        near = np.convolve(hot, np.ones(61), "same") > 0
        over = np.where(near, over * 1.2, over)
        over = np.convolve(np.pad(over, 15, "edge"), np.ones(31) / 31.0, "valid")
    return result


def _speed(course: Course, plan: Plan, line: Line, style: RiderStyle) -> FloatArray:
    vertical = _vertical(course, plan.station_m)
    speed = profile(line.length_m, line.curvature_1pm, vertical, plan.lean_deg, plan.effort, plan.limit_mps, style)
    return speed


def _vertical(course: Course, station: FloatArray) -> FloatArray:
    if course.profile is None:
        return np.zeros_like(station)
    return course.profile.at(course.reference.wrap(station))[1]


def _ridden(
    course: Course, style: RiderStyle, laps: int, epoch_s: float, line: Line, speed: FloatArray,
    wobble: FloatArray,
) -> Ride:
    """The ride along a line at speeds given at its points."""
    taken = 2.0 * np.diff(line.length_m) / (speed[1:] + speed[:-1])
    at = HOLD_S + np.concatenate([[0.0], np.cumsum(taken)])
    time = np.arange(0.0, at[-1] + HOLD_S, KNOT_S)
    # Smoothing the distance ridden as a function of time is smoothing speed: drive and brakes come on
    # and go off over the pedal time, and the ground covered stays the same.
    distance = _eased(_distance(time, at, line.length_m, speed), style.pedal_s)
    place = CubicSpline(line.length_m, np.stack([line.x_m, line.y_m, line.station_m], axis=1))(distance)
    facing = np.unwrap(np.arctan2(np.gradient(line.y_m), np.gradient(line.x_m)))
    facing = np.interp(distance, line.length_m, facing)
    vertical = _vertical(course, place[:, 2])
    mass = _mass_path(place[:, :2], facing, vertical, style.com_height_m)
    mass += _wobble(wobble[: len(time)], np.gradient(distance, KNOT_S), facing, style.wobble_deg)
    return Ride(
        course, style, laps, epoch_s, float(time[-1]),
        make_interp_spline(time, mass, k=5),
        CubicSpline(time, place[:, 2]),
        CubicSpline(time, vertical),
        CubicSpline(time, facing),
    )


def _distance(time: FloatArray, at: FloatArray, length: FloatArray, speed: FloatArray) -> FloatArray:
    """Distance at times, speed running straight between the points of the line."""
    i = np.clip(np.searchsorted(at, time, side="right") - 1, 0, len(at) - 2)
    within = np.clip(time - at[i], 0.0, at[i + 1] - at[i])
    gain = (speed[i + 1] - speed[i]) / (at[i + 1] - at[i])
    return length[i] + speed[i] * within + 0.5 * gain * within**2


def _eased(values: FloatArray, over_s: float) -> FloatArray:
    """A running mean taken four times over (a cubic B-spline's weight), in all ``over_s`` · 2 wide."""
    width = max(int(round(0.5 * over_s / KNOT_S)), 1)
    box = np.ones(2 * width + 1) / (2 * width + 1)
    for _ in range(4):
        values = np.convolve(np.pad(values, width, "edge"), box, "valid")
    return values


def _mass_path(tyres: FloatArray, facing: FloatArray, vertical: FloatArray, com_m: float) -> FloatArray:
    """The mass path whose tyres run at the given points, shape ``(n, 2)``."""
    n = len(tyres)
    mass = tyres.copy()
    load = GRAVITY_MPS2 * np.ones(n)
    for _ in range(6):
        v = np.gradient(mass, KNOT_S, axis=0)
        accel = np.zeros_like(mass)
        accel[1:-1] = (mass[2:] - 2.0 * mass[1:-1] + mass[:-2]) / KNOT_S**2
        speed = np.hypot(v[:, 0], v[:, 1])
        heading = np.where(speed > 0.3, np.arctan2(v[:, 1], v[:, 0]), facing)
        lx, ly = -np.sin(heading), np.cos(heading)
        across = accel[:, 0] * lx + accel[:, 1] * ly
        load = np.maximum(GRAVITY_MPS2 + speed**2 * vertical, 0.05 * GRAVITY_MPS2)
        c = com_m / np.hypot(load, across) / KNOT_S**2
        c[0] = c[-1] = 0.0
        band = np.zeros((7, 2 * n))
        for i, p in enumerate((lx, ly)):
            for j, q in enumerate((lx, ly)):
                pull = c * p * q
                # Row 2k+i, column 2(k+m)+j stands at band[3 + row − column, column].
                for m, factor in ((-1, -1.0), (0, 2.0), (1, -1.0)):
                    k = np.arange(max(0, -m), min(n, n - m))
                    column = 2 * (k + m) + j
                    band[3 + 2 * k + i - column, column] += factor * pull[k]
        band[3] += 1.0
        mass = solve_banded((3, 3), band, tyres.reshape(-1)).reshape(n, 2)
    return mass


def _wobble(white: FloatArray, speed: FloatArray, facing: FloatArray, lean_deg: float) -> FloatArray:
    """Sideways unsteadiness worth ``lean_deg`` of lean, between 0.3 and 0.9 Hz, while riding; (n, 2)."""
    hz = np.fft.rfftfreq(len(white), KNOT_S)
    shape = np.exp(-0.5 * ((hz - 0.6) / 0.15) ** 2)
    lean = np.fft.irfft(np.fft.rfft(white) * shape, len(white))
    scale = np.radians(lean_deg) * GRAVITY_MPS2 / max(np.std(lean), 1e-12)
    across = np.fft.irfft(
        np.fft.rfft(lean * scale) * shape**0 / np.maximum(2 * np.pi * hz, 1.0) ** 2, len(white)
    )
    across = across * np.clip((speed - 8.0) / 6.0, 0.0, 1.0)
    return across[:, None] * np.stack([-np.sin(facing), np.cos(facing)], axis=1)
