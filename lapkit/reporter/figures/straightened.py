"""The corner straightened: metres along, lanes across; a lane is a band and a lap a line with its spread."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from matplotlib.figure import Figure

from lapkit.compare.results import CornerTrace
from lapkit.course.course import Corner, Course
from lapkit.reporter.display import Units
from lapkit.reporter.figures import style
from lapkit.reporter.figures.overhead import MARGIN_M


def straightened(
    course: Course,
    corner: Corner,
    traces: Sequence[CornerTrace],
    spoken_of: tuple[str, int] | None = None,
    units: Units | None = None,
) -> Figure:
    """A corner pulled straight, the outside of the corner on top; arguments as for the overhead drawing."""
    units = units or Units()
    unit, sign = units.length_m, corner.turn.sign
    station = np.arange(corner.turn_in_m - MARGIN_M, corner.exit_m + MARGIN_M, 2.0)

    def across(offset: np.ndarray) -> np.ndarray:
        return -sign * offset / unit

    def along(at: np.ndarray) -> np.ndarray:
        return (at - corner.turn_in_m) / unit

    figure, axes = style.blank(4.8, 2.8)
    edges = course.edges_at(course.reference.wrap(station))
    if edges is not None:
        axes.fill_between(along(station), *(across(e) for e in edges), color=style.PALE, zorder=0)
        for edge in edges:
            axes.plot(along(station), across(edge), **style.EDGE)
    for seam in corner.seams:
        axes.plot(along(station), across(seam.offset_at(station)), **style.SEAM)
    if course.marker_line is not None:
        x, y = course.marker_line.at(np.arange(0.0, course.marker_line.length_m, 2.0))
        at, offset = course.reference.project(x, y)
        if course.closed:
            middle = 0.5 * (station[0] + station[-1])
            length = course.reference.length_m
            at = at + length * np.round((middle - at) / length)
        near = np.flatnonzero((at >= station[0]) & (at <= station[-1]))
        near = near[np.argsort(at[near])]
        axes.plot(along(at[near]), across(offset[near]), **style.LINE, zorder=3.5)
    for trace in style.spoken_last(traces, spoken_of):
        look = style.lap_style(trace, spoken_of)
        axes.plot(along(trace.station_m), across(trace.offset_m), **look)
        if (trace.session, trace.lap) == spoken_of:
            low, high = (trace.offset_m + k * 1.96 * trace.offset_sd_m for k in (-1, 1))
            axes.fill_between(
                along(trace.station_m),
                across(low),
                across(high),
                color=style.ACCENT,
                alpha=0.15,
                linewidth=0,
                zorder=2,
            )
    for marker in corner.markers:
        axes.plot(
            along(marker.station_m),
            across(marker.offset_m),
            style.SHAPES[marker.kind.value],
            markersize=9,
            markerfacecolor="white",
            markeredgecolor=style.INK,
            markeredgewidth=1.6,
            zorder=5,
        )
    axes.set_xlabel(f"{units.length} from turn-in", fontsize=style.FONT)
    axes.set_ylabel(f"inside  ←  {units.length}  →  outside", fontsize=style.FONT)
    return figure
