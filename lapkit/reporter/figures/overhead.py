"""The overhead drawing of a corner: edges, seams, lanes, cones, marker line and every lap."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from lapkit.compare.results import CornerTrace
from lapkit.course.course import Corner, Course
from lapkit.reporter.display import Units
from lapkit.reporter.figures import style
from lapkit.units import FloatArray

MARGIN_M = 20.0
"""Metres of course drawn before turn-in and after the exit."""


def overhead(
    course: Course,
    corner: Corner,
    traces: Sequence[CornerTrace] = (),
    spoken_of: tuple[str, int] | None = None,
    units: Units | None = None,
) -> Figure:
    """A corner from above, north up.

    Args:
        course: the course.
        corner: which corner.
        traces: laps through it.
        spoken_of: session and lap to bring forward.
        units: for the scale bar.
    """
    station = np.arange(corner.turn_in_m - MARGIN_M, corner.exit_m + MARGIN_M, 2.0)
    figure, axes = style.blank(4.8, 3.8)
    axes.set_aspect("equal", adjustable="datalim")
    axes.axis("off")
    _road(axes, course, station)
    for seam in corner.seams:
        axes.plot(*_beside(course, station, seam.offset_at(station)), **style.SEAM)
    _lanes(axes, course, corner)
    _marker_line(axes, course, station)
    for trace in style.spoken_last(traces, spoken_of):
        axes.plot(trace.x_m, trace.y_m, **style.lap_style(trace, spoken_of))
    _cones(axes, corner)
    _direction(axes, course, station)
    _scale(axes, units or Units())
    return figure


def _beside(
    course: Course, station: FloatArray, offset: FloatArray
) -> tuple[FloatArray, FloatArray]:
    at = course.reference.wrap(station)
    x, y = course.reference.at(at)
    heading = course.reference.heading_at(at)
    return x - offset * np.sin(heading), y + offset * np.cos(heading)


def _road(axes: Axes, course: Course, station: FloatArray) -> None:
    edges = course.edges_at(course.reference.wrap(station))
    if edges is None:
        axes.plot(*_beside(course, station, np.zeros_like(station)), color=style.PALE, linewidth=14)
        return
    left, right = (np.stack(_beside(course, station, e)) for e in edges)
    axes.fill(*np.concatenate([left, right[:, ::-1]], axis=1), color=style.PALE, zorder=0)
    for edge in (left, right):
        axes.plot(*edge, **style.EDGE)


def _lanes(axes: Axes, course: Course, corner: Corner) -> None:
    """Lane numbers across the road at turn-in, from the inside of the corner outward."""
    station = np.array([corner.turn_in_m - 0.5 * MARGIN_M])
    edges = course.edges_at(course.reference.wrap(station))
    if edges is None or not corner.seams:
        return
    inner, outer = edges if corner.turn.sign > 0 else edges[::-1]
    limits = [inner[0], *(s.offset_at(station)[0] for s in corner.seams), outer[0]]
    for lane, (a, b) in enumerate(pairwise(limits), 1):
        x, y = _beside(course, station, np.array([0.5 * (a + b)]))
        axes.text(x[0], y[0], str(lane), fontsize=style.FONT, ha="center", va="center", zorder=6)


def _marker_line(axes: Axes, course: Course, station: FloatArray) -> None:
    line = course.marker_line
    if line is None:
        return
    x, y = course.reference.at(course.reference.wrap(station))
    along, _ = line.project(x, y)
    axes.plot(*line.at(along), **style.LINE, zorder=3.5)


def _cones(axes: Axes, corner: Corner) -> None:
    for marker in corner.markers:
        style.cone(axes, marker.x_m, marker.y_m, marker.kind.value)
        axes.annotate(
            marker.name,
            (marker.x_m, marker.y_m),
            xytext=(8, 6),
            textcoords="offset points",
            fontsize=style.FONT,
            parse_math=False,
            zorder=6,
        )


def _direction(axes: Axes, course: Course, station: FloatArray) -> None:
    x, y = course.reference.at(course.reference.wrap(station[[0, 4]]))
    axes.annotate(
        "",
        (x[1], y[1]),
        (x[0], y[0]),
        arrowprops={"arrowstyle": "-|>", "color": style.INK, "lw": 1.6},
    )


def _scale(axes: Axes, units: Units) -> None:
    long = 20.0 if units.name == "metric" else 50.0
    metres = long * units.length_m
    axes.autoscale_view()
    left, right = axes.get_xlim()
    low, high = axes.get_ylim()
    x, y = left + 0.03 * (right - left), low - 0.02 * (high - low)
    axes.plot([x, x + metres], [y, y], color=style.INK, linewidth=2.0)
    axes.text(x, y, f" {long:.0f} {units.length}", fontsize=style.FONT, va="bottom")
