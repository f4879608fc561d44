"""Seam measures of all passes: what share of the exit phase was ridden inside each seam, and how surely."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from functools import partial
from typing import Any, NamedTuple

import numpy as np

from lapkit.arrays import FloatArray
from lapkit.compare.grid import between
from lapkit.compare.passes import Passes, by_corner
from lapkit.compare.results import RunResult
from lapkit.compare.standard import MOSTLY
from lapkit.course.course import Corner
from lapkit.path.summary import CALL_AT, draws_of, probability

COLUMNS = (
    "rider", "session", "lap", "corner", "seam", "inside_share", "p_inside", "call",
)  # fmt: skip
"""The published columns of ``seams.csv``, in their order."""

ALL_COLUMNS = (*COLUMNS, "counted")
"""The same, and whether the seam is the one counted at its corner."""


def seam_rows(passes: Passes) -> FloatArray:
    """Share of the exit phase's path length that the tyres were on the inner side of each seam, ``(rows, passes, seams)``.

    The innermost seam comes first. NaN where a seam runs beside no part of the exit phase, where a row does not run through
    it, and beyond the last seam of a corner that has fewer than others.
    """
    apex, end = passes.limits[..., 1:2], passes.limits[..., 2:3]
    near = between(apex, end, 1, passes.station_m.shape[-1])[:, 0]
    # The weight of a grid step is the part of it that lies in the exit phase.
    start = near[:, :-1]
    weight = np.clip(end - start, 0.0, 1.0) - np.clip(apex - start, 0.0, 1.0)
    phase = np.sum(weight, axis=-1)
    phase[phase == 0.0] = np.nan
    shares = [np.sum(weight * inner, axis=-1) / phase for inner in _inner_parts(passes, near)]
    return np.stack(shares, axis=-1) if shares else np.zeros((*phase.shape, 0))


def _inner_parts(passes: Passes, near: np.ndarray) -> Iterator[FloatArray]:
    """Part of each step between grid points ``(passes, w)`` that lies inside a seam, ``(rows, passes, w - 1)``.

    Yields one array for the innermost seam of each corner, one for the second and so on.
    """
    station, offset = passes.station_m[0, near], passes.offset_m.take(near, axis=1)
    ahead_m, sign = passes.station_m.take(near, axis=1) - station, passes.sign[:, None]
    for number in range(max(len(corner.seams) for corner in passes.corners)):
        seam_at = partial(_offset_along_exit, passes.corners, number)
        seam = by_corner(passes.corner_of, seam_at, station)
        # The seam is taken at each row's own station, to first order.
        slope = np.gradient(seam, axis=-1) / np.gradient(station, axis=-1)
        inner_m = sign * (offset - seam - slope * ahead_m)
        inward, distance = np.maximum(inner_m, 0.0), np.maximum(np.abs(inner_m), 1e-12)
        yield (inward[..., 1:] + inward[..., :-1]) / (distance[..., 1:] + distance[..., :-1])


def _offset_along_exit(
    corners: Sequence[Corner], number: int, corner: int, station_m: FloatArray
) -> FloatArray:
    """Offset at stations of the seam with this number at the corner with this index.

    NaN where the corner has no such seam, or the seam runs beside no part of the exit phase.
    """
    exit_of = corners[corner]
    if number < len(exit_of.seams):
        seam = exit_of.seams[number]
        if seam.station_m[-1] > exit_of.last_apex_m and seam.station_m[0] < exit_of.exit_m:
            return seam.offset_at(station_m)
    return np.full(station_m.shape, np.nan)


def seam_columns(rows: FloatArray) -> dict[str, Any]:
    """Columns of ``seams.csv`` from ``inside_share`` on: shares ``(rows, ...)`` → columns ``(...)``."""
    draws = draws_of(rows)
    known = np.isfinite(draws).all(axis=0)
    p_inside = np.where(known, probability(draws > MOSTLY), np.nan)
    return {
        "inside_share": np.median(draws, axis=0),
        "p_inside": p_inside,
        "call": calls(p_inside),
    }


def calls(p_inside: FloatArray) -> np.ndarray:
    """``inside`` or ``outside`` where that is probable enough, else ``unclear``; any shape."""
    sides = [p_inside >= CALL_AT, 1.0 - p_inside >= CALL_AT]
    return np.select(sides, ["inside", "outside"], "unclear")


class SeamCalls(NamedTuple):
    """A rider's timed laps that stayed on the road at a seam: called inside, called outside, and unclear."""

    inside: int
    outside: int
    unclear: int

    @property
    def laps(self) -> int:
        """Number of laps."""
        return sum(self)


def seam_calls(runs: Iterable[RunResult]) -> dict[tuple[str, str], SeamCalls]:
    """Names of a corner and a seam → how a rider's timed laps in all his runs were called there.

    Laps that left the road at the corner are left out (:mod:`lapkit.compare.off_road`).
    """
    counts: dict[tuple[str, str], Counter[str]] = {}
    for run in runs:
        timed, off_road = run.timed_laps, run.off_road
        columns = (run.seams[name].tolist() for name in ("lap", "corner", "seam", "call"))
        for lap, corner, seam, call in zip(*columns, strict=True):
            if lap in timed and (lap, corner) not in off_road:
                counts.setdefault((corner, seam), Counter())[call] += 1
    return {
        place: SeamCalls(called["inside"], called["outside"], called["unclear"])
        for place, called in counts.items()
    }
