"""The corner straightened: metres along, lanes across; a lane is a band and a lap a line with its spread."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from matplotlib.figure import Figure

from lapkit.arrays import FloatArray
from lapkit.compare.results import CornerTrace
from lapkit.compare.standard import standards
from lapkit.course.course import Corner, Course
from lapkit.reporter import display
from lapkit.reporter.figures import style
from lapkit.reporter.figures.canvas import Canvas
from lapkit.reporter.figures.frame import FOOT, LEFT, RIGHT, Frame, spread
from lapkit.reporter.figures.ground import lane_limits, stations
from lapkit.rounding import REACH
from lapkit.units import Units

DRAWN_HEIGHT = 200.0
"""From the inside to the outside of the road, points."""


def straightened(
    course: Course,
    corner: Corner,
    traces: Sequence[CornerTrace],
    thick: style.LapKey | None = None,
    units: Units | None = None,
) -> Figure:
    """A corner pulled straight, its outside on top; arguments as for the overhead drawing."""
    frame = Frame(corner, units or Units.METRIC)
    station = stations(frame.span_m)
    scale = _across(course, corner, station, traces)
    top = FOOT + DRAWN_HEIGHT + 12.0
    paper = Canvas(frame.width, top + frame.head())
    strip = _Strip(paper, frame, scale)
    strip.road(course, station)
    line = standards(course)[corner.name].line
    if line is not None:
        path = frame.path(station, scale(line.offset_at(station)))
        paper.lines([path], width=style.LINE_WIDTH, dash=style.LINE_DASH, z=4)
    if not course.found:
        strip.shades(traces, thick)
    strip.laps(traces, thick)
    if course.found:
        strip.doubt(traces)
    frame.draw_uprights(paper, FOOT, top)
    for marker in corner.markers:
        x = float(frame.x(np.array(marker.station_m)))
        paper.cone(x, float(scale(np.array(marker.offset_m))), marker.kind, size=6.0)
    frame.draw_names(paper, top)
    frame.draw_metres(paper, FOOT)
    return paper.figure


@dataclass(frozen=True)
class _Across:
    """From offset on the course to height on paper, the inside of the corner below.

    Attributes:
        sign: of the corner's turn.
        low_m, high_m: what is drawn, metres outward.
    """

    sign: int
    low_m: float
    high_m: float

    @property
    def points_a_metre(self) -> float:
        """Height on paper of a metre across the road."""
        return DRAWN_HEIGHT / (self.high_m - self.low_m)

    def __call__(self, offset_m: FloatArray) -> FloatArray:
        """Heights on paper, points; of the shape given."""
        out = np.clip(-self.sign * np.asarray(offset_m), self.low_m, self.high_m)
        return FOOT + 6.0 + self.points_a_metre * (out - self.low_m)


def _across(
    course: Course, corner: Corner, station: FloatArray, traces: Sequence[CornerTrace]
) -> _Across:
    edges, sign = course.edges_at(station), corner.turn.sign
    if edges is not None:
        # A lap far off the road, in the pit lane or the field, may not flatten all the others.
        low, high = spread([-sign * edge for edge in edges])
    elif course.found:
        low, high = spread([-sign * t.offset_m for t in traces])
        more = max(2.0 * _half_doubt_m(traces) - (high - low), 0.0) / 2.0
        low, high = low - more, high + more
    else:
        # Without edges to hold them against, laps are no better placed than their shade says.
        reach = [(t, side * REACH * t.offset_sd_m) for t in traces for side in (-1.0, 1.0)]
        low, high = spread([-sign * t.offset_m + off for t, off in reach])
    room = 0.12 * max(high - low, 4.0)
    return _Across(sign, low - room, high + room)


def _half_doubt_m(traces: Sequence[CornerTrace]) -> float:
    """Half the 95 % interval of where laps were across the road, the median along all of them; 0 without any."""
    known = [t.offset_sd_m[np.isfinite(t.offset_sd_m)] for t in traces]
    joined = np.concatenate(known) if known else np.zeros(0)
    return REACH * float(np.median(joined)) if joined.size else 0.0


@dataclass(frozen=True, eq=False)
class _Strip:
    """The straightened road on paper: where it is drawn, and how places along and across it become points."""

    paper: Canvas
    frame: Frame
    scale: _Across

    def road(self, course: Course, station: FloatArray) -> None:
        """Road, edges and seams at stations ``(n,)``, metres, and which side and which lane is which."""
        paper, frame, scale = self.paper, self.frame, self.scale
        corner = frame.corner
        edges = course.edges_at(station)
        if edges is not None:
            paths = [frame.path(station, scale(edge)) for edge in edges]
            paper.areas([np.concatenate([paths[0], paths[1][::-1]])], color=style.ROAD, z=0)
            paper.lines(paths, width=style.EDGE_WIDTH, z=2)
        seams = []
        for seam in corner.seams:
            where = station[(station >= seam.station_m[0]) & (station <= seam.station_m[-1])]
            seams.append(frame.path(where, scale(seam.offset_at(where))))
        seams = [path for path in seams if len(path) > 1]
        paper.lines(seams, width=style.SEAM_WIDTH, dash=style.SEAM_DASH, z=2.5)
        for number, limits in enumerate(lane_limits(course, corner, station[:1]), 1):
            middle = float(np.mean([scale(limit)[0] for limit in limits]))
            paper.text(LEFT - 8.0, middle, str(number), ha="right")
        for name, y in (("inside", FOOT + 11.0), ("outside", FOOT + DRAWN_HEIGHT + 1.0)):
            paper.text(frame.width - RIGHT, y, name, ha="right", italic=True)

    def shades(self, traces: Sequence[CornerTrace], thick: style.LapKey | None) -> None:
        """Where laps may have been, 95 %: the thick lap in its own colour, all others in grey."""
        others = [self._band(t) for t in traces if not style.is_thick(t, thick)]
        self.paper.areas(others, color=style.GREY, alpha=0.06, z=1)
        front = [self._band(t) for t in traces if style.is_thick(t, thick)]
        self.paper.areas(front, color=style.ACCENT, alpha=0.22, name="spread", z=3.5)

    def laps(self, traces: Sequence[CornerTrace], thick: style.LapKey | None) -> None:
        """Every lap as a line, the thick one in front."""
        for dash, laps in style.by_run(traces):
            paths = [self._path(t) for t in laps]
            self.paper.lines(
                paths, color=style.GREY, width=style.LAP_WIDTH, dash=dash, name="laps", z=3
            )
        for trace in traces:
            if style.is_thick(trace, thick):
                path, width = self._path(trace), style.THICK_WIDTH
                self.paper.lines([path], color=style.ACCENT, width=width, name="spoken", z=5)

    def doubt(self, traces: Sequence[CornerTrace]) -> None:
        """A bar at the side for how far off laps may be: a shade for each lap would hide the laps on a course without edges."""
        whole = 2.0 * _half_doubt_m(traces)
        if not whole:
            return
        x, middle = LEFT - 10.0, FOOT + 6.0 + 0.5 * DRAWN_HEIGHT
        half = 0.5 * whole * self.scale.points_a_metre
        low, high = middle - half, middle + half
        bar = [np.array([[x, low], [x, high]])]
        bar += [np.array([[x - 4.0, y], [x + 4.0, y]]) for y in (low, high)]
        self.paper.lines(bar, width=1.6, name="doubt", z=4)
        text = display.length_text(whole, self.frame.units, 1)
        self.paper.text(x - 7.0, middle, text, ha="right")

    def _path(self, trace: CornerTrace) -> FloatArray:
        """A lap's line on paper, points, ``(n, 2)``."""
        return self.frame.path(trace.station_m, self.scale(trace.offset_m))

    def _band(self, trace: CornerTrace) -> FloatArray:
        """The outline of where a lap may have been, points, ``(n, 2)``."""
        half = REACH * trace.offset_sd_m
        ends = self.scale(trace.offset_m - half), self.scale(trace.offset_m + half)
        return self.frame.band(trace.station_m, *ends)
