"""Passes on which a rider left the road.

A rider who runs off into the gravel and comes back at walking pace has not chosen another line: his radius, his lane and
where he turned in say nothing about how he rides. Such a pass is reported as a run off the road and left out of all else.
"""

from __future__ import annotations

import numpy as np

from lapkit.arrays import FloatArray
from lapkit.compare.passes import Passes
from lapkit.course.course import Course
from lapkit.path.summary import CALL_AT, draws_of, probability

LEFT_ROAD_M = 2.0
"""Tyres that run further than this beyond an edge have left the road, metres: a kerb and the error of a walked edge are
less (our choice)."""

_FEW = 0.5  # share of the passes of a corner: this many off the road mean that the edges are marked wrong


def off_road_m(passes: Passes, course: Course) -> FloatArray:
    """How far the tyres ran beyond an edge at most, metres, negative within, ``(rows, passes)``.

    From turn-in to where the pass ends, beyond the exit. NaN without edges. Where no pass comes near an edge all rows are the
    estimate's.
    """
    rows, (offset, station) = len(passes.offset_m), (passes.offset_m, passes.station_m[0])
    edges = course.edges_at(course.reference.wrap(station))
    if edges is None:
        return np.full((rows, len(passes.laps)), np.nan)
    left, right = edges
    before = np.arange(len(station)) < passes.grid.spread(np.nan_to_num(passes.limits[0, :, 0]))

    def beyond(offset_m: FloatArray) -> FloatArray:
        out = np.maximum(offset_m - left, right - offset_m)
        return np.maximum.reduceat(np.where(before, -np.inf, out), passes.grid.first, axis=-1)

    estimate = beyond(offset[:1])
    return beyond(offset) if np.any(estimate > 0.0) else np.repeat(estimate, rows, axis=0)


def left_road(off_m: FloatArray, corner_of: np.ndarray, timed: np.ndarray) -> FloatArray:
    """Whether the road was left on each pass: 1 where it surely was, 0 where not, NaN without edges, ``(passes,)``.

    Findings, changes and the usual lap all go by this rule.

    Args:
        off_m: as from :func:`off_road_m`, ``(rows, passes)``.
        corner_of: number of each pass's corner, ``(passes,)``.
        timed: passes of timed laps, ``(passes,)``.
    """
    off = probability(draws_of(off_m) > LEFT_ROAD_M) >= CALL_AT
    count = corner_of.max(initial=-1) + 1
    often = np.bincount(corner_of[timed & off], minlength=count)
    marked_wrong = often >= _FEW * np.maximum(np.bincount(corner_of[timed], minlength=count), 1)
    surely = (off & ~marked_wrong[corner_of]).astype(np.float64)
    return np.where(np.isnan(off_m[0]), np.nan, surely)
