"""Checks of the lines of a track file: centre, edges, start line, and their heights."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from scipy.spatial import cKDTree

from lapkit.arrays import FloatArray
from lapkit.course.problem import Problem, Survey, error, warning
from lapkit.course.reference import MEETS_M, on_plane, station_line
from lapkit.course.stations import StationLine
from lapkit.course.types import EDGE_ROLES
from lapkit.curvature import path_length_m
from lapkit.errors import TrackError

NEARLY_CLOSED_M = 60.0
"""An open line whose ends are no further apart than this was probably meant to close, metres (our choice)."""

SHORTEST_START_LINE_M = 4.0
"""No track is narrower than this, metres (our choice)."""

STEEPEST = 0.30
"""Rise over run beyond what any circuit has between two points 10 m apart (common practice)."""

FOLD_M = 40.0
"""A line that crosses itself again within this length is folded rather than bridged, metres."""

_MOST_CROSSINGS = 5  # listed for one line: more would bury the other problems
_MOST_NEIGHBOURS = 20  # a segment and its two neighbours make three; a crossing adds a few
_EDGE_GAP_M = 1.0  # a start line may end this short of an edge, where nobody rides
_HEIGHT_STEP_M = 10.0  # over which heights are compared

EDGE_SIDES = "edge sides"
"""Code of the problem that the edges are exchanged, which puts every cone outside of them as well."""


def nearly_closed(survey: Survey) -> Iterator[Problem]:
    """A course that stops short of its start."""
    line = survey.reference
    apart = float(np.hypot(line.x_m[-1] - line.x_m[0], line.y_m[-1] - line.y_m[0]))
    if not line.closed and apart < min(NEARLY_CLOSED_M, 0.2 * line.length_m):
        yield warning(
            "nearly closed",
            survey.reference_where,
            f"its ends are {apart:.0f} m apart, so it is taken for an open course without laps",
            f"If it is a loop, bring its ends within {MEETS_M:.0f} m.",
        )


def self_crossing(survey: Survey) -> Iterator[Problem]:
    """Lines that cross themselves."""
    for role, drawn in survey.track.lines("centre", *EDGE_ROLES, "marker_line").items():
        line = station_line(survey.plane, drawn, survey.track.source, role)
        for a, b in crossings(line)[:_MOST_CROSSINGS]:
            where = f"{survey.track.source}, {role}, {a:.0f} m from its start"
            if min(b - a, line.length_m - (b - a) if line.closed else np.inf) < FOLD_M:
                yield error(
                    "self-crossing",
                    where,
                    "the line is folded over itself",
                    "Remove the points recorded while turning round or standing there.",
                )
            else:
                yield warning(
                    "self-crossing",
                    where,
                    f"the line crosses itself (again at {b:.0f} m)",
                    "That is right for a bridge; otherwise correct the points there.",
                )


def crossings(line: StationLine) -> list[tuple[float, float]]:
    """Pairs of stations, the smaller first, at which a line crosses itself.

    Raises:
        TrackError: the line lies over itself again and again.
    """
    points = np.stack([line.x_m, line.y_m], axis=-1)
    step = np.diff(points, axis=0)
    middle = points[:-1] + 0.5 * step
    # Two segments that cross have their middles within one segment length of each other.
    tree, reach = cKDTree(middle), 1.01 * line.step_m
    if tree.count_neighbors(tree, reach) > _MOST_NEIGHBOURS * len(middle):
        raise TrackError("a line lies over itself again and again", remedy="Record it again.")
    pairs = tree.query_pairs(reach, output_type="ndarray")
    pairs.sort(axis=1)
    first, second = pairs[pairs[:, 1] - pairs[:, 0] > 1].T
    a, b, apart = step[first], step[second], points[second] - points[first]
    cross = _cross(a, b)
    with np.errstate(divide="ignore", invalid="ignore"):
        along_a, along_b = _cross(apart, b) / cross, _cross(apart, a) / cross
    meet = (along_a >= 0.0) & (along_a < 1.0) & (along_b >= 0.0) & (along_b < 1.0)
    if line.closed:
        meet &= second - first < len(step) - 1
    found = zip((first + along_a)[meet], (second + along_b)[meet], strict=True)
    return sorted((float(i) * line.step_m, float(j) * line.step_m) for i, j in found)


def _cross(a: FloatArray, b: FloatArray) -> FloatArray:
    return a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]


def edge_direction(survey: Survey) -> Iterator[Problem]:
    """Edges that run against the course or against each other, or are exchanged."""
    track, reference = survey.track, survey.reference
    ahead = {}
    for role, drawn in track.lines(*EDGE_ROLES).items():
        x, y = on_plane(survey.plane, drawn)
        station, _ = reference.follow(x, y)
        ahead[role] = station[-1] > station[0]
    if len(set(ahead.values())) == 2:
        against = next(role for role, goes in ahead.items() if not goes)
        yield error(
            "edge direction",
            f"{track.source}, {against}",
            "the edges run against each other",
            "Draw both in the direction of riding.",
        )
    elif ahead and not any(ahead.values()):
        what, which = "it runs against the direction of riding", "it"
        if len(ahead) == 2:
            what, which = "the edges run against the centre", "all of them"
        remedy = f"Draw {which} in the direction of riding."
        yield error("edge direction", f"{track.source}, {' and '.join(ahead)}", what, remedy)
    if survey.edges is not None and np.median(survey.edges.left_m - survey.edges.right_m) < 0.0:
        what, whose = "the left edge lies to the right of the right edge", "their roles"
        if len(ahead) == 1:
            name = next(iter(ahead)).replace("_", " ")
            what, whose = f"the {name} lies on the other side of the centre", "its role"
        remedy = f"Change {whose}, or the direction of the centre."
        yield error(EDGE_SIDES, f"{track.source}, {' and '.join(ahead)}", what, remedy)


def edges_in_part(survey: Survey) -> Iterator[Problem]:
    """Edges that do not go all the way."""
    if survey.edges is None:
        return
    missing = {"left_edge": survey.edges.missing_left_m, "right_edge": survey.edges.missing_right_m}
    for role, metres in missing.items():
        if metres > 0.0:
            yield warning(
                "edge in part",
                f"{survey.track.source}, {role}",
                f"{metres:.0f} m of the course have no such edge; its usual distance is used there",
                "Record the rest of it.",
            )


def start_line(survey: Survey) -> Iterator[Problem]:
    """A start line that is missing or too short, lies beside the track, or runs along it."""
    track, reference = survey.track, survey.reference
    where = f"{track.source}, start_line"
    if track.start_line is None:
        laid = "the longest straight" if reference.closed else "the beginning of the course"
        yield warning(
            "start line",
            where,
            f"there is none; one is laid across {laid}",
            "Record its left and right end.",
        )
        return
    x, y = on_plane(survey.plane, track.start_line)
    length = float(np.hypot(x[1] - x[0], y[1] - y[0]))
    if length < SHORTEST_START_LINE_M:
        remedy = "Record its left and right end at the edges of the track."
        yield error("start line", where, f"it is only {length:.1f} m long", remedy)
        return
    middle, _ = reference.project(x.mean(), y.mean())
    station, offset = reference.project_near(x, y, middle)
    low, high = sorted(offset.tolist())
    if not low < 0.0 < high:
        what = f"it does not cross the course but lies {low:.0f} to {high:.0f} m beside its middle"
        yield error("start line", where, what, "Record its left and right end again.")
    elif high - low < abs(float(station[1] - station[0])):
        what = "it runs along the track rather than across it"
        yield error("start line", where, what, "Record its left and right end again.")
    elif edges := survey.edges_at(middle):
        left, right = map(float, edges)
        short = max(left - high, low - right)
        if short > _EDGE_GAP_M:
            what = f"it ends {short:.1f} m before the edge of the track"
            yield warning("start line", where, what, "Lengthen it: a lap passed there is not seen.")


def heights(survey: Survey) -> Iterator[Problem]:
    """The largest step in the heights of each line, where it is larger than any road's."""
    for role, line in survey.track.lines("centre", *EDGE_ROLES, "marker_line").items():
        if line.height_m is None:
            continue
        known = np.isfinite(line.height_m)
        x, y = on_plane(survey.plane, line)
        length = path_length_m(x, y)[known]
        if len(length) < 2:
            continue
        at = np.arange(length[0], length[-1] + _HEIGHT_STEP_M, _HEIGHT_STEP_M)
        fine = at[:, None] + np.linspace(-0.5, 0.5, 5) * _HEIGHT_STEP_M
        level = np.interp(fine, length, line.height_m[known]).mean(axis=1)
        rise = np.diff(level)
        worst = int(np.argmax(np.abs(rise)))
        if abs(rise[worst]) > STEEPEST * _HEIGHT_STEP_M:
            yield error(
                "height step",
                f"{survey.track.source}, {role}, {at[worst]:.0f} m from its start",
                f"the height changes by {rise[worst]:+.1f} m within {_HEIGHT_STEP_M:.0f} m, so that lean over it "
                "comes out wrong",
                "Correct the heights there, or leave all heights of the line out.",
            )
