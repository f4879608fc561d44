"""Radius and lean along a corner, each lap against what the marker line has and asks for."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
from matplotlib.figure import Figure

from lapkit.compare.held import HeldMean
from lapkit.compare.results import CornerTrace
from lapkit.compare.standard import standards
from lapkit.course.course import Corner, Course
from lapkit.reporter.figures import style
from lapkit.reporter.figures.canvas import Canvas
from lapkit.reporter.figures.frame import FOOT, LEFT, RIGHT, Frame, spread
from lapkit.units import FloatArray, Units

PANEL_HEIGHT = 120.0
"""Height of each of the two panels, points."""

_BETWEEN = 30.0
_TITLE = 20.0
_SPREAD = 1.96
_RADII = {
    "m": (5, 7, 10, 15, 20, 30, 40, 60, 100, 200),
    "ft": (20, 30, 40, 50, 75, 100, 150, 200, 300, 600),
}
_TICKS_APART = 22.0

Scale = Callable[[FloatArray], FloatArray]


def along(
    course: Course,
    corner: Corner,
    traces: Sequence[CornerTrace],
    spoken_of: style.Spoken = None,
    units: Units | None = None,
) -> Figure:
    """Radius above (open on top), lean below; arguments as for the overhead drawing.

    Heights in the upper panel go with curvature, in which the error is even; they are named by radius.
    The marker line's lean is what it asks for at the speed of the lap spoken of, else of the last lap.
    """
    frame = Frame(corner, units or Units.METRIC)
    low = FOOT, FOOT + PANEL_HEIGHT + _BETWEEN
    top = low[1] + PANEL_HEIGHT
    paper = Canvas(frame.width, top + _TITLE + frame.head())
    frame.draw_uprights(paper, FOOT, top)
    lean = _lean_scale(paper, frame, traces, low[0])
    bend = _bend_scale(paper, frame, traces, low[1])
    spoken = [t for t in traces if style.is_spoken(t, spoken_of)]
    line = standards(course)[corner.name].line
    if line is not None and traces:
        at = (spoken or list(traces))[-1]
        asked = line.lean_deg(at.station_m[None], at.speed_mps[None])[0]
        ridden = (line.station_m >= at.station_m[0]) & (line.station_m <= at.station_m[-1])
        place = np.arange(len(asked), dtype=np.float64)
        held = bend(line.held_curvature.at(place)), lean(HeldMean(asked).at(place))
        paths = [frame.path(line.station_m[ridden], values[ridden]) for values in held]
        paper.lines(paths, width=style.LINE_WIDTH, dash=style.LINE_DASH, z=4)
    _laps(paper, frame, traces, spoken, bend, lean)
    frame.draw_names(paper, top + _TITLE)
    frame.draw_metres(paper, FOOT)
    return paper.figure


def _laps(
    paper: Canvas,
    frame: Frame,
    traces: Sequence[CornerTrace],
    spoken: Sequence[CornerTrace],
    bend: Scale,
    lean: Scale,
) -> None:
    for values in (lambda t: bend(t.curvature_1pm), lambda t: lean(t.lean_deg)):
        for dash, laps in style.by_run(traces):
            paths = [frame.path(t.station_m, values(t)) for t in laps]
            paper.lines(paths, color=style.GREY, width=style.LAP_WIDTH, dash=dash, name="laps", z=3)
    for t in spoken:
        for scale, value, sd in (
            (bend, t.curvature_1pm, t.curvature_sd_1pm),
            (lean, t.lean_deg, t.lean_sd_deg),
        ):
            ends = scale(value - _SPREAD * sd), scale(value + _SPREAD * sd)
            outline = frame.band(t.station_m, *ends)
            paper.areas([outline], color=style.ACCENT, alpha=0.22, name="spread", z=3.5)
            path = frame.path(t.station_m, scale(value))
            paper.lines([path], color=style.ACCENT, width=style.SPOKEN_WIDTH, name="spoken", z=5)


def _bend_scale(paper: Canvas, frame: Frame, traces: Sequence[CornerTrace], low: float) -> Scale:
    """Curvature to height, straight on top; names radii and draws their lines."""
    _, most = spread([t.curvature_1pm for t in traces])
    most = 1.08 * max(most, 1.0 / 300.0)
    least = -0.04 * most

    def scale(curvature: FloatArray) -> FloatArray:
        share = (np.clip(curvature, least, most) - least) / (most - least)
        return low + PANEL_HEIGHT * (1.0 - share)

    unit, ticks = frame.units.length_m, []
    for radius in reversed(_RADII[frame.units.length]):
        y = float(scale(np.array(1.0 / (radius * unit))))
        if y > low + 6.0 and (not ticks or ticks[-1][0] - y > _TICKS_APART):
            ticks.append((y, f"{radius}" if ticks else f"{radius} {frame.units.length}"))
    _levels(paper, frame, ticks)
    paper.text(LEFT, low + PANEL_HEIGHT + 10.0, "radius: lower is tighter", italic=True)
    return scale


def _lean_scale(paper: Canvas, frame: Frame, traces: Sequence[CornerTrace], low: float) -> Scale:
    """Lean to height; names degrees and draws their lines."""
    least, most = spread([t.lean_deg for t in traces])
    least, most = min(0.0, max(least, -10.0)), max(most + 3.0, 20.0)

    def scale(lean: FloatArray) -> FloatArray:
        return low + PANEL_HEIGHT * (np.clip(lean, least, most) - least) / (most - least)

    ticks = [(float(scale(np.array(t))), f"{t:.0f}°") for t in np.arange(0.0, most, 10.0)]
    _levels(paper, frame, ticks if len(ticks) < 6 else ticks[::2])
    paper.text(LEFT, low + PANEL_HEIGHT + 10.0, "lean into the corner", italic=True)
    return scale


def _levels(paper: Canvas, frame: Frame, ticks: Sequence[tuple[float, str]]) -> None:
    lines = [np.array([[LEFT, y], [frame.width - RIGHT, y]]) for y, _ in ticks]
    paper.lines(lines, color="#d4d4d0", width=0.8, z=1)
    for y, name in ticks:
        paper.text(LEFT - 6.0, y, name, ha="right")
