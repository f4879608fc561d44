"""A course found from the riders' own paths, when there is no track file.

The loop, its direction, a start line on the longest straight and the corners follow from where and how fast
everybody rode. Nothing is known of cones, edges, seams, camber or the line the coach wants.
"""

from __future__ import annotations

from collections.abc import Sequence
from operator import attrgetter

import numpy as np

from lapkit.arrays import FloatArray, read_only
from lapkit.course.bends import Bend, find_bends
from lapkit.course.course import Corner, Course
from lapkit.course.plane import Plane
from lapkit.course.rides import Ride, sample
from lapkit.course.stations import StationLine
from lapkit.course.usual_lap import UsualLap, usual_lap

MOST_PATHS = 12
"""The course is found from this many of the longest paths: more would not move the middle of the rides."""

START_HALF_WIDTH_M = 15.0
"""Half the length of the start line, metres: track, verge and receiver error (our choice)."""

OPEN_START_M = 10.0
"""Station of the start line of an open course, metres."""

_OTHER_LEG_M = 60.0  # places nearer along the course are on the same leg
_NARROWEST_M = 5.0  # half of the shortest start line: half a track and a receiver's error


def course_from_paths(paths: Sequence[Ride], plane: Plane) -> Course:
    """Find the course from riders' paths.

    A loop that is ridden again and again makes a closed course, in the direction ridden most. Its stations begin at
    the start line, which lies across the middle of the longest straight. Where nothing is ridden twice, or only up
    and down again as a hill is, the course is open. Out-laps, pit visits and laps the other way round are ignored.

    Args:
        paths: one for each log, at 1 Hz or more.
        plane: the plane they lie on.

    Raises:
        TrackError: hardly anything was ridden.
    """
    longest = sorted(paths, key=_ridden_m, reverse=True)[:MOST_PATHS]
    lap = usual_lap(sample(longest))
    line = StationLine.through(lap.xy_m[:, 0], lap.xy_m[:, 1], lap.closed)
    bends = find_bends(line, _speed_along(line, lap))
    start = OPEN_START_M
    if lap.closed:
        shift = _longest_straight(line, bends)
        x, y = line.at(shift + line.station_m[::2])
        line, start = StationLine.through(x, y, True), 0.0
        shifted = [_shifted(bend, shift, line) for bend in bends]
        bends = tuple(sorted(shifted, key=attrgetter("turn_in_m")))
    else:
        # Laps begin at the start line, so a bend that begins before it would be in none.
        bends = tuple(bend for bend in bends if bend.turn_in_m > start)
    return Course(
        plane=plane,
        reference=line,
        start_line=_start_line(line, start),
        corners=tuple(
            Corner(str(number), bend.turn, bend.turn_in_m, (bend.apex_m,), bend.exit_m)
            for number, bend in enumerate(bends, 1)
        ),
        found=True,
    )


def _ridden_m(path: Ride) -> float:
    """Length of a path, metres."""
    return float(np.sum(np.hypot(np.diff(path.x_m), np.diff(path.y_m))))


def _speed_along(line: StationLine, lap: UsualLap) -> FloatArray:
    """Usual speed at the points of the line through the usual lap, m/s, ``(n,)``."""
    count = len(lap.speed_mps)
    share = np.linspace(0.0, 1.0, count, endpoint=not lap.closed)
    period = 1.0 if lap.closed else None
    return np.interp(line.station_m / line.length_m, share, lap.speed_mps, period=period)


def _longest_straight(line: StationLine, bends: Sequence[Bend]) -> float:
    """Station of the middle of the longest stretch between two bends, metres; 0 without bends."""
    if not bends:
        return 0.0
    begins = np.array([bend.exit_m for bend in bends])
    ends = np.array([bend.turn_in_m for bend in (*bends[1:], bends[0])])
    way = np.mod(ends - begins, line.length_m)
    longest = int(np.argmax(way))
    return float(line.wrap(begins[longest] + 0.5 * way[longest]))


def _shifted(bend: Bend, by_m: float, line: StationLine) -> Bend:
    """The same bend once stations begin ``by_m`` metres further on."""
    turn_in = float(line.wrap(bend.turn_in_m - by_m))
    back = bend.turn_in_m - turn_in
    return Bend(bend.turn, turn_in, bend.apex_m - back, bend.exit_m - back)


def _start_line(line: StationLine, station_m: float) -> FloatArray:
    """Two points across the line, left first, that keep clear of other legs of the course, metres, ``(2, 2)``."""
    x, y = line.at(station_m)
    away = np.hypot(line.x_m - x, line.y_m - y)
    along = np.abs(line.station_m - station_m)
    if line.closed:
        along = np.minimum(along, line.length_m - along)
    other = away[along > _OTHER_LEG_M]
    half = min(START_HALF_WIDTH_M, 0.5 * float(np.min(other, initial=np.inf)))
    half = max(half, _NARROWEST_M)
    return read_only(np.stack(line.offset_points(np.full(2, station_m), [half, -half]), axis=-1))
