"""The ridden path: where the centre of mass of machine and rider went, as an ensemble.

A receiver does not tell where the rider was, only where he probably was. The posterior of the whole log is
found once and drawn from; every measure downstream is a function of a path, applied to all draws.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property, partial

import numpy as np

from lapkit.arrays import FloatArray
from lapkit.counting import counted
from lapkit.course.course import Course
from lapkit.course.plane import Plane
from lapkit.errors import PathError, printable
from lapkit.importer.heights import Heights
from lapkit.importer.log import Log
from lapkit.importer.quality import assess
from lapkit.path.base import BaseError
from lapkit.path.blur import velocity_blur_s
from lapkit.path.draws import SLOWEST_MPS, PathDraws
from lapkit.path.drift import adrift
from lapkit.path.ensemble import Drawn, Ensemble
from lapkit.path.estimate import Estimate, estimate
from lapkit.path.jumps import Jumps, find_jumps
from lapkit.path.load import PathPoints, load_under
from lapkit.path.model import Observed
from lapkit.path.observed import observe_log
from lapkit.path.offset import PositionOffset, find_offset, nothing_known
from lapkit.path.offset_knots import OffsetKnots
from lapkit.path.problem import Problem
from lapkit.path.sights import find_sights
from lapkit.path.spline import values
from lapkit.path.summary import DRAWS
from lapkit.path.tyre_track import TyreTrack
from lapkit.path.velocity_lag import velocity_lag_s, without_lag

# Between the times at which a ride is searched for its offset: some ten metres.
_OFFSET_STEP_S = 0.5


@dataclass(frozen=True, eq=False)
class RiddenPath:
    """One log's ridden path on the course's plane.

    Attributes:
        log: what it was recovered from.
        plane: that its metres refer to.
        ensemble: the estimate and the draws, in the receiver's frame.
        offset: the receiver's slow position offset, of as many draws.
        lag_s: by how much the logged velocity lagged, seconds; negative where it came early.
        jumps: of its positions, which the ensemble has no more.
        course: from which the road's grade and vertical curvature are taken, or None.
    """

    log: Log
    plane: Plane
    ensemble: Ensemble
    offset: PositionOffset
    lag_s: float
    jumps: Jumps
    course: Course | None

    def __repr__(self) -> str:
        """Short, because a notebook shows it."""
        draws = counted(self.ensemble.draws, "draw")
        return (
            f"<RiddenPath of {printable(self.log.source)}: {len(self.fix_time_s)} fixes, {draws}>"
        )

    @property
    def estimate(self) -> Estimate:
        """The posterior of the whole log, in the receiver's frame."""
        return self.ensemble.estimate

    @property
    def heights(self) -> Heights:
        """Heights of antenna, centre of mass and tyres."""
        return self.ensemble.heights

    @property
    def start_s(self) -> float:
        """Time of the first fix, seconds."""
        return float(self.log.time_s[0])

    @property
    def end_s(self) -> float:
        """Time of the last fix, seconds."""
        return float(self.log.time_s[-1])

    @cached_property
    def fix_time_s(self) -> FloatArray:
        """Times of the fixes that took part, shape ``(n,)``."""
        return self.log.time_s[~self.estimate.wild]

    @cached_property
    def fix_height_m(self) -> FloatArray:
        """Heights of those fixes as logged, metres, shape ``(n,)``; NaN where none was logged."""
        logged = self.log.height_m
        if logged is None:
            return np.full(len(self.fix_time_s), np.nan)
        return logged[~self.estimate.wild]

    @property
    def adrift_s(self) -> float:
        """For how long positions were left out because they strayed from where the velocities led, seconds."""
        seen = self.estimate.seen
        alone = (seen.position_weight == 0.0) & ~self.estimate.wild
        return float(np.sum(np.diff(seen.time_s)[alone[1:]]))

    def mean_xy(self, time_s: FloatArray) -> tuple[FloatArray, FloatArray]:
        """The estimate alone at times ``(n,)``, its offset removed: metres east and north, ``(n,)`` each."""
        solution = self.estimate.solution
        (at,) = values(solution.knots, solution.path, time_s, 0)
        off = self.offset.mean_at(time_s)
        return at[:, 0] - off[0], at[:, 1] - off[1]

    def mean_speed(self, time_s: FloatArray) -> FloatArray:
        """Speed of the estimate at times, m/s, ``(n,)``."""
        solution = self.estimate.solution
        (v,) = values(solution.knots, solution.path, time_s, 1)
        return np.hypot(v[:, 0], v[:, 1])

    def at(self, time_s: FloatArray, near_m: FloatArray | None = None) -> PathDraws:
        """The ensemble at times, seconds on the log's clock, ``(n,)``; a single time counts as one.

        ``near_m`` is the station to within some metres, where it is known; it spares a search for the road's profile.
        """
        time_s = np.atleast_1d(np.asarray(time_s, dtype=np.float64))
        return self._rows(self.ensemble.coefficients, time_s, self.offset.at(time_s), near_m)

    def as_received(self, time_s: FloatArray) -> PathDraws:
        """The estimate alone at times ``(n,)``, in one row, in the receiver's frame: its slow offset left in."""
        mean = self.estimate.solution.path[:, :, None]
        return self._rows(mean, time_s, np.zeros((1, 2, len(time_s))))

    def _rows(
        self,
        coefficients: FloatArray,
        time_s: FloatArray,
        offset_m: FloatArray,
        near_m: FloatArray | None = None,
    ) -> PathDraws:
        """Rows of the path: coefficients ``(k, 2, rows)``, offset ``(rows, 2, n)``."""
        knots = self.estimate.solution.knots
        at, v, a = (
            part.transpose(1, 2, 0) for part in values(knots, coefficients, time_s, 0, 1, 2)
        )
        (x, y), (vx, vy), (ax, ay) = at - offset_m.transpose(1, 0, 2), v, a
        speed = np.maximum(np.sqrt(vx * vx + vy * vy), SLOWEST_MPS)
        across = (vx * ay - vy * ax) / speed
        heading, curvature = np.arctan2(vy[0], vx[0]), across[0] / np.square(speed[0])
        points = PathPoints(x[0], y[0], heading, curvature, near_m)
        load = load_under(self.course, points, rows=len(x))
        return PathDraws(
            time_s=time_s,
            x_m=x,
            y_m=y,
            vx_mps=vx,
            vy_mps=vy,
            ax_mps2=ax,
            ay_mps2=ay,
            # At the estimate's speed in every row: a row's own would change the load by a thousandth of gravity.
            lean_tangent=across / load(speed[0]),
            com_height_m=self.ensemble.com_height_m[: len(x)],
        )


def ride_path(
    log: Log,
    plane: Plane,
    *,
    course: Course | None = None,
    heights: Heights | None = None,
    base: BaseError | None = None,
    draws: int = DRAWS,
) -> RiddenPath:
    """Recover the ridden path of a log.

    Args:
        log: the fixes.
        plane: that the path's metres refer to; the course's own, where there is a course.
        course: for the road's heights, hold points and edges.
        heights: of antenna, centre of mass and tyres; by default the usual ones, as if somebody had measured them.
        base: error of a base receiver on the same clock.
        draws: how many paths to draw.

    Raises:
        PathError: the log does not determine a path, or what is known of its offset contradicts itself.
    """
    heights = heights or Heights()
    seed = int(log.sha256[:8] or "0", 16)
    seen, lag_s, jumps = _observations(log, plane)
    knots = OffsetKnots.covering(float(log.time_s[0]), float(log.time_s[-1]))
    try:
        problem = Problem.of(
            seen, heights.above_m, partial(load_under, course), velocity_blur_s(seen)
        )
        line = None if course is None else course.reference
        ensemble = Ensemble(estimate(problem, line, seed), heights, draws, seed)
        path = RiddenPath(log, plane, ensemble, nothing_known(knots, draws), lag_s, jumps, course)
        if course is None or course.found:
            offset = find_offset(knots, [], draws, Drawn.OFFSET.seed(seed), jumps.sd_m)
            return replace(path, offset=offset)
        return replace(path, offset=_offset_of(path, course, base))
    except PathError as error:
        raise PathError(error.what, where=log.source, remedy=error.remedy) from None


def _observations(log: Log, plane: Plane) -> tuple[Observed, float, Jumps]:
    """What of a log can be believed, the lag in seconds by which its velocities were dated back, and its jumps, taken out."""
    seen = observe_log(log, plane)
    quality = assess(log)
    if not quality.velocity_agrees:
        # A wrong unit or a frozen heading would bend the path; positions alone are better.
        seen = replace(seen, velocity_weight=np.zeros(len(log)))
    lag_s = velocity_lag_s(seen)
    seen = without_lag(seen, lag_s)
    jumps = find_jumps(seen, quality.step_m)
    seen = jumps.taken_out(seen)
    return replace(seen, position_weight=np.where(adrift(seen), 0.0, 1.0)), lag_s, jumps


def _offset_of(path: RiddenPath, course: Course, base: BaseError | None) -> PositionOffset:
    """The offset, from all sights that track file and base log allow."""
    knots = path.offset.knots
    received = path.as_received(np.arange(path.start_s, path.end_s, _OFFSET_STEP_S))
    track = TyreTrack.of(received, course, has_velocity=path.estimate.has_velocity)
    track = track.where_seen(path.fix_time_s)
    noise, reach_m = path.estimate.noise, path.jumps.furthest_m
    found = find_sights(knots, received, track, noise, base, reach_m)
    laps = [replace(lap, path_m=path.ensemble.beside_estimate(lap.readings)) for lap in found.laps]
    sights = [*found.standing, *laps, *found.edges]
    drawn = path.ensemble
    seed = Drawn.OFFSET.seed(drawn.seed)
    offset = find_offset(knots, sights, drawn.draws, seed, path.jumps.sd_m)
    return replace(offset, source=found.source, notes=found.notes)
