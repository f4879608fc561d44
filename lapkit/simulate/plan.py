"""What a rider means to do on a run: which line, lap by lap, out of the pit lane and back into it."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from lapkit.course.course import Corner, Course
from lapkit.curvature import HELD_OVER_M, held_curvature
from lapkit.simulate.lines import GRID_M, Line, marker_offset, rounded, through
from lapkit.simulate.style import Habit, RiderStyle
from lapkit.units import FloatArray

_PIT_HALF_M = 150.0
_PIT_TAPER_M = 60.0
_SEAM_ROOM_M = 0.9
_STEADY_OVER_M = 6.0


@dataclass(frozen=True, eq=False)
class Plan:
    """A run's meant line on a grid of unwrapped stations; arrays of shape ``(n,)``.

    ``offset_m`` is the line with every habit, ``expected_m`` the line he sets his speed by: without the
    exits that he tightens when he is already on them. ``lean_deg`` is the lean he settles at, ``effort``
    the share of brakes and drive that he uses, ``limit_mps`` the speed of the pit lane.
    """

    station_m: FloatArray
    offset_m: FloatArray
    expected_m: FloatArray
    lean_deg: FloatArray
    effort: FloatArray
    limit_mps: FloatArray


def plan_run(course: Course, style: RiderStyle, laps: int, rng: np.random.Generator) -> Plan:
    """A run from the hold point over an out-lap, timed laps and an in-lap back to the hold point."""
    length = course.reference.length_m
    hold_station, hold_offset = hold_place(course)
    count = int(round((laps + 2) * length / GRID_M))
    station = hold_station + np.arange(count + 1) * ((laps + 2) * length / count)
    along, across, tightened = np.zeros_like(station), np.zeros_like(station), np.zeros_like(station)
    lean = np.full_like(station, style.lean_deg)
    for corner in course.corners:
        habit = style.habit_in(corner.name)
        pull = _tightening(course, corner, habit.tighten_exit)
        for lap in range(-1, laps + 3):
            start = lap * length
            if not station[0] + 50.0 < start + corner.turn_in_m < station[-1] - 50.0:
                continue
            own = _Pass(corner, habit, style, rng)
            along += through(own.phase_knots(start), station)
            across += through(own.wide_knots(course, start), station)
            tightened += pull * through(_pull_knots(corner, start), station)
            lean += through([(start + corner.turn_in_m, own.lean), (start + corner.exit_m, own.lean)], station)
    base = marker_offset(course, station + along)
    pit, limit = _pit(course, station, hold_offset)
    expected = pit * hold_offset + (1.0 - pit) * (base + across)
    easy = np.where((station < station[0] + length) | (station > station[-1] - length), 0.7, 1.0)
    return Plan(
        station, expected + (1.0 - pit) * tightened, expected, lean * (0.6 + 0.4 * easy), easy, limit
    )


class _Pass:
    """One pass of one corner: the scatter drawn for it."""

    def __init__(self, corner: Corner, habit: Habit, style: RiderStyle, rng: np.random.Generator) -> None:
        self.corner, self.habit = corner, habit
        self.phase = -habit.early_turn_in_m + style.phase_sd_m * rng.standard_normal()
        self.wide = style.offset_sd_m * rng.standard_normal(len(corner.apexes_m) + 2)
        self.lean = style.lean_sd_deg * rng.standard_normal()

    def phase_knots(self, start: float) -> list[tuple[float, float]]:
        """(station, metres by which the line is shifted forward there)."""
        c = self.corner
        entry = c.apexes_m[0] - c.turn_in_m
        # The marker line seen a little ahead is the line turned in early.
        shift = -self.phase
        return [
            (start + c.turn_in_m - 15.0, shift),
            (start + c.turn_in_m + 0.3 * entry, shift),
            (start + c.apexes_m[0], 0.3 * shift),
            (start + c.exit_m, 0.0),
        ]

    def wide_knots(self, course: Course, start: float) -> list[tuple[float, float]]:
        """(station, offset to the left to be added to the marker line)."""
        c, sign = self.corner, -self.corner.turn.sign
        wide = self.wide.copy()
        wide[1:-1] += self.habit.apex_wide_m
        wide[-1] += self.habit.exit_wide_m
        at = np.array([c.turn_in_m, *c.apexes_m, c.exit_m])
        knots = [(start + s, sign * w) for s, w in zip(at, wide, strict=True)]
        if self.habit.inside_seam_exit and c.seams:
            knots = knots[:-1] + [
                (start + s, target - marker_offset(course, np.array([s]))[0] + sign * self.wide[-1])
                for s, target in _inside_seam(c)
            ]
        return knots


def _inside_seam(corner: Corner) -> list[tuple[float, float]]:
    """Stations of the exit phase and offsets just inside the first seam there."""
    phase = corner.exit_m - corner.last_apex_m
    at = corner.last_apex_m + phase * np.array([0.4, 0.7, 1.0])
    return [(s, float(corner.seams[0].offset_at(s)) + corner.turn.sign * _SEAM_ROOM_M) for s in at]


def _pull_knots(corner: Corner, start: float) -> list[tuple[float, float]]:
    """Shape of a tightened exit: wide at the last apex, then pulled in; positive to the left, one metre."""
    phase, wide = corner.exit_m - corner.last_apex_m, -corner.turn.sign
    return [
        (start + corner.turn_in_m, 0.0),
        (start + corner.last_apex_m - 2.0, wide),
        (start + corner.last_apex_m + 3.0, wide),
        (start + corner.last_apex_m + 0.8 * phase, -0.5 * wide),
        (start + corner.exit_m, -0.5 * wide),
    ]


def _tightening(course: Course, corner: Corner, share: float) -> float:
    """Metres of pull at which the exit's tightest radius is that share below the marker line's."""
    if share <= 0:
        return 0.0
    station = np.arange(corner.turn_in_m - 100.0, corner.exit_m + 100.0, GRID_M)
    base = marker_offset(course, station)
    shape = through(_pull_knots(corner, 0.0), station)
    over = np.full_like(station, _STEADY_OVER_M)

    def tightest(pull: float) -> float:
        return exit_curvature(rounded(course, station, base + pull * shape, over), corner)

    aim = tightest(0.0) / (1.0 - share)
    low, high = 0.0, 4.0
    for _ in range(20):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if tightest(middle) < aim else (low, middle)
    return 0.5 * (low + high)


def exit_curvature(line: Line, corner: Corner) -> float:
    """Largest curvature into the corner that a line holds over 10 m of its exit phase, 1/m."""
    heading = np.unwrap(np.arctan2(np.gradient(line.y_m), np.gradient(line.x_m)))
    first, last = np.interp([corner.last_apex_m, corner.exit_m], line.station_m, line.length_m)
    start = np.arange(first, max(last - HELD_OVER_M, first) + 0.1, 0.5)
    return float(np.nanmax(corner.turn.sign * held_curvature(heading, line.length_m, start)))


def hold_place(course: Course) -> tuple[float, float]:
    """Station and offset of the hold point; beside the start line, off the track, without one."""
    if course.hold_points is not None and len(course.hold_points):
        x, y = course.hold_points[0]
        station, offset = course.reference.project(np.array([x]), np.array([y]))
        return float(station[0]), float(offset[0])
    middle = course.start_line.mean(axis=0)
    station, _ = course.reference.project(middle[:1], middle[1:])
    _, right = course.reference.project(course.start_line[1:, 0], course.start_line[1:, 1])
    return float(station[0]), float(right[0]) - 6.0


def _pit(course: Course, station: FloatArray, hold_offset: float) -> tuple[FloatArray, FloatArray]:
    """Share of the pit lane's offset at each station, and the speed allowed, m/s."""
    from_end = np.minimum(station - station[0], station[-1] - station)
    share = np.clip((_PIT_HALF_M + _PIT_TAPER_M - from_end) / _PIT_TAPER_M, 0.0, 1.0)
    share = share**3 * (10.0 - 15.0 * share + 6.0 * share**2)
    return share, np.where(share > 0.3, 14.0, np.inf)
