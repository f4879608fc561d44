"""The corner straightened: metres along, lanes across; a lane is a band and a lap a line with its spread."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from lapkit.compare.results import CornerTrace
from lapkit.course.course import Corner, Course
from lapkit.reporter.display import Units
from lapkit.reporter.figures import style
from lapkit.reporter.figures.overhead import MARGIN_M
from lapkit.units import FloatArray


def straightened(
    course: Course,
    corner: Corner,
    traces: Sequence[CornerTrace],
    spoken_of: tuple[str, int] | None = None,
    units: Units | None = None,
) -> Figure:
    """A corner pulled straight, the outside of the corner on top; arguments as for the overhead drawing."""
    to = _Straight(corner, (units or Units()).length_m)
    station = np.arange(corner.turn_in_m - MARGIN_M, corner.exit_m + MARGIN_M, 2.0)
    figure, axes = style.blank(4.8, 2.8)
    edges = course.edges_at(course.reference.wrap(station))
    if edges is not None:
        axes.fill_between(
            to.along(station), *(to.across(e) for e in edges), color=style.PALE, zorder=0
        )
        for edge in edges:
            axes.plot(to.along(station), to.across(edge), **style.EDGE)
    for seam in corner.seams:
        axes.plot(to.along(station), to.across(seam.offset_at(station)), **style.SEAM)
    _marker_line(axes, course, station, to)
    for trace in style.spoken_last(traces, spoken_of):
        look = style.lap_style(trace, spoken_of)
        axes.plot(to.along(trace.station_m), to.across(trace.offset_m), **look)
        if (trace.session, trace.lap) == spoken_of:
            low, high = (trace.offset_m + k * 1.96 * trace.offset_sd_m for k in (-1, 1))
            band = to.across(low), to.across(high)
            axes.fill_between(
                to.along(trace.station_m),
                *band,
                color=style.ACCENT,
                alpha=0.15,
                linewidth=0,
                zorder=2,
            )
    for marker in corner.markers:
        at, beside = to.along(marker.station_m), to.across(marker.offset_m)
        style.cone(axes, at, beside, marker.kind.value)
    name = (units or Units()).length
    axes.set_xlabel(f"{name} from turn-in", fontsize=style.FONT)
    axes.set_ylabel(f"inside  ←  {name}  →  outside", fontsize=style.FONT)
    return figure


@dataclass(frozen=True)
class _Straight:
    """Stations and offsets of a corner as places in the drawing, in shown units."""

    corner: Corner
    unit_m: float

    def along(self, station_m: FloatArray) -> FloatArray:
        """Distance from turn-in."""
        return (station_m - self.corner.turn_in_m) / self.unit_m

    def across(self, offset_m: FloatArray) -> FloatArray:
        """Distance from the reference, the outside of the corner upward."""
        return -self.corner.turn.sign * offset_m / self.unit_m


def _marker_line(axes: Axes, course: Course, station: FloatArray, to: _Straight) -> None:
    if course.marker_line is None:
        return
    x, y = course.marker_line.at(np.arange(0.0, course.marker_line.length_m, 2.0))
    at, offset = course.reference.project(x, y)
    if course.closed:
        middle = 0.5 * (station[0] + station[-1])
        length = course.reference.length_m
        at = at + length * np.round((middle - at) / length)
    near = np.flatnonzero((at >= station[0]) & (at <= station[-1]))
    near = near[np.argsort(at[near])]
    axes.plot(to.along(at[near]), to.across(offset[near]), **style.LINE, zorder=3.5)
