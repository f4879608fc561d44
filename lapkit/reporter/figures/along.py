"""Radius and lean along a corner, each lap against what the marker line has and asks for."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from matplotlib.figure import Figure

from lapkit.arrays import FloatArray
from lapkit.compare.held import HeldMean
from lapkit.compare.results import CornerTrace
from lapkit.compare.standard import standards
from lapkit.course.course import Corner, Course
from lapkit.reporter.figures import style
from lapkit.reporter.figures.canvas import Canvas
from lapkit.reporter.figures.frame import FOOT, LEFT, RIGHT, Frame, spread
from lapkit.rounding import REACH
from lapkit.units import Units

PANEL_HEIGHT = 120.0
"""Height of each of the two panels, points."""

_BETWEEN = 30.0  # points between the two panels
_TITLE = 20.0  # points above a panel
_RADII = {
    "m": (5, 7, 10, 15, 20, 30, 40, 60, 100, 200),
    "ft": (20, 30, 40, 50, 75, 100, 150, 200, 300, 600),
}
_FINER = {
    "m": (5, 6, 7, 8, 10, 12, 15, 20, 25, 30, 40, 50, 60, 80, 100, 150, 200, 300, 600),
    "ft": (20, 25, 30, 40, 50, 60, 75, 100, 125, 150, 200, 250, 300, 400, 500, 600, 1000, 2000),
}
_FEWEST_TICKS = 3  # fewer show no scale; then they are taken from finer radii
_TICKS_APART = 19.0  # points, so that their numbers do not touch

# This much of a bend the other way is drawn: it belongs to the next corner, and all of it would flatten this one.
_OTHER_WAY_DEG = 10.0
_OTHER_WAY_SHARE = 0.04


@dataclass(frozen=True)
class _Scale:
    """Values to heights in a panel; ``least`` and ``most`` lie on its edges.

    Attributes:
        low: height of the panel's lower edge on the paper, points.
        least, most: smallest and largest value that is drawn.
        down: whether larger values lie lower.
    """

    low: float
    least: float
    most: float
    down: bool = False

    def height(self, value: FloatArray) -> FloatArray:
        """Heights of values on paper, points, any shape; those beyond an edge lie on that edge."""
        share = (np.clip(value, self.least, self.most) - self.least) / (self.most - self.least)
        return self.low + PANEL_HEIGHT * (1.0 - share if self.down else share)

    def within(self, value: FloatArray) -> FloatArray:
        """Heights of values on paper, points, any shape; NaN, not drawn, for those beyond an edge."""
        there = (value >= self.least) & (value <= self.most)
        return np.where(there, self.height(value), np.nan)


def along(
    course: Course,
    corner: Corner,
    traces: Sequence[CornerTrace],
    thick: style.LapKey | None = None,
    units: Units | None = None,
) -> Figure:
    """Radius above (open on top), lean below; arguments as for the overhead drawing.

    Heights in the upper panel go with curvature, in which the error is even; they are named by radius.
    The marker line's lean is what it asks for at the speed of the thick lap, else of the last lap.
    """
    frame = Frame(corner, units or Units.METRIC)
    low = FOOT, FOOT + PANEL_HEIGHT + _BETWEEN
    top = low[1] + PANEL_HEIGHT
    paper = Canvas(frame.width, top + _TITLE + frame.head())
    frame.draw_uprights(paper, FOOT, top)
    front = [t for t in traces if style.is_thick(t, thick)]
    asked = _asked(course, corner, (front or list(traces))[-1:])
    curvatures = [*(t.curvature_1pm for t in traces), asked.curvature_1pm]
    bend = _bend_scale(paper, frame, curvatures, low[1])
    lean = _lean_scale(paper, frame, [*(t.lean_deg for t in traces), asked.lean_deg], low[0])
    paths = [
        frame.path(asked.station_m, bend.within(asked.curvature_1pm), broken=True),
        frame.path(asked.station_m, lean.within(asked.lean_deg), broken=True),
    ]
    paper.lines(paths, width=style.LINE_WIDTH, dash=style.LINE_DASH, z=4)
    _laps(paper, frame, traces, front, _panels(bend, lean))
    frame.draw_names(paper, top + _TITLE)
    frame.draw_metres(paper, FOOT)
    return paper.figure


def leaves_the_panels(corner: Corner, traces: Sequence[CornerTrace]) -> bool:
    """Whether a lap leans the other way by more than is drawn, before the corner or after it."""
    low, high = Frame(corner, Units.METRIC).span_m
    return any(
        bool((t.lean_deg[(t.station_m >= low) & (t.station_m <= high)] < -_OTHER_WAY_DEG).any())
        for t in traces
    )


class _Asked(NamedTuple):
    """The marker line along a lap: curvature, and the lean that it asks for at the lap's speed, both held; ``(n,)``."""

    station_m: FloatArray
    curvature_1pm: FloatArray
    lean_deg: FloatArray


def _asked(course: Course, corner: Corner, laps: Sequence[CornerTrace]) -> _Asked:
    """What the marker line asks for along the only one of ``laps``; nothing without a lap or a line."""
    line = standards(course)[corner.name].line
    if line is None or not laps:
        return _Asked(np.zeros(0), np.zeros(0), np.zeros(0))
    (at,) = laps
    asked = line.lean_deg(at.station_m, at.speed_mps)
    ridden = (line.station_m >= at.station_m[0]) & (line.station_m <= at.station_m[-1])
    place = np.arange(len(asked), dtype=np.float64)
    curvature, lean = line.held_curvature.at(place), HeldMean(asked).at(place)
    return _Asked(line.station_m[ridden], curvature[ridden], lean[ridden])


class _Panel(NamedTuple):
    """A panel's scale, and what of a lap is drawn in it, with its standard deviation."""

    scale: _Scale
    value: Callable[[CornerTrace], FloatArray]
    sd: Callable[[CornerTrace], FloatArray]


def _panels(bend: _Scale, lean: _Scale) -> tuple[_Panel, _Panel]:
    return (
        _Panel(bend, lambda lap: lap.curvature_1pm, lambda lap: lap.curvature_sd_1pm),
        _Panel(lean, lambda lap: lap.lean_deg, lambda lap: lap.lean_sd_deg),
    )


def _laps(
    paper: Canvas,
    frame: Frame,
    traces: Sequence[CornerTrace],
    front: Sequence[CornerTrace],
    panels: Sequence[_Panel],
) -> None:
    for panel in panels:
        for dash, laps in style.by_run(traces):
            heights = [(t.station_m, panel.scale.within(panel.value(t))) for t in laps]
            paths = [frame.path(station, height, broken=True) for station, height in heights]
            paper.lines(paths, color=style.GREY, width=style.LAP_WIDTH, dash=dash, name="laps", z=3)
    for t in front:
        for panel in panels:
            scale, value, half = panel.scale, panel.value(t), REACH * panel.sd(t)
            ends = scale.height(value - half), scale.height(value + half)
            outline = frame.band(t.station_m, *ends)
            paper.areas([outline], color=style.ACCENT, alpha=0.22, name="spread", z=3.5)
            path = frame.path(t.station_m, scale.within(value), broken=True)
            paper.lines([path], color=style.ACCENT, width=style.THICK_WIDTH, name="spoken", z=5)


def _bend_scale(paper: Canvas, frame: Frame, values: Sequence[FloatArray], low: float) -> _Scale:
    """Curvature to height, straight on top; names radii and draws their lines."""
    _, most = spread(values)
    most = 1.08 * max(most, 1.0 / 300.0)
    scale = _Scale(low, -_OTHER_WAY_SHARE * most, most, down=True)
    ticks = _radius_ticks(scale, _RADII[frame.units.length], frame.units)
    if len(ticks) < _FEWEST_TICKS:
        ticks = _radius_ticks(scale, _FINER[frame.units.length], frame.units)
    _levels(paper, frame, ticks)
    paper.text(LEFT, low + PANEL_HEIGHT + 10.0, "radius: lower is tighter", italic=True)
    return scale


def _radius_ticks(scale: _Scale, radii: Sequence[int], units: Units) -> list[tuple[float, str]]:
    """Heights and names of those radii, the largest first, that have room below each other."""
    ticks: list[tuple[float, str]] = []
    for radius in reversed(radii):
        y = float(scale.height(np.array(1.0 / (radius * units.length_m))))
        if y > scale.low + 6.0 and (not ticks or ticks[-1][0] - y > _TICKS_APART):
            ticks.append((y, f"{radius}" if ticks else f"{radius} {units.length}"))
    return ticks


def _lean_scale(paper: Canvas, frame: Frame, values: Sequence[FloatArray], low: float) -> _Scale:
    """Lean to height; names degrees and draws their lines."""
    least, most = spread(values)
    scale = _Scale(low, min(0.0, max(least, -_OTHER_WAY_DEG)), max(most + 3.0, 20.0))
    degrees = np.arange(0.0, scale.most, 10.0)
    ticks = [(float(scale.height(np.array(t))), f"{t:.0f}°") for t in degrees]
    _levels(paper, frame, ticks if len(ticks) < 6 else ticks[::2])
    paper.text(LEFT, low + PANEL_HEIGHT + 10.0, "lean into the corner", italic=True)
    return scale


def _levels(paper: Canvas, frame: Frame, ticks: Sequence[tuple[float, str]]) -> None:
    lines = [np.array([[LEFT, y], [frame.width - RIGHT, y]]) for y, _ in ticks]
    paper.lines(lines, color="#d4d4d0", width=0.8, z=1)
    for y, name in ticks:
        paper.text(LEFT - 6.0, y, name, ha="right")
