"""Checks of the seams of a track file: names, and crossings that make lanes ambiguous."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from lapkit.arrays import FloatArray
from lapkit.course.problem import Problem, Survey, error, warning
from lapkit.course.seams import PlacedSeam, seams_of
from lapkit.course.stations import StationLine

WALKED_OVER_M = 2.0
"""Two lines that were walked separately may come out crossed by this much, metres (our choice)."""

_TOLERANCE_M = 0.5  # less than this is the error of receivers and of drawing


def seam_names(survey: Survey) -> Iterator[Problem]:
    """Seams of the same name in one corner."""
    for corner in survey.corners:
        names = [seam.name for seam in seams_of(corner, survey.seams, survey.reference)]
        for name in sorted({name for name in names if names.count(name) > 1}):
            yield error(
                "seam name",
                f"{survey.track.source}, corner {corner.corner.name!r}",
                f"{names.count(name)} seams named {name!r} run through it",
                "Give each its own name.",
            )


def seam_crossings(survey: Survey) -> Iterator[Problem]:
    """Seams that cross an edge or another seam."""
    for i, seam in enumerate(survey.seams):
        edges = survey.edges_at(seam.station_m)
        if edges is not None:
            for name, offset in zip(("left", "right"), edges, strict=True):
                yield from _crossing(survey, seam, seam.offset_m - offset, f"the {name} edge")
        for other in survey.seams[i + 1 :]:
            gap = _gap(seam, other, survey.reference)
            yield from _crossing(survey, seam, gap, f"seam {other.name!r}")


def _gap(seam: PlacedSeam, other: PlacedSeam, reference: StationLine) -> FloatArray:
    """How far a seam lies to the left of another at its own stations, metres; NaN where only one of them runs."""
    at = seam.station_m
    if reference.closed:
        middle = 0.5 * (other.station_m[0] + other.station_m[-1])
        at = middle + reference.way(at - middle)
    offset = np.interp(at, other.station_m, other.offset_m, left=np.nan, right=np.nan)
    return seam.offset_m - offset


def _crossing(survey: Survey, seam: PlacedSeam, gap: FloatArray, what: str) -> Iterator[Problem]:
    """A problem where the gap takes both signs by more than receivers and drawing explain."""
    known = np.isfinite(gap)
    over_m = float(min(np.max(gap[known]), -np.min(gap[known]))) if np.any(known) else 0.0
    if over_m < _TOLERANCE_M:
        return
    gap, station = gap[known], seam.station_m[known]
    at = float(survey.reference.wrap(station[int(np.argmax(np.diff(np.sign(gap)) != 0))]))
    make = warning if over_m < WALKED_OVER_M else error
    yield make(
        "seam crossing",
        f"{survey.track.source}, seam {seam.name!r}, at station {at:.0f} m",
        f"it crosses {what} by {over_m:.1f} m",
        "Lanes are counted between seams: draw it so that it stays on one side.",
    )
