"""A line measured in stations: metres along it, and offsets to its left.

A path is projected continuously, from fix to fix along the line. So it is never assigned to the wrong leg
where straights run parallel, legs cross, or the two legs of a hairpin touch.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike
from scipy.spatial import cKDTree

from lapkit.arrays import FloatArray, read_only
from lapkit.course.follow import FURTHER_M, ON_COURSE_M, follow
from lapkit.course.resample import resample

_COARSE_M = 8.0  # less than two legs lie apart, and coarse enough to be quick
# Near one of its points a leg is at most this many times longer than a straight line.
_SAME_LEG = 1.3
_NEWTON_ROUNDS = 20  # it takes 4 beside a line, 17 about the centre of a tight bend
_NEWTON_STEP_M = 6.0  # farther, a bend no longer looks like its tangent
_NEWTON_DONE_M = 1e-4  # a tenth of a millimetre

LEAST_STRETCH = 0.15
"""Lower bound put on the stretch 1 − κ · offset: it vanishes at a bend's centre, where projections are not unique."""


def growing(station_m: FloatArray) -> np.ndarray:
    """Which of the stations ``(n,)`` exceed all before them: in a tight bend a projection can step back a little."""
    return station_m > np.maximum.accumulate(np.concatenate([[-np.inf], station_m[:-1]]))


class _Place(NamedTuple):
    """Where stations lie: the segment, the share of it, metres beyond an open end, and whole laps before."""

    segment: np.ndarray
    u: FloatArray
    beyond_m: FloatArray
    laps: FloatArray


@dataclass(frozen=True, eq=False)
class StationLine:
    """A line with evenly spaced stations; every array has shape ``(n,)``.

    Stations beyond the end of a closed line count on, lap after lap. An open line goes straight on beyond its ends.

    Attributes:
        x_m, y_m: its points, metres east and north; the last one of a closed line is the first again.
        station_m: distance along it, metres; ``station_m[-1]`` is its length.
        heading_rad: counter-clockwise from east, unwrapped.
        curvature_1pm: 1/m, left positive.
        closed: whether it is a loop.
    """

    x_m: FloatArray
    y_m: FloatArray
    station_m: FloatArray
    heading_rad: FloatArray
    curvature_1pm: FloatArray
    closed: bool

    def __repr__(self) -> str:
        """Short: a notebook shows it where nobody asked for every point."""
        return f"<StationLine of {self.length_m:.0f} m, {'closed' if self.closed else 'open'}>"

    @classmethod
    def through(cls, x_m: ArrayLike, y_m: ArrayLike, closed: bool) -> StationLine:
        """The line through vertices (metres, shape ``(n,)``), resampled every 1.5 m or less.

        Raises:
            TrackError: too few different vertices, or coordinates that are not numbers.
        """
        x, y = np.asarray(x_m, dtype=np.float64), np.asarray(y_m, dtype=np.float64)
        even = resample(x, y, closed)
        return cls(
            read_only(even.x_m),
            read_only(even.y_m),
            read_only(even.station_m),
            read_only(even.heading_rad),
            read_only(even.curvature_1pm),
            closed,
        )

    @property
    def length_m(self) -> float:
        """Length of the line, once round when closed, metres."""
        return float(self.station_m[-1])

    @property
    def period_m(self) -> float | None:
        """The period of stations, metres: the length of a closed line, None for an open one."""
        return self.length_m if self.closed else None

    @property
    def step_m(self) -> float:
        """Distance between its points along the line, metres."""
        return float(self.station_m[1])

    @cached_property
    def tree(self) -> cKDTree:
        """Search tree over the points, each of them once."""
        points = np.stack([self.x_m, self.y_m], axis=-1)
        return cKDTree(points[:-1] if self.closed else points)

    @property
    def coarse_step_m(self) -> float:
        """Distance between the points of :attr:`coarse`, metres."""
        most = (len(self.station_m) - 1) // 4  # a line of a few metres still has several
        return self.step_m * max(1, min(round(_COARSE_M / self.step_m), most))

    @cached_property
    def coarse(self) -> tuple[np.ndarray, cKDTree]:
        """Indices of points some eight metres apart, and a search tree over them."""
        stride = round(self.coarse_step_m / self.step_m)
        index = np.arange(0, len(self.x_m) - (stride // 2 + 1 if self.closed else 0), stride)
        return index, cKDTree(np.stack([self.x_m[index], self.y_m[index]], axis=-1))

    @cached_property
    def lonely(self) -> np.ndarray:
        """Which points of :attr:`coarse` have no other leg near enough to be confused with their own."""
        index, tree = self.coarse
        reach = 2.0 * ON_COURSE_M + FURTHER_M
        pairs = tree.query_pairs(reach, output_type="ndarray")
        station = self.station_m[index]
        between = np.abs(self.way(station[pairs[:, 1]] - station[pairs[:, 0]]))
        alone = np.ones(len(index), dtype=bool)
        alone[pairs[between > _SAME_LEG * reach]] = False
        return alone

    @cached_property
    def _tangents(self) -> tuple[FloatArray, FloatArray]:
        return np.cos(self.heading_rad), np.sin(self.heading_rad)

    def wrap(self, station_m: ArrayLike) -> FloatArray:
        """Stations of any shape brought into ``[0, length)`` when closed, unchanged when open."""
        station = np.asarray(station_m, dtype=np.float64)
        return np.mod(station, self.length_m) if self.closed else station

    def way(self, difference_m: ArrayLike) -> FloatArray:
        """Differences of stations, any shape, taken the shorter way round: within half a lap when closed."""
        difference = np.asarray(difference_m, dtype=np.float64)
        if not self.closed:
            return difference
        half = 0.5 * self.length_m
        return np.mod(difference + half, self.length_m) - half

    def at(self, station_m: ArrayLike) -> tuple[FloatArray, FloatArray]:
        """Points at stations of any shape, metres east and north."""
        place = self._locate(station_m)
        return self._point(place)

    def heading_at(self, station_m: ArrayLike) -> FloatArray:
        """Heading at stations of any shape, radians counter-clockwise from east.

        It is continuous along the stations: every lap of a simple loop adds or takes 2π.
        """
        place = self._locate(station_m)
        turned = place.laps * (self.heading_rad[-1] - self.heading_rad[0])
        return self._between(self.heading_rad, place) + turned

    def left_at(self, station_m: ArrayLike) -> FloatArray:
        """Unit vectors to the left at stations of any shape, east and north, shape ``(..., 2)``."""
        heading = self.heading_at(self.wrap(station_m))
        return np.stack([-np.sin(heading), np.cos(heading)], axis=-1)

    def leads_ahead(self, station_m: FloatArray, vx: FloatArray, vy: FloatArray) -> np.ndarray:
        """Whether velocities at stations ``(n,)`` point the line's way rather than back."""
        left = self.left_at(station_m)
        return vx * left[:, 1] > vy * left[:, 0]

    def curvature_at(self, station_m: ArrayLike) -> FloatArray:
        """Curvature at stations of any shape, 1/m, left positive."""
        place = self._locate(station_m)
        return np.where(place.beyond_m == 0.0, self._between(self.curvature_1pm, place), 0.0)

    def offset_points(
        self, station_m: ArrayLike, offset_m: ArrayLike
    ) -> tuple[FloatArray, FloatArray]:
        """Points at offsets (left positive, metres) from the line at stations; shapes broadcast."""
        x, y = self.at(station_m)
        heading = self.heading_at(station_m)
        offset = np.asarray(offset_m, dtype=np.float64)
        return x - offset * np.sin(heading), y + offset * np.cos(heading)

    def project(self, x_m: ArrayLike, y_m: ArrayLike) -> tuple[FloatArray, FloatArray]:
        """Station and offset of the nearest point of the line, for points of any equal shape.

        For a path in time order :meth:`follow` keeps to the leg that is being ridden.
        """
        x, y = np.asarray(x_m, dtype=np.float64), np.asarray(y_m, dtype=np.float64)
        _, nearest = self.tree.query(np.stack([x, y], axis=-1))
        station, offset = self.project_near(x, y, self.station_m[nearest])
        return self.wrap(station), offset

    def project_near(
        self, x_m: ArrayLike, y_m: ArrayLike, station_m: ArrayLike
    ) -> tuple[FloatArray, FloatArray]:
        """Station and offset of points near known stations, metres; shapes broadcast.

        The known stations must be right to some ten metres, such as stations of another draw or of the fix
        before. The laps counted in them are kept.
        """
        x, y, near = np.broadcast_arrays(x_m, y_m, np.asarray(station_m, dtype=np.float64))
        flat_x, flat_y, station = x.ravel(), y.ravel(), near.ravel().copy()
        offset, moving = np.empty_like(station), np.arange(station.size)
        for _ in range(_NEWTON_ROUNDS):
            along, aside, stretch = self._seen_from(flat_x[moving], flat_y[moving], station[moving])
            offset[moving] = aside
            station[moving] += along / stretch
            moving = moving[np.abs(along) > _NEWTON_DONE_M]
            if len(moving) == 0:
                break
        return station.reshape(x.shape), offset.reshape(x.shape)

    def follow(self, x_m: ArrayLike, y_m: ArrayLike) -> tuple[FloatArray, FloatArray]:
        """Station and offset of a path in time order, on the leg being ridden; shape ``(n,)``.

        Stations are unwrapped: on a closed line they keep growing lap after lap, from about
        ``[0, length)`` at the first point. They stay right across gaps in the log, while the rider stands
        still, and when he leaves the course and comes back.
        """
        x, y = np.asarray(x_m, dtype=np.float64), np.asarray(y_m, dtype=np.float64)
        return self.project_near(x, y, follow(self, x, y))

    def follow_either_way(
        self, x_m: FloatArray, y_m: FloatArray
    ) -> tuple[FloatArray, FloatArray, slice]:
        """Station and offset of a path, ``(n,)``, reversed if it was recorded against the line.

        Returns:
            Station and offset as :meth:`follow` gives them, and the slice that puts other arrays of the path
            into the same order.
        """
        turned = slice(None)
        station, offset = self.follow(x_m, y_m)
        if station[-1] < station[0]:
            turned = slice(None, None, -1)
            station, offset = self.follow(x_m[turned], y_m[turned])
        return station, offset, turned

    def _locate(self, station_m: ArrayLike) -> _Place:
        station = np.asarray(station_m, dtype=np.float64)
        length, laps = self.length_m, np.zeros_like(station)
        if self.closed:
            laps = np.floor(station / length)
            station = station - laps * length
        within = np.clip(station, 0.0, length)
        scaled = within / self.step_m
        index = np.minimum(scaled.astype(np.int64), len(self.station_m) - 2)
        return _Place(index, scaled - index, station - within, laps)

    @staticmethod
    def _between(values: FloatArray, place: _Place) -> FloatArray:
        low = values[place.segment]
        return low + place.u * (values[place.segment + 1] - low)

    def _point(self, place: _Place) -> tuple[FloatArray, FloatArray]:
        """Cubic Hermite interpolation between the points with their headings as tangents."""
        i, u, step = place.segment, place.u, self.step_m
        u2 = u * u
        far = u2 * (3.0 - 2.0 * u)
        leave, arrive = step * u * (1.0 - u) ** 2, step * u2 * (u - 1.0)
        tx, ty = self._tangents
        x, y = self.x_m[i], self.y_m[i]
        x = x + far * (self.x_m[i + 1] - x) + leave * tx[i] + arrive * tx[i + 1]
        y = y + far * (self.y_m[i + 1] - y) + leave * ty[i] + arrive * ty[i + 1]
        if self.closed:
            return x, y
        # Only an open line has something beyond its ends; u is 0 or 1 there, so this is the end's tangent.
        ahead_x, ahead_y = self._between(tx, place), self._between(ty, place)
        return x + place.beyond_m * ahead_x, y + place.beyond_m * ahead_y

    def _seen_from(
        self, x: FloatArray, y: FloatArray, station: FloatArray
    ) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Points relative to the line at stations: metres ahead, metres to the left, and the stretch 1 − κ · offset.

        The stretch is how many metres a path at that offset covers for each metre of station.
        """
        place = self._locate(station)
        line_x, line_y = self._point(place)
        heading = self._between(self.heading_rad, place)
        cos, sin = np.cos(heading), np.sin(heading)
        dx, dy = x - line_x, y - line_y
        along, aside = dx * cos + dy * sin, dy * cos - dx * sin
        curvature = self._between(self.curvature_1pm, place)
        stretch = np.maximum(1.0 - curvature * aside, LEAST_STRETCH)
        step = np.clip(along, -_NEWTON_STEP_M, _NEWTON_STEP_M)
        if self.closed:
            return step, aside, stretch
        # Beyond an open end the line runs straight.
        on_line = place.beyond_m == 0.0
        return np.where(on_line, step, along), aside, np.where(on_line, stretch, 1.0)
