"""The whole course from above with its corners' names, north up."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from markupsafe import Markup
from matplotlib.figure import Figure

from lapkit.arrays import FloatArray
from lapkit.course.course import Course
from lapkit.reporter.display import plain
from lapkit.reporter.figures import ground, style
from lapkit.reporter.figures.canvas import Canvas
from lapkit.reporter.figures.svg import svg_of
from lapkit.reporter.figures.view import Box, Label, View, apart, fitted, room_above
from lapkit.units import Units

STEP_M = 8.0
"""Distance between the stations at which the course is drawn, metres."""

_LONGEST = 16  # characters of a corner's name
_BELOW = 28.0  # points for the scale
_SIDES = (
    (0.0, 1.0, ""), (1.0, 0.0, ""), (0.7, 0.7, ""), (-0.7, 0.7, ""), (0.7, -0.7, ""), (0.0, -1.0, ""), (-1.0, 0.0, ""),
    # Above or below with its end there: beside a straight there is no room for all of it.
    (0.35, 1.0, "right"), (-0.35, 1.0, "left"), (0.35, -1.0, "right"), (-0.35, -1.0, "left"),
)  # fmt: skip
_MIRRORED = {"": "", "left": "right", "right": "left"}
_FARTHER = (1.0, 1.7, 2.4)  # times as far off, beyond a straight that passes close by
_ROUNDS = 4
_FINE = 8  # points on the start line, and on its arrow
_OFF_ROAD = 3.0  # points between a name and the road
_CLEARER = 4.0  # points by which a name stands nearer to its own corner than to any other


def course_map(course: Course, units: Units | None = None) -> Figure:
    """The course with its corners thick and named, an arrow at the start in the riding direction.

    Args:
        course: the course.
        units: for the scale bar.
    """
    length = course.reference.length_m
    station = np.linspace(0.0, length, max(int(length / STEP_M), 2) + 1)
    x, y = course.reference.at(station)
    names = [_label(course, i) for i in range(len(course.corners))]
    room = style.WIDTH, 1.2 * style.WIDTH, _BELOW
    view, height = fitted(View(1.0, 0.0), [(x, y)], names, *room)
    labels = names
    for _ in range(_ROUNDS):
        # Names in other places leave another view, in which other places may be free.
        before, labels = labels, _told_apart(course, view, view.paper(x, y), names)
        if labels == before:
            break
        view, height = fitted(View(1.0, 0.0), [(x, y)], labels, *room)
    lifts, height = room_above(labels, view, height)
    paper = Canvas(style.WIDTH, height)
    paper.lines([view.paper(x, y)], width=3.0, color=style.GREY)
    paper.lines(_arcs(course, view), width=6.0)
    bar, arrow = _start(course, view)
    paper.lines([bar], width=3.0, z=5)
    paper.arrow(*arrow)
    ground.draw_labels(paper, view, labels, lifts)
    ground.draw_scale(paper, view, units or Units.METRIC, x=8.0)
    return paper.figure


def course_map_svg(course: Course, units: Units) -> Markup:
    """The map as SVG, with what it shows in words, for a page; its ids are for one map on a page."""
    return svg_of(
        course_map(course, units), "map-", "The course", "The course and its corners, north up."
    )


def _start(course: Course, view: View) -> tuple[FloatArray, FloatArray]:
    """The start line across the road, and the tail and the tip of an arrow ahead of it, ``(2, 2)`` each."""
    start, _ = course.reference.project(*course.start_line.mean(axis=0))
    ends = view.paper(*course.reference.at(course.reference.wrap(start + np.array([0.0, 30.0]))))
    ahead = (ends[1] - ends[0]) / max(float(np.hypot(*(ends[1] - ends[0]))), 1e-9)
    across = 9.0 * np.array([-ahead[1], ahead[0]])
    tail = ends[0] + across
    return np.stack([ends[0] - across, tail]), np.stack([tail, tail + 24.0 * ahead])


def _arcs(course: Course, view: View) -> list[FloatArray]:
    """Every corner from turn-in to exit on paper, each ``(n, 2)``."""
    spans = [ground.stations((corner.turn_in_m, corner.exit_m)) for corner in course.corners]
    return [view.paper(*course.reference.at(course.reference.wrap(at))) for at in spans]


def _told_apart(
    course: Course, view: View, road: FloatArray, labels: Sequence[Label]
) -> list[Label]:
    """The names, each off the road ``(n, 2)`` and nearest to its own corner where there is such a place.

    Its corner's outer side is tried first, then straight above or below and beside it, last inside.
    """
    arcs = _arcs(course, view)
    start = [np.linspace(ends[0], ends[1], _FINE) for ends in _start(course, view)]
    road = np.concatenate([road, *start])
    taken: list[Box] = []
    chosen = []
    for i, label in enumerate(labels):
        at, least = view.paper(label.x_m, label.y_m), (np.inf, np.inf)
        for tried in _tried(label):
            box = _lifted(tried.box(*at), taken)
            doubt = _doubt(box, i, arcs, road)
            if doubt < least:
                best, where, least = tried, box, doubt
            if least == (0.0, 0.0):
                break
        taken.append(where)
        chosen.append(best)
    return chosen


def _tried(label: Label) -> list[Label]:
    """A name in all places about its corner, the likeliest first."""
    x, y = (float(np.copysign(1.0, side)) for side in (label.side_x, label.side_y))
    near = [label]
    for a, b, end in _SIDES:
        hung = end if x > 0.0 else _MIRRORED[end]
        near.append(replace(label, side_x=a * x, side_y=b * y, hung=hung))
    return [
        replace(one, side_x=times * one.side_x, side_y=times * one.side_y)
        for times in _FARTHER
        for one in near
    ]


def _doubt(box: Box, own: int, arcs: Sequence[FloatArray], road: FloatArray) -> tuple[float, float]:
    """How deep a name there lies on the road; how far it is from being nearest to its own corner, points.

    Where a name belongs is read from both its nearer end and its middle.
    """
    middle = np.array([0.5 * (box.left + box.right), 0.5 * (box.low + box.high)])
    gaps = np.array(
        [np.maximum(_gaps(box, arc).min(), 0.0) + np.hypot(*(arc - middle).T).min() for arc in arcs]
    )
    others = np.delete(gaps, own).min(initial=np.inf)
    hidden = float(np.sum(np.maximum(_OFF_ROAD - _gaps(box, road), 0.0)))
    return hidden, max(0.0, float(gaps[own] + _CLEARER - others))


def _lifted(box: Box, taken: Sequence[Box]) -> Box:
    """The box moved up where it would lie on one that is taken."""
    return box.lifted(apart([*taken, box])[-1])


def _gaps(box: Box, points: FloatArray) -> FloatArray:
    """From a box to each of points ``(n, 2)``; negative inside, to its nearest side."""
    x = np.maximum(box.left - points[:, 0], points[:, 0] - box.right)
    y = np.maximum(box.low - points[:, 1], points[:, 1] - box.high)
    outside = np.hypot(np.maximum(x, 0.0), np.maximum(y, 0.0))
    return outside + np.minimum(np.maximum(x, y), 0.0)


def _label(course: Course, number: int) -> Label:
    """A corner's name on its outer side."""
    corner = course.corners[number]
    middle = course.reference.wrap(0.5 * (corner.turn_in_m + corner.exit_m))
    x, y = course.reference.at(middle)
    heading = float(course.reference.heading_at(middle))
    out = -corner.turn.sign
    side = -out * float(np.sin(heading)), out * float(np.cos(heading))
    return Label(float(x), float(y), *side, plain(corner.name, _LONGEST))
