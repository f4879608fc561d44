"""All sights of a receiver's position offset that a log gives: stops, base log, own laps, edges.

How near to an edge the rider came, and which laps were usual ones, depends on the offset itself. So laps and edges are
evaluated in rounds, each under the offset that the round before found.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np

from lapkit.arrays import FloatArray
from lapkit.counting import counted
from lapkit.course.course import Course
from lapkit.path.base import BaseError, seen_by_base
from lapkit.path.draws import PathDraws
from lapkit.path.edges import Approaches
from lapkit.path.missed_marks import doubted, missed
from lapkit.path.model import Noise
from lapkit.path.offset import mean_offset
from lapkit.path.offset_knots import OffsetKnots
from lapkit.path.offset_process import USUAL_PROCESS, Information, OffsetProcess
from lapkit.path.offset_sight import Sight
from lapkit.path.offset_source import BASE_LOG, EDGES, HOLD_POINT, NOTHING
from lapkit.path.own_laps import LEAST_SCATTER_M, Passes
from lapkit.path.stops import find_stops, hold_sights
from lapkit.path.tyre_track import TyreTrack

_ROUNDS = 6  # at most: two logs in three have settled after four, nine in ten after five
# Rounds in which the scatter is searched for: later it changes by a hundredth of itself.
_SCATTER_ROUNDS = 2
# Trials of the stops: for the second, laps and edges are evaluated without the stops that missed the mark.
_TRIALS = 2
_SETTLED_M = 0.1  # a smaller change of the offset changes no sight by more than its own error


@dataclass(frozen=True)
class Sights:
    """All sights of a log's offset.

    Attributes:
        standing: from stops and base log, which show what the offset was.
        laps: from the rider's own laps.
        edges: from the edges.
        source: what the offset is found from (:mod:`~lapkit.path.offset_source`).
        notes: sentences about what was found wrong or left out.
    """

    standing: list[Sight]
    laps: list[Sight]
    edges: list[Sight]
    source: str
    notes: tuple[str, ...]


class RidingSights(NamedTuple):
    """Sights from the rider's own laps and from the edges, and the process that the offset follows."""

    laps: list[Sight]
    edges: list[Sight]
    process: OffsetProcess


def find_sights(
    knots: OffsetKnots,
    received: PathDraws,
    track: TyreTrack,
    noise: Noise,
    base: BaseError | None,
    reach_m: float = 0.0,
) -> Sights:
    """Find every sight of the offset that track file and base log allow.

    Args:
        knots: of the offset.
        received: the estimate of the path in the receiver's frame, in row 0, all through the log.
        track: the ride along its course, which has hold points and edges where the track file has them.
        noise: of the receiver.
        base: error of a base receiver on the same clock.
        reach_m: by how much more than other receivers' the offset may be off from zero, metres.

    Raises:
        PathError: the sights contradict each other.
    """
    stops, notes = _hold_point_sights(knots, received, track.course, noise, reach_m)
    stops, riding = weighed(knots, stops, track)
    notes += _said_of_missed(stops)
    by_base: list[Sight] = []
    if base is not None:
        others = [*stops, *riding.laps, *riding.edges]
        by_base, base_notes = seen_by_base(base, knots, others, riding.process)
        notes += base_notes
    standing = [*stops, *by_base]
    if by_base:
        if stops:
            notes += ("the base log was used beside the hold point",)
        riding = riding_sights(knots, standing, track)
    return Sights(standing, riding.laps, riding.edges, _source(stops, by_base, riding), notes)


def _source(stops: list[Sight], by_base: list[Sight], riding: RidingSights) -> str:
    """What the offset is found from: the surest of what there is (:mod:`~lapkit.path.offset_source`)."""
    if stops:
        return HOLD_POINT
    if by_base:
        return BASE_LOG
    return EDGES if riding.edges else NOTHING


def _hold_point_sights(
    knots: OffsetKnots, received: PathDraws, course: Course, noise: Noise, reach_m: float
) -> tuple[list[Sight], tuple[str, ...]]:
    """Sights from stops at hold points, and sentences about stops that were not used."""
    if course.hold_points is None or not len(course.hold_points):
        return [], ()
    x, y, speed = received.x_m[0], received.y_m[0], received.speed_mps[0]
    stops = find_stops(received.time_s, x, y, speed)
    return hold_sights(knots, stops, course.hold_points, noise, reach_m)


def weighed(
    knots: OffsetKnots, on_mark: list[Sight], track: TyreTrack
) -> tuple[list[Sight], RidingSights]:
    """Sights from stops, each trusted as far as the edges confirm it, and the sights from laps and edges found with them.

    Args:
        knots: of the offset.
        on_mark: sights from stops, as if none had missed the mark.
        track: the ride along its course.
    """
    riding = riding_sights(knots, on_mark, track)
    standing = on_mark
    for _ in range(_TRIALS if riding.edges else 0):
        standing = doubted(knots, on_mark, [*riding.laps, *riding.edges], riding.process)
        if not any(missed(stop) for stop in standing):
            break
        # Laps and edges were evaluated under an offset that a stop elsewhere had pulled away.
        riding = riding_sights(knots, standing, track)
    return standing, riding


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


def riding_sights(knots: OffsetKnots, standing: list[Sight], track: TyreTrack) -> RidingSights:
    """Evaluate laps and edges in rounds, until the offset that they show has settled.

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
        to_left = np.interp(passes.time_s, track.time_s, _to_left(knots, mean, track))
        lap = passes.sight(knots, to_left)
        if scatter_m is None or turn < _SCATTER_ROUNDS:
            beside = Information.of(knots, [*standing, *edges])
            scatter_m, process = beside.scatter_and_process(lap, process)
            scatter_m *= passes.lasting(to_left)
        laps = [replace(lap, sd_m=max(scatter_m, LEAST_SCATTER_M))]
    return RidingSights(laps, edges, process or USUAL_PROCESS)


def _to_left(knots: OffsetKnots, offset_m: FloatArray, track: TyreTrack) -> FloatArray:
    """The part of an offset ``(2, knots)`` to the left of the reference at the track's times, metres, ``(n,)``."""
    east, north = knots.between(offset_m, track.time_s)
    return track.left[:, 0] * east + track.left[:, 1] * north
