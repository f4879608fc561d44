"""Checks of the corners of a track file and of their cones."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise

import numpy as np

from lapkit.course.corridor import VERGE_M
from lapkit.course.course import CourseMarker
from lapkit.course.problem import Problem, Survey, error, warning
from lapkit.course.reference import on_plane
from lapkit.course.types import MarkerKind, Turn

OFF_COURSE_M = VERGE_M
"""A cone further outside the edge than this does not belong to the course: no line can pass it, metres."""

ON_EDGE_M = 1.5
"""A cone that stands on the edge may come out this far outside it when both are walked, metres (our choice)."""

OFF_CENTRE_M = 20.0
"""On a course without edges a cone further from the centre does not belong to it, metres (our choice)."""

ROOM_M = 1.0
"""Least room between a cone and the edge in which one can ride, metres (our choice)."""

CAMBER_DEG = (-6.0, 20.0)
"""Camber of circuits, degrees: off camber rarely beyond 6, banked to 20 (common practice)."""

CAMBER_LIMIT_DEG = 40.0
"""Steeper than any banking, degrees (common practice)."""

_ONE_SPOT_M = 0.2  # no two cones stand so near

_TURNED_RAD = 0.09  # 5°: less may come from how the reference was drawn

_OUTSIDE_EDGE, _OFF_COURSE, _WRONG_SIDE = "outside the edge", "off course", "wrong side"

CONES_AND_EDGES = (_OUTSIDE_EDGE, _OFF_COURSE, _WRONG_SIDE)
"""Codes of the problems of a cone that are found by means of the edges."""

MIRRORED = "mirrored"
"""Code of the problem that every corner turns the other way, which makes cones and edges look wrong as well."""


def turn_against_course(survey: Survey) -> Iterator[Problem]:
    """Corners that are said to turn one way where the course turns the other."""
    against = []
    for placed in survey.corners:
        ends = survey.reference.heading_at([placed.turn_in_m, placed.exit_m])
        turned = float(ends[1] - ends[0]) * placed.corner.turn.sign
        if placed.ordered and turned < -_TURNED_RAD:
            against.append(placed.corner)
    if len(against) > 1 and len(against) == len(survey.corners):
        yield error(
            MIRRORED,
            survey.track.source,
            "every corner turns the other way than it says",
            "Either the centre runs against the direction of riding, or latitude and longitude are "
            "swapped: longitude comes first.",
        )
        return
    for corner in against:
        yield error(
            "turn",
            f"{survey.track.source}, corner {corner.name!r}",
            f"it is called a {corner.turn}-hander, but the course turns the other way there",
            "Correct its `turn`, or the place of its cones.",
        )


def missing_cones(survey: Survey) -> Iterator[Problem]:
    """Corners without turn-in, apex or exit, or without any cone."""
    placed = {corner.corner.name: corner for corner in survey.corners}
    for corner in survey.track.corners:
        where = f"{survey.track.source}, corner {corner.name!r}"
        if corner.name not in placed:
            what = "it has no turn-in, apex or exit, so it is left out"
            yield warning("missing cone", where, what, "Record its cones.")
        elif placed[corner.name].estimated:
            lacks = " and no ".join(placed[corner.name].estimated)
            what = f"it has no {lacks}; the bend of the course is used instead"
            yield warning("missing cone", where, what, "Record the missing cones.")


def order(survey: Survey) -> Iterator[Problem]:
    """Corners whose cones are not in riding order."""
    for placed in survey.corners:
        if not placed.ordered:
            ridden = ", ".join(repr(m.name) for m in placed.markers)
            yield error(
                "order",
                f"{survey.track.source}, corner {placed.corner.name!r}",
                f"its cones come in the order {ridden} when ridden",
                "Turn-in comes first, then the apexes, then the exit: check kind and place of "
                "each, and the direction of the centre.",
            )


def doubled(survey: Survey) -> Iterator[Problem]:
    """Cones of a corner that stand on one spot, as a copy of a feature does."""
    for placed in survey.corners:
        for other, marker in _on_one_spot(placed.markers):
            yield warning(
                "doubled",
                f"{survey.track.source}, corner {placed.corner.name!r}, marker {marker.name!r}",
                f"it stands where marker {other.name!r} stands",
                "Take one of them out, or correct its place.",
            )


def _on_one_spot(
    markers: Sequence[CourseMarker],
) -> Iterator[tuple[CourseMarker, CourseMarker]]:
    """Pairs of cones of one kind that stand on one spot, the earlier one first."""
    for number, marker in enumerate(markers):
        for other in markers[:number]:
            apart_m = np.hypot(marker.x_m - other.x_m, marker.y_m - other.y_m)
            if marker.kind is other.kind and apart_m < _ONE_SPOT_M:
                yield other, marker


def overlaps(survey: Survey) -> Iterator[Problem]:
    """Corners that begin before the one before has ended."""
    corners = sorted((c for c in survey.corners if c.ordered), key=lambda c: c.turn_in_m)
    begins = [(corner, corner.turn_in_m) for corner in corners]
    if survey.reference.closed:
        # The last corner may reach over the end of the lap into the first.
        begins += [(corner, begin + survey.reference.length_m) for corner, begin in begins[:1]]
    for (here, _), (following, begin) in pairwise(begins):
        overlap = here.exit_m - begin
        if overlap > 1.0:
            yield warning(
                "overlap",
                f"{survey.track.source}, corner {following.corner.name!r}",
                f"its turn-in lies {overlap:.0f} m before the exit of corner {here.corner.name!r}",
                "Correct the cones, or make one corner with several apexes of them.",
            )


def beyond_ends(survey: Survey) -> Iterator[Problem]:
    """Corners that an open course does not go all through, so that no line leads through them."""
    if survey.reference.closed:
        return
    for placed in survey.corners:
        before, beyond = -placed.turn_in_m, placed.exit_m - survey.reference.length_m
        lies = [f"its turn-in lies {before:.1f} m before the course begins"] * (before >= 0.0)
        lies += [f"its exit lies {beyond:.1f} m beyond the course's end"] * (beyond >= 0.0)
        if placed.ordered and lies:
            yield warning(
                "beyond an end",
                f"{survey.track.source}, corner {placed.corner.name!r}",
                f"{' and '.join(lies)}, so riders are held against no line there",
                "Record the centre from further before it to further beyond it.",
            )


def before_start(survey: Survey) -> Iterator[Problem]:
    """Corners that an open course enters before its start line: laps begin there, so these corners belong to none."""
    if survey.reference.closed or survey.track.start_line is None:
        return
    x, y = on_plane(survey.plane, survey.track.start_line)
    start_m, _ = survey.reference.project(x.mean(), y.mean())
    for placed in survey.corners:
        before_m = float(start_m) - placed.turn_in_m
        # What lies before the course itself is told by another check.
        if placed.ordered and placed.turn_in_m > 0.0 and before_m >= 0.0:
            yield warning(
                "before the start",
                f"{survey.track.source}, corner {placed.corner.name!r}",
                f"its turn-in lies {before_m:.0f} m before the start line, so no lap has this corner and nothing is "
                "measured there",
                "Lay the start line across the course before it.",
            )


def _room(survey: Survey, marker: CourseMarker) -> tuple[float, float] | None:
    """Room left and right of a cone to the edges, metres; None without edges."""
    edges = survey.edges_at(marker.station_m)
    if edges is None:
        return None
    left, right = map(float, edges)
    return left - marker.offset_m, marker.offset_m - right


def _markers(survey: Survey) -> Iterator[tuple[str, Turn, CourseMarker]]:
    """Every cone that is ridden past: its place in messages, the turn of its corner, and the cone."""
    for placed in survey.corners:
        for marker in placed.markers:
            if marker.kind is not MarkerKind.SIGHT:
                where = (
                    f"{survey.track.source}, corner {placed.corner.name!r}, marker {marker.name!r}"
                )
                yield where, placed.corner.turn, marker


def off_course(survey: Survey) -> Iterator[Problem]:
    """Cones beyond the edge: an error where no line can pass them, a warning where a walk may have put them there."""
    for where, _, marker in _markers(survey):
        room = _room(survey, marker)
        if room is None:
            if abs(marker.offset_m) > OFF_CENTRE_M:
                away = f"{abs(marker.offset_m):.0f} m from the centre of the course"
                yield _not_on_course(where, away)
        elif -min(room) > OFF_COURSE_M:
            yield _not_on_course(where, f"{-min(room):.0f} m outside the edge of the track")
        elif -min(room) > ON_EDGE_M:
            yield warning(
                _OUTSIDE_EDGE,
                where,
                f"it stands {-min(room):.1f} m outside the edge of the track, as a walk may put it; "
                "the line passes it along the edge",
                "Mark it again, or walk the edge again there.",
            )


def _not_on_course(where: str, away: str) -> Problem:
    return error(_OFF_COURSE, where, f"it stands {away}", "Correct its place, or the line.")


def wrong_side(survey: Survey) -> Iterator[Problem]:
    """Cones that cannot be passed on the side they say, and apexes on the outside."""
    for where, turn, marker in _markers(survey):
        room = _room(survey, marker)
        if room is not None and _leaves_no_way(marker, room):
            yield error(
                _WRONG_SIDE,
                where,
                f"it should stand on the rider's {marker.side}, but there is no room to pass it so",
                "Correct its `side`, or its place.",
            )
        elif marker.kind is MarkerKind.APEX and marker.side is not turn:
            yield warning(
                _WRONG_SIDE,
                where,
                f"an apex of a {turn}-hander stands on the rider's {marker.side}",
                "An apex lies on the inside: check its `side`.",
            )


def _leaves_no_way(marker: CourseMarker, room: tuple[float, float]) -> bool:
    """Whether a cone that stands on the course, or at its edge, cannot be passed on the side it says."""
    left, right = room
    # A cone on the rider's left is passed to the right of it.
    passing = right if marker.side is Turn.LEFT else left
    return passing < ROOM_M and min(room) > -OFF_COURSE_M


def camber(survey: Survey) -> Iterator[Problem]:
    """Camber beyond what circuits have."""
    given = [
        (f"{survey.track.source}, corner {corner.name!r}", corner.camber_deg)
        for corner in survey.track.corners
    ]
    given += [
        (f"{survey.track.source}, corner {m.corner!r}, marker {m.name!r}", m.camber_deg)
        for m in survey.track.markers
    ]
    for where, degrees in given:
        if degrees is None or CAMBER_DEG[0] <= degrees <= CAMBER_DEG[1]:
            continue
        make = error if abs(degrees) > CAMBER_LIMIT_DEG else warning
        yield make(
            "camber",
            where,
            f"a camber of {degrees:g} degrees is beyond what circuits have",
            "Give it in degrees, not percent: positive banked to the inside, negative off camber.",
        )
