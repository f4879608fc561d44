"""How a ride is made: the line that is meant, the speed along it, and the mass path above the tyres."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.interpolate import CubicSpline, make_interp_spline
from scipy.ndimage import maximum_filter1d, uniform_filter1d

from lapkit.arrays import FloatArray
from lapkit.course.course import Course
from lapkit.errors import TrackError
from lapkit.simulate.lines import Line, rounded, smooth_step
from lapkit.simulate.mass import above_tyres, wobble_m
from lapkit.simulate.motion import Ride
from lapkit.simulate.plan import Plan, plan_run
from lapkit.simulate.road import Road
from lapkit.simulate.speed import Limits, profile
from lapkit.simulate.style import RiderStyle

KNOT_S = 0.05
"""Distance between the knots of the mass path, seconds."""

HOLD_S = 45.0
"""How long a rider stands at the hold point before going out and after coming in, seconds."""

_SURPRISE_DEG = 9.0  # lean added on an exit that he tightens on it, before he slows for it
_MOST_LEAN_DEG = 52.0  # what tyres on a road course let anyone lean (common practice)
_LEAST_OVER_M = 1.5  # every line is rounded off over this length at least
_ROUNDS = 8  # of rounding off; it takes 2 to 6
_TOLERANCE = 0.05  # share by which a roll rate may exceed the rider's fastest
_SLOWEST_MPS = 3.0  # on average; nobody rides a lap slower
_STEADY_MPS = 6.0  # slower than this a rider's hands do not show in the path


def ride(
    course: Course, style: RiderStyle, *, laps: int = 6, seed: int = 0, epoch_s: float = 0.0
) -> Ride:
    """One run: standing at the hold point, out-lap, timed laps, in-lap, standing again.

    The same arguments give the same ride to the last bit.

    Args:
        course: a closed course; the rider's line follows its marker line.
        style: who rides, and how.
        laps: timed laps.
        seed: for the scatter of line, lean and hands.
        epoch_s: when it starts, seconds since 1970-01-01T00:00:00Z.

    Raises:
        TrackError: the course is not a loop.
    """
    if not course.closed:
        raise TrackError(
            "riders can be simulated on a closed course only",
            where="" if course.track is None else course.track.source,
            remedy="Draw the centre so that its ends meet.",
        )
    rng = np.random.default_rng(seed)
    run = _Run(course, style, plan_run(course, style, laps, rng), Road.of(course))
    # Drawn once, and long enough for the whole run at a crawl: rounding off must not change the hands.
    longest_s = (run.plan.station_m[-1] - run.plan.station_m[0]) / _SLOWEST_MPS + 3.0 * HOLD_S
    wobble = wobble_m(int(longest_s / KNOT_S), KNOT_S, style.wobble_deg, rng)
    over = np.full_like(run.plan.station_m, _LEAST_OVER_M)
    for _ in range(_ROUNDS):
        times, mass, ground = run.in_time(*run.line_and_speed(over), wobble)
        spline = make_interp_spline(times, mass, k=5)
        result = Ride(
            course, style, laps, epoch_s, float(times[-1]), spline, CubicSpline(times, ground)
        )
        excess = _roll_excess(result, run.plan.station_m)
        if excess.max() <= 1.0 + _TOLERANCE:
            break
        wider = np.where(excess > 1.0, 1.15 * excess**1.25, 1.0)
        over = uniform_filter1d(over * wider, 31, mode="nearest")
    return result


@dataclass(frozen=True, eq=False)
class _Run:
    """What a ride is worked out from."""

    course: Course
    style: RiderStyle
    plan: Plan
    road: Road

    def line_and_speed(self, over_m: FloatArray) -> tuple[Line, FloatArray]:
        """The line, rounded off over the given lengths, metres, and the speed at each of its points, m/s."""
        plan, style = self.plan, self.style
        line = rounded(self.course, plan.station_m, plan.offset_m, over_m)
        expected = rounded(self.course, plan.station_m, plan.expected_m, over_m)
        # He sets his speed by the line he expects. Where he tightens an exit once he is on it, he adds
        # lean first, and slows only for the curvature beyond that.
        surprised_deg = np.minimum(plan.lean_deg + _SURPRISE_DEG, _MOST_LEAN_DEG)
        surprised_deg = np.maximum(surprised_deg, plan.lean_deg)
        spared = np.tan(np.radians(plan.lean_deg)) / np.tan(np.radians(surprised_deg))
        bend = np.maximum(np.abs(expected.curvature_1pm), spared * np.abs(line.curvature_1pm))
        limits = Limits(
            plan.lean_deg,
            plan.effort * style.brake_mps2,
            plan.effort * style.drive_mps2,
            plan.limit_mps,
            style.top_speed_mps,
        )
        vertical = self.road.vertical_at(plan.station_m)
        return line, profile(line.length_m, bend, vertical, limits)

    def in_time(
        self, line: Line, speed: FloatArray, wobble: FloatArray
    ) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Even times, the mass path at them, and what :class:`Ride` calls the ground under it.

        Shapes ``(n,)``, ``(n, 2)`` and ``(n, 4)``.
        """
        taken = 2.0 * np.diff(line.length_m) / (speed[1:] + speed[:-1])
        at = HOLD_S + np.concatenate([[0.0], np.cumsum(taken)])
        times = np.arange(0.0, at[-1] + HOLD_S, KNOT_S)
        # Smoothing the distance as a function of time smooths the speed: brakes and drive come on and
        # go off over the pedal time, and the ground covered stays the same.
        ridden = _eased(_distance(times, at, line.length_m, speed), self.style.pedal_s)
        points = np.stack([line.x_m, line.y_m, line.station_m], axis=1)
        x, y, station = CubicSpline(line.length_m, points)(ridden).T
        facing = np.unwrap(np.arctan2(np.gradient(line.y_m), np.gradient(line.x_m)))
        facing = np.interp(ridden, line.length_m, facing)
        tyres = np.stack([x, y], axis=1)
        vertical = self.road.vertical_under(station, tyres, KNOT_S)
        mass = above_tyres(tyres, facing, vertical, self.style.com_height_m, KNOT_S)
        riding = smooth_step((np.gradient(ridden, KNOT_S) - _STEADY_MPS) / _STEADY_MPS)
        across = (riding * wobble[: len(times)])[:, None]
        mass = mass + across * np.stack([-np.sin(facing), np.cos(facing)], axis=1)
        # The mass runs beside the tyres, so it passes the same crest over another length.
        vertical = self.road.vertical_under(station, mass, KNOT_S)
        height = self.road.height_at(station)
        return times, mass, np.stack([station, vertical, height, facing], axis=1)


def _roll_excess(result: Ride, station_m: FloatArray) -> FloatArray:
    """Roll rate as a share of the rider's fastest, the largest within 25 m of each station, ``(n,)``."""
    times = np.arange(0.0, result.end_s, KNOT_S)
    roll = np.abs(np.gradient(result.at(times).lean_deg, KNOT_S)) / result.style.roll_dps
    place = np.searchsorted(station_m, result.station_at(times)).clip(0, len(station_m) - 1)
    excess = np.zeros_like(station_m)
    np.maximum.at(excess, place, roll)
    return maximum_filter1d(excess, 51, mode="nearest")


def _distance(
    times: FloatArray, at: FloatArray, length: FloatArray, speed: FloatArray
) -> FloatArray:
    """Distance at times, metres, where speed changes linearly in time between the points of the line."""
    i = np.clip(np.searchsorted(at, times, side="right") - 1, 0, len(at) - 2)
    within = np.clip(times - at[i], 0.0, at[i + 1] - at[i])
    gain = (speed[i + 1] - speed[i]) / (at[i + 1] - at[i])
    return length[i] + speed[i] * within + 0.5 * gain * within**2


def _eased(values: FloatArray, over_s: float) -> FloatArray:
    """A running mean taken four times: its weight is a cubic B-spline, twice ``over_s`` wide."""
    width = 2 * max(round(0.25 * over_s / KNOT_S), 1) + 1
    for _ in range(4):
        values = uniform_filter1d(values, width, mode="nearest")
    return values
