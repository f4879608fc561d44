"""What really happened on a ride, worked out directly from its exact path.

Plain code on purpose, and independent of the estimator and of the comparison, whose tables are checked
against it. Frames carry those published columns for which there is a truth; there are no intervals.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from lapkit.arrays import FloatArray
from lapkit.course.course import Corner, Course, CourseMarker
from lapkit.course.stations import StationLine
from lapkit.curvature import HELD_OVER_M
from lapkit.simulate.dense import Dense, crossings_s
from lapkit.simulate.motion import Ride

_STEP_M = 0.25  # from window to window: much finer than measures step
_BESIDE_M = 40.0  # stations each side of a place that are searched


@dataclass(frozen=True)
class TrueLap:
    """A lap between two exact crossings; times since the ride's epoch. Lap 0 is the out-lap."""

    lap: int
    kind: str
    start_s: float
    end_s: float


@dataclass(frozen=True)
class TruePass:
    """A corner ridden in a lap; ``before_m`` is the length of the whole laps before it, along the reference."""

    lap: TrueLap
    corner: Corner
    before_m: float


def true_laps(ride: Ride) -> list[TrueLap]:
    """The laps of a ride: out-lap, timed laps, in-lap."""
    limits = [0.0, *crossings_s(ride), ride.end_s]
    kinds = ["out", *["timed"] * (len(limits) - 3), "in"]
    ends = zip(kinds, limits[:-1], limits[1:], strict=True)
    return [TrueLap(i, kind, start, end) for i, (kind, start, end) in enumerate(ends)]


def true_passes(dense: Dense) -> list[TruePass]:
    """Every pass of every corner from turn-in to exit, lap by lap."""
    laps, length = true_laps(dense.ride), dense.ride.course.reference.length_m
    first, last = dense.station_m[0], dense.station_m[-1]
    found = []
    for corner in dense.ride.course.corners:
        for whole in range(int(first // length), int(last // length) + 1):
            before = whole * length
            if first < before + corner.turn_in_m and before + corner.exit_m < last:
                time = dense.reached_s(before + corner.turn_in_m)
                lap = next(lap for lap in laps if lap.start_s <= time < lap.end_s)
                found.append(TruePass(lap, corner, before))
    return sorted(found, key=lambda each: (each.lap.lap, each.corner.turn_in_m))


def truth_tables(ride: Ride) -> dict[str, pd.DataFrame]:
    """Frames ``laps``, ``corners``, ``markers`` and ``seams`` of one ride.

    ``start_s`` in ``laps`` counts from 1970-01-01T00:00:00Z. Every lap has its corners, the out-lap
    and the in-lap too.
    """
    dense = Dense.of(ride)
    passes = true_passes(dense)
    course = ride.course
    lines = {c.name: _line_exit_radius(course, c) for c in course.corners}
    offsets = {
        (c.name, m.name): _line_offset(course, m.station_m)
        for c in course.corners
        for m in c.markers
    }
    return {
        "laps": pd.DataFrame([_lap(dense, lap) for lap in true_laps(ride)]),
        "corners": pd.DataFrame([_corner(dense, p, lines[p.corner.name]) for p in passes]),
        "markers": pd.DataFrame(
            [
                _marker(dense, p, m, offsets[p.corner.name, m.name])
                for p in passes
                for m in p.corner.markers
            ]
        ),
        "seams": pd.DataFrame([row for p in passes for row in _seams(dense, p)]),
    }


def _lap(dense: Dense, lap: TrueLap) -> dict[str, object]:
    return {
        "lap": lap.lap,
        "kind": lap.kind,
        "start_s": dense.ride.epoch_s + lap.start_s,
        "time_s": lap.end_s - lap.start_s,
        "distance_m": dense.ridden_m(lap.end_s) - dense.ridden_m(lap.start_s),
    }


def _windows(start_m: float, end_m: float) -> tuple[FloatArray, float]:
    """Starts of all windows that lie wholly between two distances, and their length."""
    length = min(HELD_OVER_M, end_m - start_m)
    return np.arange(start_m, end_m - length + 1e-9, _STEP_M), length


def _corner(dense: Dense, passed: TruePass, line_exit_m: float) -> dict[str, object]:
    corner, before = passed.corner, passed.before_m
    sign = corner.turn.sign
    phases = np.array([corner.turn_in_m, corner.last_apex_m, corner.exit_m]) + before
    times = [dense.reached_s(station) for station in phases]
    turn_in, apex, leave = (dense.ridden_m(time) for time in times)
    starts, length = _windows(turn_in, leave)
    bent = sign * dense.curvature(starts, length)
    lean = sign * dense.lean_along.mean(starts, length)
    station = np.interp(starts + 0.5 * length, dense.distance_m, dense.station_m) - before
    grip = np.tan(np.radians(lean - corner.camber_at(station)))
    exits, exit_length = _windows(apex, leave)
    exit_bent = sign * dense.curvature(exits, exit_length)
    centred = np.array([turn_in, leave]) - 0.5 * HELD_OVER_M
    entry_speed, exit_speed = dense.speed_along.mean(centred).tolist()
    exit_radius = 1.0 / float(exit_bent.max())
    return {
        "lap": passed.lap.lap,
        "kind": passed.lap.kind,
        "corner": corner.name,
        "turn": corner.turn.value,
        "time_s": times[2] - times[0],
        "entry_speed_mps": entry_speed,
        "slowest_mps": float(dense.speed_along.mean(starts, length).min()),
        "exit_speed_mps": exit_speed,
        "radius_min_m": 1.0 / float(bent.max()),
        "radius_min_at_m": float(starts[bent.argmax()]) + 0.5 * length - turn_in,
        "exit_radius_min_m": exit_radius,
        "exit_radius_at_m": float(exits[exit_bent.argmax()]) + 0.5 * exit_length - turn_in,
        "line_exit_radius_min_m": line_exit_m,
        "exit_radius_ratio": exit_radius / line_exit_m,
        "lean_max_deg": float(lean.max()),
        "lean_max_at_m": float(starts[lean.argmax()]) + 0.5 * length - turn_in,
        "grip_max": float(grip.max()),
    }


def _line_exit_radius(course: Course, corner: Corner) -> float:
    """Tightest radius that the marker line holds in the exit phase; NaN without a line."""
    line = course.marker_line
    if line is None:
        return float("nan")
    along, station, _ = _line_near(course, line, corner.last_apex_m, corner.exit_m)
    start, end = np.interp([corner.last_apex_m, corner.exit_m], station, along)
    starts, length = _windows(start, end)
    turned = line.heading_at(starts + length) - line.heading_at(starts)
    return 1.0 / float((corner.turn.sign * turned / length).max())


def _line_near(
    course: Course, line: StationLine, first_m: float, last_m: float
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """The marker line around stations of the reference: metres along it, station, offset."""
    ends = np.array([first_m, last_m])
    # Followed, because at a bridge the nearest leg may be the other one.
    passed, _ = course.reference.follow(line.x_m, line.y_m)
    near = np.abs(course.reference.way(passed - ends[:, None])).argmin(axis=1)
    start, end = line.project_near(*course.reference.at(ends), line.station_m[near])[0].tolist()
    along = np.arange(start - _BESIDE_M, start + line.way(end - start) + _BESIDE_M, 0.1)
    station, offset = course.reference.follow(*line.at(along))
    before = course.reference.way(station[0] - first_m) - (station[0] - first_m)
    return along, station + before, offset


def _marker(
    dense: Dense, passed: TruePass, marker: CourseMarker, line_offset_m: float
) -> dict[str, object]:
    corner, sign = passed.corner, passed.corner.turn.sign
    station = passed.before_m + marker.station_m
    start = np.array([dense.ridden_m(dense.reached_s(station)) - 0.5 * HELD_OVER_M])
    offset = float(dense.offset_along.mean(start)[0])
    lean = float(dense.lean_along.mean(start)[0])
    speed = float(dense.speed_along.mean(start)[0])
    seams = np.array([float(seam.offset_at(np.array(marker.station_m))) for seam in corner.seams])
    wide = -sign * (offset - line_offset_m)
    return {
        "lap": passed.lap.lap,
        "kind_of_lap": passed.lap.kind,
        "corner": corner.name,
        "marker": marker.name,
        "kind": marker.kind.value,
        "gap_m": _gap(dense, marker, station),
        "wide_of_line_m": wide,
        "lane": 1 + int(np.count_nonzero(sign * (offset - seams) < 0.0)),
        "speed_mps": speed,
        "radius_m": 1.0 / abs(float(dense.curvature(start)[0])),
        "lean_deg": sign * lean,
        "lean_road_deg": sign * lean - marker.camber_deg,
    }


def _line_offset(course: Course, station_m: float) -> float:
    """Mean offset of 10 m of the marker line around a station; NaN without a line."""
    if course.marker_line is None:
        return float("nan")
    along, station, offset = _line_near(course, course.marker_line, station_m, station_m)
    centre = np.interp(station_m, station, along)
    return float(offset[np.abs(along - centre) <= 0.5 * HELD_OVER_M].mean())


def _gap(dense: Dense, marker: CourseMarker, station_m: float) -> float:
    """Closest distance of the tyre path to a cone, positive when passed on the proper side."""
    near = np.abs(dense.station_m - station_m) < _BESIDE_M
    x, y = dense.tyre_x_m[near], dense.tyre_y_m[near]
    distance = np.hypot(marker.x_m - x, marker.y_m - y)
    i = int(np.clip(distance.argmin(), 1, len(x) - 2))
    ahead = np.array([x[i + 1] - x[i - 1], y[i + 1] - y[i - 1]])
    cone = np.array([marker.x_m - x[i], marker.y_m - y[i]])
    on_left = np.sign(ahead[0] * cone[1] - ahead[1] * cone[0])
    return float(distance[i] * on_left * marker.side.sign)


def _seams(dense: Dense, passed: TruePass) -> list[dict[str, object]]:
    """Share of the exit phase, by length of tyre path, ridden on the inner side of each seam."""
    corner, before = passed.corner, passed.before_m
    phase = (dense.station_m >= before + corner.last_apex_m) & (
        dense.station_m <= before + corner.exit_m
    )
    station, offset = dense.station_m[phase] - before, dense.offset_m[phase]
    step = np.hypot(np.gradient(dense.tyre_x_m[phase]), np.gradient(dense.tyre_y_m[phase]))
    return [
        {
            "lap": passed.lap.lap,
            "kind": passed.lap.kind,
            "corner": corner.name,
            "seam": seam.name,
            "inside_share": float(
                step[corner.turn.sign * (offset - seam.offset_at(station)) > 0.0].sum() / step.sum()
            ),
        }
        for seam in corner.seams
    ]
