"""All checks of a track file: what can be wrong with it, in plain words and with its place."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator

import numpy as np

from lapkit.arrays import FloatArray
from lapkit.coordinates import METRES_PER_DEGREE, one_turn_deg
from lapkit.course.check_corners import (
    CONES_AND_EDGES,
    MIRRORED,
    before_start,
    beyond_ends,
    camber,
    doubled,
    missing_cones,
    off_course,
    order,
    overlaps,
    turn_against_course,
    wrong_side,
)
from lapkit.course.check_digits import coarse_digits
from lapkit.course.check_lines import (
    EDGE_SIDES,
    edge_direction,
    edges_in_part,
    heights,
    nearly_closed,
    self_crossing,
    start_line,
)
from lapkit.course.check_marker_line import as_drawn
from lapkit.course.check_seams import seam_crossings, seam_names
from lapkit.course.corner_place import place_corner
from lapkit.course.course import Course
from lapkit.course.plane import middle_deg
from lapkit.course.problem import Problem, Severity, Survey, error, warning
from lapkit.course.reference import edges_of, plane_of, reference_of
from lapkit.course.seams import place_seams
from lapkit.course.track_file import ROLES
from lapkit.course.types import Track
from lapkit.errors import TrackError

FAR_M = 30_000.0
"""No part of a course is further from its middle, metres."""

CHECKS: tuple[Callable[[Survey], Iterator[Problem]], ...] = (
    nearly_closed,
    self_crossing,
    edge_direction,
    edges_in_part,
    as_drawn,
    coarse_digits,
    start_line,
    heights,
    turn_against_course,
    missing_cones,
    order,
    doubled,
    overlaps,
    beyond_ends,
    before_start,
    off_course,
    wrong_side,
    camber,
    seam_crossings,
    seam_names,
)
"""The checks that need the course placed on its plane, in the order in which their problems are listed."""


def check_track(track: Track, placed: Course | None = None) -> tuple[Problem, ...]:
    """Every problem of a track file that could be read, errors first; empty when it is sound.

    Args:
        track: the track file.
        placed: the course that was made of it, where that was done already.
    """
    found = [*_misplaced(track), *_unknown_roles(track)]
    if not any(problem.severity is Severity.ERROR for problem in found):
        try:
            survey = _survey(track, placed)
            shown = [problem for check in CHECKS for problem in check(survey)]
            found.extend(_without_consequences(shown))
        except TrackError as fault:
            where = fault.where or track.source
            found.append(error("unusable line", where, fault.what, fault.remedy))
    return tuple(sorted(found, key=lambda problem: problem.severity is Severity.WARNING))


def _without_consequences(problems: list[Problem]) -> list[Problem]:
    """The problems without those that follow from another one.

    On a mirrored course every cone and edge looks wrong; between exchanged edges every cone does.
    """
    if any(p.code == EDGE_SIDES for p in problems):
        problems = [p for p in problems if p.code not in CONES_AND_EDGES]
    return [p for p in problems if p.code == MIRRORED] or problems


def _survey(track: Track, course: Course | None) -> Survey:
    if course is not None:
        plane, reference, edges = course.plane, course.reference, course.edges
    else:
        plane = plane_of(track)
        reference = reference_of(track, plane)
        edges = edges_of(track, plane, reference)
    placed = (place_corner(track, corner, plane, reference) for corner in track.corners)
    return Survey(
        track=track,
        plane=plane,
        reference=reference,
        edges=edges,
        corners=tuple(corner for corner in placed if corner is not None),
        seams=place_seams(track, plane, reference),
    )


def _parts(track: Track) -> Iterator[tuple[str, FloatArray]]:
    """Name and positions (longitude, latitude), shape ``(n, 2)``, of everything that has a place."""
    yield from ((role, line.lon_lat) for role, line in track.lines().items())
    for seam in track.seams:
        yield f"seam {seam.name!r}", seam.lon_lat
    for marker in track.markers:
        yield (
            f"corner {marker.corner!r}, marker {marker.name!r}",
            np.array([[marker.lon, marker.lat]]),
        )
    for kind, points in (("hold_point", track.hold_points), ("base_point", track.base_points)):
        for point in points:
            yield f"{kind} {point.name!r}", np.array([[point.lon, point.lat]])


def _misplaced(track: Track) -> Iterator[Problem]:
    """Features far from all others: most often their latitude and longitude are swapped."""
    parts = list(_parts(track))
    if not parts:
        return
    middle = middle_deg(np.array([middle_deg(positions) for _, positions in parts]))
    for name, positions in parts:
        far = _far(positions, middle)
        if not np.any(far):
            continue
        number = int(np.argmax(far))
        lon, lat = positions[number]
        where = f"{track.source}, {name}"
        if len(positions) > 1:
            where += f", position {number + 1}"
        if not np.any(_far(positions[far][:, ::-1], middle)):
            what = f"[{lon:.6g}, {lat:.6g}] has latitude and longitude swapped"
            yield error("swapped", where, what, "Longitude comes first, then latitude.")
        else:
            what = f"[{lon:.6g}, {lat:.6g}] is far from the rest of the course"
            yield error("far away", where, what, "Correct its coordinates, or remove it.")


def _far(positions: FloatArray, middle: tuple[float, float]) -> np.ndarray:
    """Which positions (longitude, latitude) lie further than :data:`FAR_M` from the middle, ``(n,)``."""
    east = one_turn_deg(positions[:, 0] - middle[0])
    east = east * np.cos(np.radians(middle[1]))
    return np.hypot(east, positions[:, 1] - middle[1]) * METRES_PER_DEGREE > FAR_M


def _unknown_roles(track: Track) -> Iterator[Problem]:
    """Features that lapkit keeps but does not use: perhaps a role is misspelt."""
    roles: Counter[str] = Counter()
    for feature in track.unknown:
        role = (feature.get("properties") or {}).get("role")
        roles[repr(role)[:40] if role is not None else "none"] += 1
    for role, number in sorted(roles.items()):
        yield warning(
            "unknown role",
            track.source,
            f"{number} feature(s) of role {role} are kept but not used",
            f"The roles are: {', '.join(ROLES)}.",
        )
