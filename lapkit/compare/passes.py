"""A run's laps through its corners, as arrays on an even grid along the estimate's path.

A pass is one lap through one corner. A coarse sweep of the whole run finds where each pass lies. The ensemble of
paths is then evaluated at the times of the grid alone, once for all passes that are measured together.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike

from lapkit.arrays import FloatArray
from lapkit.compare.grid import STEP_M, Grid, crossings, sample
from lapkit.compare.held import Held, HeldMean
from lapkit.compare.standard import Standard, standards
from lapkit.compare.sweep import CornerRides, Ridden, Sweep
from lapkit.course.course import Corner, Course
from lapkit.course.stations import LEAST_STRETCH
from lapkit.path.draws import PathDraws
from lapkit.splitter import Lap

_CHANNELS = (
    "tyre_x_m", "tyre_y_m", "station_m", "offset_m", "distance_m", "speed_mps", "heading_rad",
    "curvature_1pm", "lean_tangent",
)  # fmt: skip


@dataclass(frozen=True, eq=False)
class Passes:
    """Passes of a run, one after the other, corner by corner.

    Arrays have shape ``(rows, n)`` unless another is given. Row 0 is the estimate, the others are draws. The ``n`` grid
    points are those of all passes, one every :data:`~lapkit.compare.grid.STEP_M` of the estimate's path. A pass begins
    before turn-in and ends after the exit, as far as :func:`~lapkit.compare.sweep.looked_at_m` says.

    Attributes:
        standards: the standards of all corners of the course.
        corner_of: index of each pass's corner among them, ``(passes,)``.
        laps: the lap of each pass.
        grid: where each pass lies on the axis of grid points.
        time_s: time at each grid point, ``(n,)``.
        tyre_x_m, tyre_y_m: the tyre path, metres east and north.
        station_m: its station, metres, unwrapped as in the pass's corner.
        offset_m: its offset from the reference, metres, left positive.
        distance_m: length of the ridden path since the first pass began, metres, as if each pass went on where the one
            before it ended.
        speed_mps: speed on the ridden path, m/s.
        heading_rad, curvature_1pm: heading and curvature of the ridden path, positive into the turn.
        lean_tangent: tangent of the balance lean, positive into the turn.
        com_height_m: height of the centre of mass, metres, ``(rows, 1)``.
    """

    standards: tuple[Standard, ...]
    corner_of: np.ndarray
    laps: tuple[Lap, ...]
    grid: Grid
    time_s: FloatArray
    tyre_x_m: FloatArray
    tyre_y_m: FloatArray
    station_m: FloatArray
    offset_m: FloatArray
    distance_m: FloatArray
    speed_mps: FloatArray
    heading_rad: FloatArray
    curvature_1pm: FloatArray
    lean_tangent: FloatArray
    com_height_m: FloatArray

    @property
    def corners(self) -> tuple[Corner, ...]:
        """The corners of the course, as in ``standards``."""
        return tuple(standard.corner for standard in self.standards)

    def per_pass(self, of_corners: ArrayLike) -> np.ndarray:
        """A value for each corner of the course, ``(corners, ...)``, as one for each pass, ``(passes, ...)``."""
        return np.asarray(of_corners)[self.corner_of]

    @cached_property
    def sign(self) -> np.ndarray:
        """+1 in a left-hander, −1 in a right-hander, ``(passes,)``."""
        return self.per_pass([corner.turn.sign for corner in self.corners])

    @cached_property
    def lean_deg(self) -> FloatArray:
        """Balance lean from the vertical, positive into the turn."""
        return np.arctan(self.lean_tangent) * (180.0 / np.pi)

    @cached_property
    def held_curvature(self) -> Held:
        """Heading change over path length."""
        return Held(self.heading_rad, self.distance_m, self.grid)

    @cached_property
    def held_lean(self) -> HeldMean:
        """Mean lean."""
        return HeldMean(self.lean_deg, self.grid)

    @cached_property
    def limits(self) -> FloatArray:
        """Places of turn-in, last apex and exit, ``(rows, passes, 3)``; NaN where a row does not pass them."""
        stops = self.per_pass([(c.turn_in_m, c.last_apex_m, c.exit_m) for c in self.corners])
        return crossings(self.station_m, stops, self.grid)

    def ridden_m(self, place: FloatArray) -> FloatArray:
        """Metres of the estimate's path from turn-in to places of each pass: ``(passes, k)`` → ``(passes, k)``."""
        distance = self.distance_m[0]
        return sample(distance, place) - sample(distance, self.limits[0, :, :1])

    @cached_property
    def corner_at(self) -> np.ndarray:
        """As ``corner_of``, for every grid point, ``(n,)``."""
        return self.grid.spread(self.corner_of)

    def camber_at(self, corner: int, station_m: FloatArray) -> FloatArray:
        """Camber at stations of any shape, degrees, of the corner with that index."""
        return self.corners[corner].camber_at(station_m)


def estimates(parts: Sequence[Passes]) -> Passes:
    """The passes of several parts of a run joined, with the estimate as their only row."""
    channels = {
        name: np.concatenate([getattr(part, name)[:1] for part in parts], axis=1)
        for name in _CHANNELS
    }
    return Passes(
        standards=parts[0].standards,
        corner_of=np.concatenate([part.corner_of for part in parts]),
        laps=tuple(lap for part in parts for lap in part.laps),
        grid=Grid.of(np.concatenate([part.grid.counts for part in parts])),
        time_s=np.concatenate([part.time_s for part in parts]),
        **channels,
        com_height_m=parts[0].com_height_m[:1],
    )


def by_corner(
    corner_of: np.ndarray, value_at: Callable[[int, FloatArray], FloatArray], station_m: FloatArray
) -> FloatArray:
    """Evaluate something that each corner knows by station, at the stations of many passes.

    Args:
        corner_of: index of the corner of each entry of ``station_m``, in rising order, ``(m,)``.
        value_at: called once a corner, with the corner's index and its stations; returns values in their shape.
        station_m: stations, metres, ``(m, ...)``.

    Returns:
        The values, in the shape of ``station_m``.
    """
    corners, begin = np.unique(corner_of, return_index=True)
    parts = np.split(station_m, begin[1:])
    return np.concatenate([value_at(i, part) for i, part in zip(corners, parts, strict=True)])


def measure_passes(
    path: Ridden, course: Course, rides: Sequence[CornerRides], sweep: Sweep
) -> Passes:
    """Evaluate the ensemble for all passes through some corners, and place them along the course.

    Args:
        path: the ridden path of the whole log.
        course: the course it was ridden on.
        rides: the corners in the order of the course, each with at least one lap that rode it.
        sweep: the coarse sweep of the run on which ``rides`` were found.
    """
    count = [len(each.laps) for each in rides]
    corner_of = np.repeat([course.corners.index(each.corner) for each in rides], count)
    grid = Grid.of(np.repeat([each.points for each in rides], count))
    begin = grid.spread(np.concatenate([each.begin_m for each in rides]))
    ridden = begin + STEP_M * (np.arange(len(begin)) - grid.spread(grid.first))
    time = np.interp(ridden, sweep.distance_m, sweep.time_s)
    before = grid.spread(np.concatenate([each.before_m for each in rides]))
    rough = np.interp(ridden, sweep.distance_m, sweep.station_m) - before
    sign = grid.spread(np.array([course.corners[i].turn.sign for i in corner_of]))
    return Passes(
        standards=tuple(standards(course).values()),
        corner_of=corner_of,
        laps=tuple(lap for each in rides for lap in each.laps),
        grid=grid,
        time_s=time,
        **_beside_reference(path.at(time, rough), course, rough, sign, grid),
    )


def _beside_reference(
    draws: PathDraws, course: Course, rough_station_m: FloatArray, sign: FloatArray, grid: Grid
) -> dict[str, FloatArray]:
    """The arrays of :class:`Passes` from ``tyre_x_m`` on, of an ensemble at the grid's times.

    ``rough_station_m``, stations that are right to some metres, and ``sign``, that of the turn, have shape ``(n,)``.
    """
    line = course.reference
    x, y = draws.tyre_xy_m
    station, offset = line.project_near(x[0], y[0], rough_station_m)
    heading, curvature = line.heading_at(station), line.curvature_at(station)
    cos, sin = np.cos(heading), np.sin(heading)
    east, north = x - x[0], y - y[0]
    along, left = east * cos + north * sin, north * cos - east * sin
    # Draws lie a metre or two from the estimate, so that the reference may stand for its circle of curvature there:
    # station and offset are right to second order in the distance from the estimate.
    stretch = np.maximum((1.0 - curvature * offset) - curvature * left, LEAST_STRETCH)
    along /= stretch
    vx, vy, speed = draws.vx_mps, draws.vy_mps, draws.speed_mps
    return {
        "tyre_x_m": x,
        "tyre_y_m": y,
        "station_m": station + along,
        "offset_m": offset + left - (0.5 * curvature) * along * along * stretch,
        "distance_m": _ridden_m(draws.time_s, speed, grid),
        "speed_mps": speed,
        # A path stays within a right angle of the reference's own heading, so there is nothing to unwrap.
        "heading_rad": sign * (heading + np.arctan2(vy * cos - vx * sin, vx * cos + vy * sin)),
        "curvature_1pm": sign * draws.curvature_1pm,
        "lean_tangent": sign * draws.lean_tangent,
        "com_height_m": draws.com_height_m,
    }


def _ridden_m(time_s: FloatArray, speed_mps: FloatArray, grid: Grid) -> FloatArray:
    """As :attr:`Passes.distance_m`, ``(rows, n)``: speed integrated over time by trapezia."""
    length = np.empty_like(speed_mps)
    np.add(speed_mps[:, 1:], speed_mps[:, :-1], out=length[:, 1:])
    length[:, 1:] *= 0.5 * np.diff(time_s)
    length[:, grid.first] = 0.0
    return np.cumsum(length, axis=-1, out=length)
