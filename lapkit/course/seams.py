"""Seams as offsets from the reference, assigned to the corners that they serve."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from lapkit.arrays import FloatArray, read_only
from lapkit.course.corner_place import PlacedCorner
from lapkit.course.course import CourseSeam
from lapkit.course.plane import Plane
from lapkit.course.reference import along, station_line
from lapkit.course.stations import StationLine, growing
from lapkit.course.types import Track

_BEYOND_M = 60.0  # metres of a seam kept before turn-in and after the exit, for drawings and lanes at the cones
# A seam that runs along less than this share of the exit phase does not belong to the corner.
_SERVES = 0.5


@dataclass(frozen=True, eq=False)
class PlacedSeam:
    """A seam along the reference: unwrapped stations and offsets, each ``(n,)``; left positive."""

    name: str
    corner: str
    station_m: FloatArray
    offset_m: FloatArray


def place_seams(track: Track, plane: Plane, reference: StationLine) -> tuple[PlacedSeam, ...]:
    """Every seam along the reference, in riding direction.

    Raises:
        TrackError: a seam has too few different points.
    """
    placed = []
    for number, seam in enumerate(track.seams, start=1):
        name = seam.name or f"seam {number}"
        line = station_line(plane, seam, track.source, f"seam {name!r}")
        station, offset = along(reference, line)
        ahead = growing(station)
        placed.append(PlacedSeam(name, seam.corner, station[ahead], offset[ahead]))
    return tuple(placed)


def seams_of(
    corner: PlacedCorner, seams: tuple[PlacedSeam, ...], reference: StationLine
) -> tuple[CourseSeam, ...]:
    """The seams that serve a corner, ordered from its inside outward.

    A seam that names a corner serves that one. A seam that names none serves every corner of whose exit phase it
    covers more than half.
    """
    begin, end = corner.turn_in_m - _BEYOND_M, corner.exit_m + _BEYOND_M
    last_apex_m = corner.apexes_m[-1]
    least_m = _SERVES * (corner.exit_m - last_apex_m)
    found = []
    for seam in seams:
        if seam.corner not in ("", corner.corner.name):
            continue
        part = _part_between(seam, begin, end, reference)
        if part is None:
            continue
        covered_m = min(part.station_m[-1], corner.exit_m) - max(part.station_m[0], last_apex_m)
        if seam.corner or covered_m > least_m:
            found.append(part)
    exit_phase = np.linspace(last_apex_m, corner.exit_m, 11)
    inward = corner.corner.turn.sign
    return tuple(sorted(found, key=lambda s: -inward * float(s.offset_at(exit_phase).mean())))


def _part_between(
    seam: PlacedSeam, begin: float, end: float, reference: StationLine
) -> CourseSeam | None:
    """The part of a seam between two unwrapped stations; None when it does not run there."""
    station, offset = seam.station_m, seam.offset_m
    if reference.closed:
        length = reference.length_m
        if station[-1] - station[0] > length - _BEYOND_M:
            # It runs all the way round, so it goes on where it began.
            whole = station < station[0] + length
            station = np.concatenate([station[whole], station[whole] + length])
            offset = np.concatenate([offset[whole], offset[whole]])
        # Count stations in the lap that makes them overlap the corner most.
        laps = np.arange(
            np.floor((begin - station[-1]) / length), (end - station[0]) / length + 1.0
        )
        overlap = np.minimum(station[-1] + laps * length, end)
        overlap = overlap - np.maximum(station[0] + laps * length, begin)
        station = station + laps[np.argmax(overlap)] * length
    inside = (station >= begin) & (station <= end)
    if np.count_nonzero(inside) < 2:
        return None
    return CourseSeam(seam.name, read_only(station[inside]), read_only(offset[inside]))
