"""A corner's shape as a sign of its own, small enough to stand in a line of text."""

from __future__ import annotations

import numpy as np
from markupsafe import Markup

from lapkit.course.course import Corner, Course
from lapkit.reporter.figures.view import upright

SIZE = 40.0
_ROOM = 7.0  # points kept free at every side
_POINTS = 18  # along the corner: enough at this size
_LEAD_M = 15.0  # of road before turn-in and after the exit


def corner_icon(course: Course, corner: Corner) -> Markup:
    """The corner from above as an ``svg`` element without words, the rider coming in from below."""
    station = np.linspace(corner.turn_in_m - _LEAD_M, corner.exit_m + _LEAD_M, _POINTS)
    path = upright(course, corner).paper(*course.reference.at(course.reference.wrap(station)))
    low, high = path.min(axis=0), path.max(axis=0)
    scale = (SIZE - 2.0 * _ROOM) / max(float((high - low).max()), 1.0)
    path = 0.5 * SIZE + scale * (path - 0.5 * (low + high)) * (1.0, -1.0)
    ahead = path[-1] - path[-2]
    ahead = ahead / max(float(np.hypot(*ahead)), 1e-9)
    across = np.array([-ahead[1], ahead[0]])
    tip = path[-1] + 4.0 * ahead
    head = np.stack(
        [tip, path[-1] - 3.0 * ahead + 5.0 * across, path[-1] - 3.0 * ahead - 5.0 * across]
    )
    return Markup(  # numbers only
        f'<svg class="icon" viewBox="0 0 {SIZE:.0f} {SIZE:.0f}" aria-hidden="true">'
        f'<polyline points="{_points(path)}"/><polygon points="{_points(head)}"/></svg>'
    )


def _points(path: np.ndarray) -> str:
    return " ".join(f"{x:.1f},{y:.1f}" for x, y in path)
