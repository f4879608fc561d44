"""What a rider means to do on a run: which line, lap by lap, from the pit lane and back to it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from typing import NamedTuple

import numpy as np

from lapkit.arrays import FloatArray
from lapkit.course.corridor import edges_or_assumed
from lapkit.course.course import Corner, Course
from lapkit.curvature import HELD_OVER_M, held_curvature
from lapkit.simulate.lines import GRID_M, Line, marker_offset, rounded, through
from lapkit.simulate.pit import PIT_SPEED_MPS, PitLane
from lapkit.simulate.style import Habit, RiderStyle

_EASY = 0.7  # share of his brakes and drive that a rider uses on the out-lap and the in-lap
_EASY_LEAN = 0.88  # and of his lean
# A rider who stays inside crosses the first seam late: metres outside it at shares of the exit phase.
_INSIDE_TO = (0.35, 0.6, 0.8, 1.0)
_INSIDE_WIDE_M = (-1.5, -1.0, -0.2, 1.0)
_EVEN_OVER_M = 3.0  # how far a usual rider rounds his line off
_MOST_PULL_M = 3.0  # half a track: nobody pulls the machine in further
_EDGE_ROOM_M = 0.3  # tyres stay on the track
_TOUCHED_M = 120.0  # before turn-in and after the exit, beyond which a pass adds nothing
_AT_ENDS_M = 50.0  # of a run, in which a corner is still part of the pit lane


@dataclass(frozen=True, eq=False)
class Plan:
    """A run's meant line on a grid of unwrapped stations; arrays of shape ``(n,)``.

    ``offset_m`` is the line with every habit, ``expected_m`` the line that he sets his speed by, without
    the exits that he tightens once he is on them; both are metres from the reference, left positive.
    ``lean_deg`` is the lean he settles at, ``effort`` the share of brakes and drive that he uses,
    ``limit_mps`` the speed allowed.
    """

    station_m: FloatArray
    offset_m: FloatArray
    expected_m: FloatArray
    lean_deg: FloatArray
    effort: FloatArray
    limit_mps: FloatArray


class _Sums(NamedTuple):
    """What passes of corners add up to at each station, ``(n,)``; :meth:`add` changes the arrays.

    Attributes:
        phase_m: how far ahead of the marker line he is.
        wide_m: offset to the left by habit and scatter.
        pulled_m: offset to the left on exits that he tightens once he is on them.
        lean_deg: the lean he settles at.
    """

    phase_m: FloatArray
    wide_m: FloatArray
    pulled_m: FloatArray
    lean_deg: FloatArray

    def add(self, passing: _Pass, station_m: FloatArray, before_m: float) -> None:
        """Add one pass; ``before_m`` is the length of the whole laps before it."""
        corner = passing.corner
        ends = before_m + np.array([corner.turn_in_m - _TOUCHED_M, corner.exit_m + _TOUCHED_M])
        # Only stations around the corner are touched: a run of many laps stays quick to plan.
        near = slice(*np.searchsorted(station_m, ends))
        here = station_m[near] - before_m
        pull = through(pull_knots(passing.course, corner), here)
        self.phase_m[near] += through(passing.phase_knots(), here)
        self.wide_m[near] += through(passing.wide_knots(), here)
        self.pulled_m[near] += passing.pull_m * pull
        self.lean_deg[near] += passing.lean_deg * through(_level(corner), here)


def plan_run(course: Course, style: RiderStyle, laps: int, rng: np.random.Generator) -> Plan:
    """A run from the hold point and back to it: an out-lap, ``laps`` timed laps, an in-lap."""
    length, pit = course.reference.length_m, PitLane.of(course)
    first = _first_crossing(course, pit)
    out_m = first - pit.hold_station_m
    # From hold point to hold point, and back into the lane only after the last timed lap.
    whole_m = length * float(np.ceil((out_m + laps * length - pit.along_m[0]) / length))
    in_m = whole_m - out_m - laps * length
    count = round(whole_m / GRID_M)
    ridden = np.arange(count + 1, dtype=np.float64) * (whole_m / count)
    station = pit.hold_station_m + ridden
    to_go = ridden[-1] - ridden
    easy = (ridden < min(0.9 * length, out_m)) | (to_go < min(0.9 * length, in_m))
    lean = style.lean_deg * np.where(easy, _EASY_LEAN, 1.0)
    zero = np.zeros_like(ridden)
    sums = _Sums(zero, zero.copy(), zero.copy(), lean)
    for whole_laps in range(laps + 4):
        before = whole_laps * length
        for corner in course.corners:
            turn_in = before + corner.turn_in_m
            if station[0] + _AT_ENDS_M < turn_in < station[-1] - _AT_ENDS_M:
                lap = 1 + int((turn_in - first) // length)
                sums.add(_Pass(course, corner, style, lap, rng), station, before)
    from_hold = np.where(ridden < to_go, ridden, -to_go)
    share = pit.share(from_hold)
    left, right = edges_or_assumed(course, course.reference.wrap(station))

    def on_track(offset: FloatArray) -> FloatArray:
        kept = np.clip(offset, right + _EDGE_ROOM_M, left - _EDGE_ROOM_M)
        return share * pit.offset_at(from_hold) + (1.0 - share) * kept

    meant = marker_offset(course, station + sums.phase_m) + sums.wide_m
    return Plan(
        station_m=station,
        offset_m=on_track(meant + sums.pulled_m),
        expected_m=on_track(meant),
        lean_deg=sums.lean_deg,
        effort=np.where(easy, _EASY, 1.0),
        limit_mps=np.where(share > 0.5, PIT_SPEED_MPS, np.inf),
    )


def _first_crossing(course: Course, pit: PitLane) -> float:
    """Unwrapped station of the start line when it is first passed outside the pit lane."""
    middle, length = course.start_line.mean(axis=0), course.reference.length_m
    line = float(course.reference.project(middle[:1], middle[1:])[0][0])
    out = pit.hold_station_m + pit.along_m[-1]
    return line + length * float(np.ceil((out - line) / length))


class _Pass:
    """One pass of one corner, with the scatter drawn for it. Stations count within the lap, as the corner's."""

    def __init__(
        self, course: Course, corner: Corner, style: RiderStyle, lap: int, rng: np.random.Generator
    ) -> None:
        self.course, self.corner = course, corner
        self.habit: Habit = style.habit_in(corner.name, lap)
        self.ahead_m = self.habit.early_turn_in_m + style.phase_sd_m * rng.standard_normal()
        self.wide_m = style.offset_sd_m * rng.standard_normal(len(corner.apexes_m) + 2)
        self.wide_m[1:-1] += self.habit.apex_wide_m + style.drift_wide_m * max(lap - 1, 0)
        self.wide_m[-1] += self.habit.exit_wide_m
        self.lean_deg = style.lean_sd_deg * rng.standard_normal()
        steady = 1.0 + 0.15 * rng.standard_normal()
        self.pull_m = steady * pull_for(course, corner.name, self.habit.tighten_exit)

    def phase_knots(self) -> list[tuple[float, float]]:
        """(station, metres by which he is ahead of the marker line there); ahead is turning in early."""
        c = self.corner
        entry = c.apexes_m[0] - c.turn_in_m
        return [
            (c.turn_in_m - 15.0, self.ahead_m),
            (c.turn_in_m + 0.3 * entry, self.ahead_m),
            (c.apexes_m[0], 0.3 * self.ahead_m),
            (c.exit_m, 0.0),
        ]

    def wide_knots(self) -> list[tuple[float, float]]:
        """(station, offset to the left that is added to the marker line)."""
        c, outward = self.corner, -self.corner.turn.sign
        at = [c.turn_in_m, *c.apexes_m, c.exit_m]
        knots = [(s, outward * w) for s, w in zip(at, self.wide_m.tolist(), strict=True)]
        if not self.habit.inside_seam_exit or not c.seams:
            return knots
        after = c.last_apex_m + (c.exit_m - c.last_apex_m) * np.array(_INSIDE_TO)
        line, seam = marker_offset(self.course, after), c.seams[0].offset_at(after)
        # Where the marker line itself is further inside, so is he.
        beyond_seam = np.minimum(outward * (line - seam), _INSIDE_WIDE_M)
        more = seam + outward * (beyond_seam + self.wide_m[-1]) - line
        return knots[:-1] + list(zip(after.tolist(), more.tolist(), strict=True))


def _level(corner: Corner) -> list[tuple[float, float]]:
    """(station, share) of what holds all through a corner, such as the scatter of his lean there."""
    return [(corner.turn_in_m, 1.0), (corner.exit_m, 1.0)]


def pull_knots(course: Course, corner: Corner) -> list[tuple[float, float]]:
    """A tightened exit for a pull of one metre, as (station, offset to the left): wide at the last apex, then pulled in."""
    wide = float(-corner.turn.sign)
    bent = abs(float(course.reference.curvature_at(corner.last_apex_m)))
    # A hairpin's line is straight long before its exit cone: the pull is over sooner there.
    reach = min(0.8 * (corner.exit_m - corner.last_apex_m), 1.6 / max(bent, 1e-3))
    return [
        (corner.turn_in_m, 0.0),
        (corner.last_apex_m - 2.0, wide),
        (corner.last_apex_m + 3.0, wide),
        (corner.last_apex_m + reach, -0.5 * wide),
        (corner.exit_m, -0.5 * wide),
    ]


@lru_cache(maxsize=256)
def pull_for(course: Course, name: str, share: float) -> float:
    """Metres of pull at which the exit's tightest radius is that share below the marker line's."""
    if share <= 0:
        return 0.0
    tightest = _by_pull(course, name)
    aim = tightest(0.0) / (1.0 - share)
    low, high = 0.0, _MOST_PULL_M
    for _ in range(16):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if tightest(middle) < aim else (low, middle)
    return 0.5 * (low + high)


def most_tightened(course: Course, name: str) -> float:
    """The largest share by which a pull can bring the exit's tightest radius below the marker line's."""
    tightest = _by_pull(course, name)
    return 1.0 - tightest(0.0) / tightest(_MOST_PULL_M)


def _by_pull(course: Course, name: str) -> Callable[[float], float]:
    """The exit's largest curvature, 1/m, by metres of pull."""
    corner = course.corner(name)
    station = np.arange(corner.turn_in_m - 100.0, corner.exit_m + 100.0, GRID_M)
    base, shape = marker_offset(course, station), through(pull_knots(course, corner), station)
    over = np.full_like(station, _EVEN_OVER_M)
    return lambda pull: exit_curvature(rounded(course, station, base + pull * shape, over), corner)


def exit_curvature(line: Line, corner: Corner) -> float:
    """Largest curvature into the corner that a line holds over 10 m of its exit phase, 1/m."""
    heading = np.unwrap(np.arctan2(np.gradient(line.y_m), np.gradient(line.x_m)))
    phase = [corner.last_apex_m, corner.exit_m]
    first, last = np.interp(phase, line.station_m, line.length_m)
    start = np.arange(first, max(last - HELD_OVER_M, first) + 0.1, 0.5)
    return float(np.nanmax(corner.turn.sign * held_curvature(heading, line.length_m, start)))
