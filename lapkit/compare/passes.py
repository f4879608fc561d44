"""A run's laps through its corners, as arrays on an even grid along the estimate's path.

A pass is one lap through one corner. Where it lies is found on a coarse sweep of the whole run; the ensemble
itself is asked for at the grid's times only, once for all passes that are measured together.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from lapkit.compare.held import STEP_M, Grid, Held, HeldMean, crossings, sample
from lapkit.compare.standard import Standard, standards
from lapkit.compare.sweep import CornerRides, Ridden, Sweep
from lapkit.course.course import Corner, Course
from lapkit.course.stations import LEAST_STRETCH
from lapkit.path.draws import PathDraws
from lapkit.splitter import Lap
from lapkit.units import FloatArray

_CHANNELS = (
    "tyre_x_m", "tyre_y_m", "station_m", "offset_m", "distance_m", "speed_mps", "heading_rad",
    "curvature_1pm", "lean_tangent",
)  # fmt: skip


@dataclass(frozen=True, eq=False)
class Passes:
    """Passes of a run, one after the other, corner by corner. Arrays have shape ``(rows, n)``.

    Row 0 is the estimate, the others are draws. The ``n`` grid points are those of all passes, as ``grid`` says:
    every :data:`~lapkit.compare.held.STEP_M` of the estimate's path, as far before turn-in and after the exit as
    :func:`~lapkit.compare.sweep.looked_at_m` says.
    ``station_m``, ``offset_m`` (left positive), ``tyre_x_m`` and ``tyre_y_m`` belong to the tyre path,
    everything else to the ridden path; stations are unwrapped as in the corner, ``distance_m`` goes on from pass
    to pass. Curvature, heading and lean are positive into the turn. ``time_s`` has shape ``(n,)``,
    ``com_height_m`` ``(rows, 1)``; ``laps`` are those of the passes. ``standards`` are those of all the course's
    corners, and ``corner_of`` is the index of each pass's corner among them, ``(passes,)``.
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
        """Those of ``standards``: the course's."""
        return tuple(standard.corner for standard in self.standards)

    def of_standard(self, name: str) -> FloatArray:
        """A number or an array of each pass's standard, ``(passes, ...)``; NaN where other corners have more of it."""
        values = [np.asarray(getattr(standard, name)) for standard in self.standards]
        filled = np.full((len(values), *np.max([v.shape for v in values], axis=0)), np.nan)
        for i, own in enumerate(values):
            filled[i, ...][tuple(map(slice, own.shape))] = own
        return filled[self.corner_of]

    @cached_property
    def sign(self) -> np.ndarray:
        """+1 in a left-hander, −1 in a right-hander, ``(passes,)``."""
        return np.array([corner.turn.sign for corner in self.corners])[self.corner_of]

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
        """Places of turn-in, last apex and exit, ``(rows, passes, 3)``; NaN if not on the grid."""
        stops = np.array([(c.turn_in_m, c.last_apex_m, c.exit_m) for c in self.corners])
        return crossings(self.station_m, stops[self.corner_of], self.grid)

    def ridden_m(self, place: FloatArray) -> FloatArray:
        """Metres of the estimate's path from turn-in to places of each pass, ``(passes, k)`` → the same."""
        distance = self.distance_m[0]
        return sample(distance, place) - sample(distance, self.limits[0, :, :1])

    @cached_property
    def corner_at(self) -> np.ndarray:
        """As ``corner_of``, at every grid point, ``(n,)``."""
        return self.grid.spread(self.corner_of)

    def camber_at(self, corner: int, station_m: FloatArray) -> FloatArray:
        """Camber of a corner by its index, degrees, at stations of any shape."""
        return self.corners[corner].camber_at(station_m)


def estimates(parts: Sequence[Passes]) -> Passes:
    """The passes of several parts of a run as the estimate alone has them, in one row."""
    first = parts[0]
    rows = {
        name: np.concatenate([getattr(p, name)[:1] for p in parts], axis=1) for name in _CHANNELS
    }
    return Passes(
        standards=first.standards,
        corner_of=np.concatenate([p.corner_of for p in parts]),
        laps=tuple(lap for p in parts for lap in p.laps),
        grid=Grid.of(np.concatenate([p.grid.last - p.grid.first + 1 for p in parts])),
        time_s=np.concatenate([p.time_s for p in parts]),
        **rows,
        com_height_m=first.com_height_m[:1],
    )


def by_corner(
    corner_of: np.ndarray, value_at: Callable[[int, FloatArray], FloatArray], station_m: FloatArray
) -> FloatArray:
    """What is known of each corner by station, asked corner by corner at stations ``(m, ...)``, in their shape.

    ``corner_of`` are their corners' indices, rising, ``(m,)``; ``value_at`` is given one of them and its stations.
    """
    corners, begin = np.unique(corner_of, return_index=True)
    parts = np.split(station_m, begin[1:])
    return np.concatenate([value_at(i, part) for i, part in zip(corners, parts, strict=True)])


def measure_passes(
    path: Ridden, course: Course, rides: Sequence[CornerRides], sweep: Sweep
) -> Passes:
    """Ask the ensemble for all passes of some corners, at least one of each, and lay them along the course."""
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
        **_laid(path.at(time, rough), course, rough, sign, grid),
    )


def _laid(
    draws: PathDraws, course: Course, rough_station_m: FloatArray, sign: FloatArray, grid: Grid
) -> dict[str, FloatArray]:
    """Draws of all passes laid along the course: the arrays of :class:`Passes` beyond its times.

    ``sign`` is that of the turn at every grid point, ``(n,)``, as the stations that are right to some metres.
    """
    line = course.reference
    x, y = draws.tyre_xy_m
    station, offset = line.project_near(x[0], y[0], rough_station_m)
    heading, curvature = line.heading_at(station), line.curvature_at(station)
    cos, sin = np.cos(heading), np.sin(heading)
    east, north = x - x[0], y - y[0]
    along, left = east * cos + north * sin, north * cos - east * sin
    # Draws lie a metre or two from the estimate: on the circle that the line is there, to second
    # order.
    flat = np.maximum((1.0 - curvature * offset) - curvature * left, LEAST_STRETCH)
    along /= flat
    vx, vy, speed = draws.vx_mps, draws.vy_mps, draws.speed_mps
    return {
        "tyre_x_m": x,
        "tyre_y_m": y,
        "station_m": station + along,
        "offset_m": offset + left - (0.5 * curvature) * along * along * flat,
        "distance_m": _ridden_m(draws.time_s, speed, grid),
        "speed_mps": speed,
        # Against the line's own heading a path stays within a right angle: nothing to unwrap.
        "heading_rad": sign * (heading + np.arctan2(vy * cos - vx * sin, vx * cos + vy * sin)),
        "curvature_1pm": sign * draws.curvature_1pm,
        "lean_tangent": sign * draws.lean_tangent,
        "com_height_m": draws.com_height_m,
    }


def _ridden_m(time_s: FloatArray, speed_mps: FloatArray, grid: Grid) -> FloatArray:
    """Path length since the first pass began, as if each went on where the one before it ended, ``(rows, n)``."""
    length = np.empty_like(speed_mps)
    np.add(speed_mps[:, 1:], speed_mps[:, :-1], out=length[:, 1:])
    length[:, 1:] *= 0.5 * np.diff(time_s)
    length[:, grid.first] = 0.0
    return np.cumsum(length, axis=-1, out=length)
