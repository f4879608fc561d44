"""Checks of the corners of a track file and of their cones."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

from lapkit.course.corridor import VERGE_M
from lapkit.course.course import CourseMarker
from lapkit.course.problem import Problem, Survey, error, warning
from lapkit.course.types import MarkerKind, Turn

OFF_COURSE_M = VERGE_M
"""A cone further outside the edge does not belong to this course: no line can pass it, metres."""

ON_EDGE_M = 1.5
"""A cone set on the edge may come out so far outside it when both are walked, metres (our choice)."""

OFF_CENTRE_M = 20.0
"""A cone further from the centre does not belong to this course, where there are no edges, metres (our choice)."""

ROOM_M = 1.0
"""Less room than this between a cone and the edge is no room to ride, metres (our choice)."""

CAMBER_DEG = (-6.0, 20.0)
"""Camber of circuits, degrees: off camber rarely beyond 6, banked to 20 (common practice)."""

CAMBER_LIMIT_DEG = 40.0
"""Steeper than any banking, degrees (common practice)."""

_TURNED_RAD = 0.09  # 5°: less may be how the reference was drawn


CONES_AND_EDGES = ("outside the edge", "off course", "wrong side")
"""Codes of the problems of a cone that the edges tell."""

MIRRORED = "mirrored"
"""Code of the problem that every corner turns the other way: it puts cones and edges wrong as well."""


def turn_against_course(survey: Survey) -> Iterator[Problem]:
    """Corners said to turn one way where the course turns the other."""
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
    """Cones that are not in riding order."""
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


def overlaps(survey: Survey) -> Iterator[Problem]:
    """Corners that begin before the one before has ended."""
    corners = sorted((c for c in survey.corners if c.ordered), key=lambda c: c.turn_in_m)
    for here, following in pairwise(corners):
        overlap = here.exit_m - following.turn_in_m
        if overlap > 1.0:
            yield warning(
                "overlap",
                f"{survey.track.source}, corner {following.corner.name!r}",
                f"its turn-in lies {overlap:.0f} m before the exit of corner {here.corner.name!r}",
                "Correct the cones, or make one corner with several apexes of them.",
            )


def _room(survey: Survey, marker: CourseMarker) -> tuple[float, float] | None:
    """Room left and right of a cone to the edges, metres; None without edges."""
    edges = survey.edges_at(marker.station_m)
    if edges is None:
        return None
    left, right = map(float, edges)
    return left - marker.offset_m, marker.offset_m - right


def _markers(survey: Survey) -> Iterator[tuple[str, Turn, CourseMarker]]:
    for placed in survey.corners:
        for marker in placed.markers:
            where = f"{survey.track.source}, corner {placed.corner.name!r}, marker {marker.name!r}"
            yield where, placed.corner.turn, marker


def off_course(survey: Survey) -> Iterator[Problem]:
    """Cones beyond the edge: an error where no line can pass them, a warning within the error of a walk."""
    for where, _, marker in _markers(survey):
        if marker.kind is MarkerKind.SIGHT:
            continue
        room = _room(survey, marker)
        outside = None if room is None else -min(room)
        if outside is not None and outside > OFF_COURSE_M:
            what = f"it stands {outside:.0f} m outside the edge of the track"
        elif outside is not None and outside > ON_EDGE_M:
            yield warning(
                "outside the edge",
                where,
                f"it stands {outside:.1f} m outside the edge of the track, as a walk may put it; "
                "the line passes it along the edge",
                "Mark it again, or walk the edge again there.",
            )
            continue
        elif room is None and abs(marker.offset_m) > OFF_CENTRE_M:
            what = f"it stands {abs(marker.offset_m):.0f} m from the centre of the course"
        else:
            continue
        yield error("off course", where, what, "Correct its place, or the line.")


def wrong_side(survey: Survey) -> Iterator[Problem]:
    """Cones that cannot be passed on the side they say, and apexes on the outside."""
    for where, turn, marker in _markers(survey):
        if marker.kind is MarkerKind.SIGHT:
            continue
        room = _room(survey, marker)
        # A cone on the rider's left is passed to the right of it.
        passing = None if room is None else room[1] if marker.side is Turn.LEFT else room[0]
        if (
            room is not None
            and passing is not None
            and passing < ROOM_M
            and min(room) > -OFF_COURSE_M
        ):
            yield error(
                "wrong side",
                where,
                f"it should stand on the rider's {marker.side}, but there is no room to pass it so",
                "Correct its `side`, or its place.",
            )
        elif marker.kind is MarkerKind.APEX and marker.side is not turn:
            yield warning(
                "wrong side",
                where,
                f"an apex of a {turn}-hander stands on the rider's {marker.side}",
                "An apex lies on the inside: check its `side`.",
            )


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
