"""Everything that a log shows of its receiver's position offset: stops, base log, own laps, edges.

How near to an edge he came, and which laps were usual ones, depends on where the offset is believed to be; so laps
and edges are looked at in rounds, each under the offset that the round before found.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from lapkit.counting import counted
from lapkit.course.course import Course
from lapkit.path.base import BaseError, seen_by_base
from lapkit.path.draws import PathDraws
from lapkit.path.edges import Approaches
from lapkit.path.missed_marks import doubted, missed
from lapkit.path.model import Noise
from lapkit.path.offset import mean_offset, scatter_beside
from lapkit.path.offset_knots import OffsetKnots
from lapkit.path.offset_process import USUAL_PROCESS, OffsetProcess
from lapkit.path.offset_sight import Sight
from lapkit.path.own_laps import LEAST_SCATTER_M, Passes
from lapkit.path.stops import find_stops, hold_sights
from lapkit.path.tyre_track import TyreTrack
from lapkit.units import FloatArray

_ROUNDS = 6  # at most: two logs in three have settled at the fourth, nine in ten at the fifth
# Rounds in which the scatter is searched for: after them it moves by a hundredth of itself.
_SCATTER_ROUNDS = 2
_TRIALS = (
    2  # of the stops: in the second, laps and edges are seen without those that missed the mark
)
_SETTLED_M = 0.1  # a smaller move of the offset moves no sight by more than its own error


@dataclass(frozen=True)
class Sights:
    """All sights of a log's offset.

    Attributes:
        standing: stops and base log, which know where the offset stood.
        laps: of the rider's own laps.
        edges: of the edges.
        source: what ``offset_from`` in ``logs.csv`` says.
        notes: sentences about what was found wrong or left out.
    """

    standing: list[Sight]
    laps: list[Sight]
    edges: list[Sight]
    source: str
    notes: tuple[str, ...]


def find_sights(
    knots: OffsetKnots, received: PathDraws, course: Course, noise: Noise, base: BaseError | None
) -> Sights:
    """Find every sight of the offset that track file and base log allow.

    Args:
        knots: of the offset.
        received: the path's estimate in the receiver's frame, in row 0, all through the log.
        course: with hold points and edges where the track file has them.
        noise: of the receiver.
        base: error of a base receiver on the same clock.
    """
    standing: list[Sight] = []
    notes: tuple[str, ...] = ()
    sources = []
    if course.hold_points is not None and len(course.hold_points):
        path = received.x_m[0], received.y_m[0], received.speed_mps[0]
        stops = find_stops(received.time_s, *path)
        standing, notes = hold_sights(knots, stops, course.hold_points, noise)
        if standing:
            sources.append("hold_point")
    track = TyreTrack.of(received, course)
    standing, laps, edges, process = weighed(knots, standing, track)
    notes += _said_of_missed(standing)
    if base is not None:
        seen, words = seen_by_base(base, knots, [*standing, *laps, *edges], process)
        notes += words
        if seen:
            if sources:
                notes += ("the base log was used beside the hold point",)
            sources.append("base_log")
            standing = [*standing, *seen]
            laps, edges, _ = riding_sights(knots, standing, track)
    source = sources[0] if sources else "edges" if edges else "none"
    return Sights(standing, laps, edges, source, notes)


def weighed(
    knots: OffsetKnots, on_mark: list[Sight], track: TyreTrack
) -> tuple[list[Sight], list[Sight], list[Sight], OffsetProcess]:
    """Sights from stops, each believed as far as the edges bear it out, then as :func:`riding_sights`.

    Args:
        knots: of the offset.
        on_mark: sights from stops, as if none had missed the mark.
        track: the ride along its course.
    """
    laps, edges, process = riding_sights(knots, on_mark, track)
    standing = on_mark
    for _ in range(_TRIALS if edges else 0):
        standing = doubted(knots, on_mark, [*laps, *edges], process)
        if not any(missed(stop) for stop in standing):
            break
        # Laps and edges were looked at under an offset that a stop elsewhere had pulled away.
        laps, edges, process = riding_sights(knots, standing, track)
    return standing, laps, edges, process


def _said_of_missed(standing: list[Sight]) -> tuple[str, ...]:
    """A sentence about stops that probably missed the mark; none where there are none."""
    count = sum(map(missed, standing))
    if not count:
        return ()
    stops = counted(count, "stop near the hold point was", "stops near the hold point were")
    return (
        f"{stops} metres beside it, as edges and laps show, and counted for little; stand on the mark, and check "
        "where it is",
    )


def riding_sights(
    knots: OffsetKnots, standing: list[Sight], track: TyreTrack
) -> tuple[list[Sight], list[Sight], OffsetProcess]:
    """Sights from the rider's own laps, sights from the edges, and the process that the offset follows.

    Args:
        knots: of the offset.
        standing: sights from stops and base log.
        track: the ride along its course.
    """
    passes, approaches = Passes.of(track), Approaches.of(track)
    laps: list[Sight] = []
    edges: list[Sight] = []
    process: OffsetProcess | None = None
    scatter_m: float | None = None
    before = np.zeros((2, len(knots.time_s)))
    for turn in range(_ROUNDS):
        mean, process = mean_offset(knots, [*standing, *laps, *edges], process)
        if laps and turn > _SCATTER_ROUNDS and np.max(np.abs(mean - before)) < _SETTLED_M:
            break
        before = mean
        edges = approaches.sights(knots, mean, turn) if approaches else []
        if passes is None:
            continue
        lap = passes.sight(
            knots, np.interp(passes.time_s, track.time_s, _to_left(knots, mean, track))
        )
        if scatter_m is None or turn < _SCATTER_ROUNDS:
            scatter_m, process = scatter_beside(knots, [*standing, *edges], lap, process)
        laps = [replace(lap, sd_m=max(scatter_m, LEAST_SCATTER_M))]
    return laps, edges, process or USUAL_PROCESS


def _to_left(knots: OffsetKnots, offset_m: FloatArray, track: TyreTrack) -> FloatArray:
    """The part of an offset ``(2, knots)`` to the left of the reference at the track's times, metres, ``(n,)``."""
    east, north = knots.between(offset_m, track.time_s)
    return track.left[:, 0] * east + track.left[:, 1] * north
