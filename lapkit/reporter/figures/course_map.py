"""The whole course from above with its corners' names, north up."""

from __future__ import annotations

import numpy as np
from matplotlib.figure import Figure

from lapkit.course.course import Course
from lapkit.reporter.display import plain
from lapkit.reporter.figures import ground, style
from lapkit.reporter.figures.canvas import Canvas
from lapkit.reporter.figures.view import Label, View, fitted, room_above
from lapkit.units import Units

STEP_M = 8.0
"""Distance between the stations at which the course is drawn, metres."""

_LONGEST = 16
_BELOW = 28.0


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
    view, height = fitted(View(1.0, 0.0), [(x, y)], labels, style.WIDTH, 1.2 * style.WIDTH, _BELOW)
    lifts, height = room_above(labels, view, height)
    paper = Canvas(style.WIDTH, height)
    paper.lines([view.paper(x, y)], width=3.0, color=style.GREY)
    parts = []
    for corner in course.corners:
        at = ground.stations((corner.turn_in_m, corner.exit_m))
        parts.append(view.paper(*course.reference.at(course.reference.wrap(at))))
    paper.lines(parts, width=6.0)
    start, _ = course.reference.project(*course.start_line.mean(axis=0))
    ends = view.paper(*course.reference.at(course.reference.wrap(start + np.array([0.0, 30.0]))))
    ahead = (ends[1] - ends[0]) / max(float(np.hypot(*(ends[1] - ends[0]))), 1e-9)
    across = 9.0 * np.array([-ahead[1], ahead[0]])
    paper.lines([np.stack([ends[0] - across, ends[0] + across])], width=3.0, z=5)
    paper.arrow(ends[0] + across, ends[0] + across + 24.0 * ahead)
    ground.draw_labels(paper, view, labels, lifts)
    ground.draw_scale(paper, view, units or Units.METRIC, x=8.0)
    return paper.figure


def _label(course: Course, number: int) -> Label:
    """A corner's name on its outer side."""
    corner = course.corners[number]
    middle = course.reference.wrap(0.5 * (corner.turn_in_m + corner.exit_m))
    x, y = course.reference.at(middle)
    heading = float(course.reference.heading_at(middle))
    out = -corner.turn.sign
    side = -out * float(np.sin(heading)), out * float(np.cos(heading))
    return Label(float(x), float(y), *side, plain(corner.name, _LONGEST))
