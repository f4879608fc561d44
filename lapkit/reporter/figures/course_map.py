"""The whole course from above with its corners' names, north up."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from matplotlib.figure import Figure

from lapkit.course.course import Course
from lapkit.reporter.display import plain
from lapkit.reporter.figures import ground, style
from lapkit.reporter.figures.canvas import Canvas
from lapkit.reporter.figures.view import Label, View, apart, fitted, room_above
from lapkit.units import FloatArray, Units

STEP_M = 8.0
"""Distance between the stations at which the course is drawn, metres."""

_LONGEST = 16
_BELOW = 28.0
_SIDES = ((0.0, 1.0), (1.0, 0.0), (0.7, 0.7), (-0.7, 0.7), (0.7, -0.7), (0.0, -1.0), (-1.0, 0.0))
_OFF_ROAD = 3.0  # points between a name and the road
_CLEARER = 4.0  # points by which a name stands nearer to its own corner than to any other

_Box = tuple[float, float, float, float]  # left, right, low and high end on paper


def course_map(course: Course, units: Units | None = None) -> Figure:
    """The course with its corners thick and named, an arrow at the start in the riding direction.

    Args:
        course: the course.
        units: for the scale bar.
    """
    length = course.reference.length_m
    station = np.linspace(0.0, length, max(int(length / STEP_M), 2) + 1)
    x, y = course.reference.at(station)
    labels = [_label(course, i) for i in range(len(course.corners))]
    room = style.WIDTH, 1.2 * style.WIDTH, _BELOW
    first, _ = fitted(View(1.0, 0.0), [(x, y)], labels, *room)
    labels = _told_apart(course, first, first.paper(x, y), labels)
    view, height = fitted(View(1.0, 0.0), [(x, y)], labels, *room)
    lifts, height = room_above(labels, view, height)
    paper = Canvas(style.WIDTH, height)
    paper.lines([view.paper(x, y)], width=3.0, color=style.GREY)
    paper.lines(_arcs(course, view), width=6.0)
    start, _ = course.reference.project(*course.start_line.mean(axis=0))
    ends = view.paper(*course.reference.at(course.reference.wrap(start + np.array([0.0, 30.0]))))
    ahead = (ends[1] - ends[0]) / max(float(np.hypot(*(ends[1] - ends[0]))), 1e-9)
    across = 9.0 * np.array([-ahead[1], ahead[0]])
    paper.lines([np.stack([ends[0] - across, ends[0] + across])], width=3.0, z=5)
    paper.arrow(ends[0] + across, ends[0] + across + 24.0 * ahead)
    ground.draw_labels(paper, view, labels, lifts)
    ground.draw_scale(paper, view, units or Units.METRIC, x=8.0)
    return paper.figure


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
    taken: list[_Box] = []
    chosen = []
    for i, label in enumerate(labels):
        at = view.paper(label.x_m, label.y_m)
        x, y = (float(np.copysign(1.0, side)) for side in (label.side_x, label.side_y))
        tried = [label, *(replace(label, side_x=a * x, side_y=b * y) for a, b in _SIDES)]
        boxes = [_lifted(each.box(*at), taken) for each in tried]
        doubts = [_doubt(box, i, arcs, road) for box in boxes]
        best = doubts.index(min(doubts))
        taken.append(boxes[best])
        chosen.append(tried[best])
    return chosen


def _doubt(box: _Box, own: int, arcs: Sequence[FloatArray], road: FloatArray) -> tuple[int, float]:
    """How much of the road a name there lies on; how far it is from being nearest to its own corner, points.

    Where a name belongs is read from both its nearer end and its middle.
    """
    middle = np.array([0.5 * (box[0] + box[1]), 0.5 * (box[2] + box[3])])
    gaps = np.array([_gaps(box, arc).min() + np.hypot(*(arc - middle).T).min() for arc in arcs])
    others = np.delete(gaps, own).min(initial=np.inf)
    hidden = int(np.count_nonzero(_gaps(box, road) < _OFF_ROAD))
    return hidden, max(0.0, float(gaps[own] + _CLEARER - others))


def _lifted(box: _Box, taken: Sequence[_Box]) -> _Box:
    """The box moved up where it would lie on one that is taken."""
    lift = apart([*taken, box])[-1]
    return box[0], box[1], box[2] + lift, box[3] + lift


def _gaps(box: _Box, points: FloatArray) -> FloatArray:
    """From a box to each of points ``(n, 2)``."""
    left, right, low, high = box
    x = np.maximum(np.maximum(left - points[:, 0], points[:, 0] - right), 0.0)
    y = np.maximum(np.maximum(low - points[:, 1], points[:, 1] - high), 0.0)
    return np.hypot(x, y)


def _label(course: Course, number: int) -> Label:
    """A corner's name on its outer side."""
    corner = course.corners[number]
    middle = course.reference.wrap(0.5 * (corner.turn_in_m + corner.exit_m))
    x, y = course.reference.at(middle)
    heading = float(course.reference.heading_at(middle))
    out = -corner.turn.sign
    side = -out * float(np.sin(heading)), out * float(np.cos(heading))
    return Label(float(x), float(y), *side, plain(corner.name, _LONGEST))
