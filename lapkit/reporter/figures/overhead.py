"""The overhead drawing of a corner: edges, seams, lanes, cones, marker line and every lap."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from matplotlib.figure import Figure
from numpy.typing import ArrayLike

from lapkit.arrays import FloatArray
from lapkit.compare.results import CornerTrace
from lapkit.course.course import Corner, Course
from lapkit.reporter.figures import ground, style
from lapkit.reporter.figures.canvas import Canvas
from lapkit.reporter.figures.view import LABEL_OFF, Box, Label, View, fitted, room_above, upright
from lapkit.units import Units

MARGIN_M = 20.0
"""Metres of course drawn before turn-in and after the exit."""

TALLEST = 350.0
"""A drawing is no higher than this, points, so that a phone shows it whole."""

_RING = 17.0  # points, its radius
_RINGED_M = 5.0  # metres: a ring about a place this near to a cone reaches the cone's name
_MOST_POINTS = 160  # of a lap: more are not seen, and make pages large


def overhead(
    course: Course,
    corner: Corner,
    traces: Sequence[CornerTrace] = (),
    thick: style.LapKey | None = None,
    units: Units | None = None,
) -> Figure:
    """A corner from above, turned so that the rider comes in from below; arguments as :class:`FromAbove` has them."""
    return FromAbove(course, corner, traces, thick, units or Units.METRIC).figure()


def drawn_span_m(corner: Corner) -> tuple[float, float]:
    """First and last station of a drawing of a whole corner, metres."""
    return corner.turn_in_m - MARGIN_M, corner.exit_m + MARGIN_M


@dataclass(frozen=True, eq=False)
class FromAbove:
    """What a drawing of a corner from above shows.

    Attributes:
        course: the course.
        corner: which corner.
        traces: laps through it.
        thick: the lap to bring forward.
        units: for the scale bar.
        span_m: first and last station to draw; the whole corner when None.
        here_m: station to ring on the thick lap; no ring when None.
    """

    course: Course
    corner: Corner
    traces: Sequence[CornerTrace] = ()
    thick: style.LapKey | None = None
    units: Units = Units.METRIC
    span_m: tuple[float, float] | None = None
    here_m: float | None = None

    def figure(self, tallest: float = TALLEST) -> Figure:
        """The drawing for a page, no higher than ``tallest``, points."""
        return self.on(Canvas, style.WIDTH, tallest).figure

    def on(
        self, paper_of: Callable[[float, float], Canvas], width: float, tallest: float
    ) -> Canvas:
        """The drawing on paper that ``paper_of`` makes for a width and a height, both in points."""
        course, corner = self.course, self.corner
        span = self.span_m or drawn_span_m(corner)
        markers = [m for m in corner.markers if span[0] <= m.station_m <= span[1]]
        view = upright(course, corner, span[0])
        shown = _within(self.traces, span)
        here = None if self.here_m is None else _here(course, shown, self.thick, self.here_m)
        labels = [_clear_of(label, here) for label in ground.cone_labels(course, view, markers)]
        hazards = ground.hazard_places(course, corner, span)
        seen: list[tuple[ArrayLike, ArrayLike]] = [
            *ground.edge_points(course, ground.stations(span)),
            *((m.x_m, m.y_m) for m in markers),
            *hazards,
        ]
        if course.edges is None:
            seen += [(lap.x_m, lap.y_m) for lap in shown]
        taken = [*labels, ground.room_for_way_in(course, view, span[0])]
        view, height = fitted(view, seen, taken, width, tallest, ground.BELOW)
        points = ground.hazard_points(view, hazards, markers)
        taken_by = [Box(x - 12.0, x + 12.0, y - 10.0, y + 12.0) for x, y in points]
        lifts, height = room_above(labels, view, height, taken_by, floor=ground.BELOW)
        paper = paper_of(width, height)
        ground.draw_ground(paper, view, course, corner, span)
        ground.draw_way_in(paper, view, course, corner, span[0])
        ground.draw_hazards(paper, points)
        if not self.traces:
            ground.draw_camber(paper, view, course, corner)
        _laps(paper, view, shown, self.thick)
        for marker in markers:
            x, y = view.paper(marker.x_m, marker.y_m)
            paper.cone(x, y, marker.kind)
        ground.draw_labels(paper, view, labels, lifts)
        if here is not None:
            _ring(paper, view, here)
        ground.draw_scale(paper, view, self.units, x=8.0)
        return paper


@dataclass(frozen=True, eq=False)
class _Shown:
    """A lap, and the points of it that are drawn.

    Attributes:
        trace: the lap.
        x_m, y_m: those points, metres east and north, ``(n,)``.
    """

    trace: CornerTrace
    x_m: FloatArray
    y_m: FloatArray

    @property
    def session(self) -> str:
        """The lap's run."""
        return self.trace.session

    @property
    def lap(self) -> int:
        """The lap's number."""
        return self.trace.lap


def _within(traces: Sequence[CornerTrace], span: tuple[float, float]) -> list[_Shown]:
    """Laps between two stations, thinned; laps with fewer than two points there are left out."""
    shown = []
    for trace in traces:
        index = np.flatnonzero((trace.station_m >= span[0]) & (trace.station_m <= span[1]))
        if len(index) >= 2:
            stride = -(-len(index) // _MOST_POINTS)
            index = np.append(index[:-1:stride], index[-1])
            shown.append(_Shown(trace, trace.x_m[index], trace.y_m[index]))
    return shown


def _laps(paper: Canvas, view: View, shown: Sequence[_Shown], thick: style.LapKey | None) -> None:
    for dash, laps in style.by_run(shown):
        paths = [view.paper(lap.x_m, lap.y_m) for lap in laps]
        paper.lines(paths, color=style.GREY, width=style.LAP_WIDTH, dash=dash, name="laps", z=3)
    front = [view.paper(lap.x_m, lap.y_m) for lap in shown if style.is_thick(lap, thick)]
    paper.lines(front, color=style.ACCENT, width=style.THICK_WIDTH, name="spoken", z=5)


def _here(
    course: Course, shown: Sequence[_Shown], thick: style.LapKey | None, here_m: float
) -> tuple[float, float]:
    """A place of the thick lap, metres, or of the reference without one."""
    for lap in shown:
        if style.is_thick(lap, thick):
            trace = lap.trace
            x, y = (float(np.interp(here_m, trace.station_m, v)) for v in (trace.x_m, trace.y_m))
            return x, y
    x, y = (float(v) for v in course.reference.at(course.reference.wrap(here_m)))
    return x, y


def _clear_of(label: Label, here: tuple[float, float] | None) -> Label:
    """The label further off where a ring will lie about its cone."""
    if here is None or np.hypot(label.x_m - here[0], label.y_m - here[1]) > _RINGED_M:
        return label
    return replace(label, clear=_RING - LABEL_OFF + 5.0)


def _ring(paper: Canvas, view: View, here: tuple[float, float]) -> None:
    """A ring around a place."""
    turn = np.linspace(0.0, 2.0 * np.pi, 25)
    ring = view.paper(*here) + _RING * np.stack([np.cos(turn), np.sin(turn)], axis=-1)
    # White around it, but under the cones: none of them may lose its shape.
    paper.lines([ring], color="#ffffff", width=5.0, z=5.5)
    paper.lines([ring], color=style.ACCENT, width=2.6, name="here", z=7)
