"""Radius and lean along a corner, each lap against the marker line's radius."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from lapkit.compare.results import CornerTrace
from lapkit.course.course import Corner, Course
from lapkit.reporter.display import Units
from lapkit.reporter.figures import style
from lapkit.units import FloatArray

_FLAT_M = 300.0


def along(
    course: Course,
    corner: Corner,
    traces: Sequence[CornerTrace],
    spoken_of: tuple[str, int] | None = None,
    units: Units | None = None,
) -> Figure:
    """Radius above, lean below, metres from turn-in along; arguments as for the overhead drawing."""
    units = units or Units()
    figure = Figure(figsize=(4.8, 4.0), layout="constrained")
    radius, lean = figure.subplots(2, 1, sharex=True)
    for trace in style.spoken_last(traces, spoken_of):
        look = style.lap_style(trace, spoken_of)
        at = (trace.station_m - corner.turn_in_m) / units.length_m
        radius.plot(at, _radius(trace.curvature_1pm) / units.length_m, **look)
        lean.plot(at, trace.lean_deg, **look)
        if (trace.session, trace.lap) == spoken_of:
            spread = 1.96 * trace.lean_sd_deg
            low, high = trace.lean_deg - spread, trace.lean_deg + spread
            lean.fill_between(at, low, high, color=style.ACCENT, alpha=0.15, linewidth=0)
    if course.marker_line is not None:
        station = np.arange(corner.turn_in_m, corner.exit_m, 2.0)
        x, y = course.reference.at(course.reference.wrap(station))
        on_line, _ = course.marker_line.project(x, y)
        bend = corner.turn.sign * course.marker_line.curvature_at(on_line)
        at = (station - corner.turn_in_m) / units.length_m
        radius.plot(at, _radius(bend) / units.length_m, **style.LINE, zorder=3.5)
    radius.set_yscale("log")
    shown = np.array([10, 15, 20, 30, 50, 100, 200, 300])
    ticks = shown if units.name == "metric" else np.array([30, 50, 75, 100, 150, 300, 600, 1000])
    radius.set_yticks(ticks, [str(t) for t in ticks], minor=False)
    radius.minorticks_off()
    radius.set_ylim(_floor(traces) / units.length_m, _FLAT_M / units.length_m)
    radius.set_ylabel(f"radius, {units.length}", fontsize=style.FONT)
    lean.set_ylabel("lean into the turn, °", fontsize=style.FONT)
    lean.set_xlabel(f"{units.length} from turn-in", fontsize=style.FONT)
    for axes in (radius, lean):
        _phases(axes, corner, units)
    return figure


def _radius(curvature: FloatArray) -> FloatArray:
    """Radius of a curvature into the turn; nearly straight, and bends the other way, at the top."""
    return 1.0 / np.maximum(curvature, 1.0 / _FLAT_M)


def _floor(traces: Sequence[CornerTrace]) -> float:
    tightest = [float(np.min(_radius(t.curvature_1pm))) for t in traces if len(t.curvature_1pm)]
    return 0.85 * min([*tightest, 60.0])


def _phases(axes: Axes, corner: Corner, units: Units) -> None:
    """Thin upright lines at the apexes and the exit marker."""
    axes.tick_params(labelsize=style.FONT)
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    for at in (
        0.0,
        *(a - corner.turn_in_m for a in corner.apexes_m),
        corner.exit_m - corner.turn_in_m,
    ):
        axes.axvline(at / units.length_m, color=style.GREY, linewidth=0.8, linestyle=":")
