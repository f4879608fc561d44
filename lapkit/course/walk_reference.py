"""The line along which a walk is measured: the walked centre, or whatever else of the walk can serve for it."""

from __future__ import annotations

import numpy as np

from lapkit.course.reference import middle_of, on_plane, reference_of
from lapkit.course.stations import StationLine
from lapkit.course.types import EDGE_ROLES, GeoLine, Track
from lapkit.course.walk_average import averaged, geo_line
from lapkit.course.walk_corners import by_corner, runs_against
from lapkit.course.walk_lines import Pass, first_line
from lapkit.course.walk_sort import Sorted
from lapkit.course.walk_words import Thing


def reference_of_walk(
    found: Sorted, centre: GeoLine | None, earlier: Track | None = None
) -> StationLine | None:
    """The line along which a walk is measured, in the direction of riding; None when there is none.

    Args:
        found: the sorted walk; remarks on what serves are added to it.
        centre: a line taken from the riders' logs, for a walk without a centre.
        earlier: the track file that the walk brings up to date, whose line serves a walk without any.
    """
    left, right = passes_of(found, Thing.LEFT_EDGE), passes_of(found, Thing.RIGHT_EDGE)
    if walked := passes_of(found, Thing.CENTRE):
        line = first_line(walked[0])
    elif left and right:
        found.remarks.append("no centre was walked; the middle of the edges serves")
        line = middle_of(first_line(left[0]), first_line(right[0]))
    elif centre is not None:
        found.remarks.append("no centre was walked; it was taken from the riders' logs")
        x, y = on_plane(found.plane, centre)
        line = first_line(Pass(x, y, np.full(len(x), np.nan)))
    elif ridden := passes_of(found, Thing.COACH_LAP):
        found.remarks.append("no centre was walked; the coach's lap serves")
        line = first_line(ridden[0])
    elif (drawn := _line_of(earlier, found)) is not None:
        found.remarks.append("no line was walked; that of the earlier track file serves")
        return drawn
    else:
        found.remarks.append(
            "nothing was recorded to measure along: walk the centre, or give the riders' logs"
        )
        return None
    if runs_against(line, by_corner(found.places), left, right):
        found.remarks.append(
            "the lines were recorded against the direction of riding; turned round"
        )
        line = StationLine.through(line.x_m[::-1], line.y_m[::-1], line.closed)
    return _from_start(found, line)


def _line_of(earlier: Track | None, found: Sorted) -> StationLine | None:
    """The line along which an earlier track file is measured; None where there is none."""
    if earlier is None or not earlier.lines("centre", "marker_line", *EDGE_ROLES):
        return None
    return reference_of(earlier, found.plane)


def _from_start(found: Sorted, line: StationLine) -> StationLine:
    """The line, begun at the start line where it is closed and a start line was recorded."""
    ends = [
        place.spot
        for place in found.places
        if place.named.thing in (Thing.START_LEFT, Thing.START_RIGHT)
    ]
    if not ends or not line.closed:
        return line
    at = [float(line.project(spot.x_m, spot.y_m)[0]) for spot in ends]
    shift = at[0] + 0.5 * float(line.way(at[-1] - at[0]))
    return StationLine.through(*line.at(shift + line.station_m[:-1:2]), True)


def passes_of(found: Sorted, thing: Thing) -> list[Pass]:
    """All passes of lines of one kind."""
    walked = []
    for named, passes in found.passes.items():
        if named.thing is thing:
            walked += passes
    return walked


def ridden_centre(found: Sorted, reference: StationLine | None, centre: GeoLine) -> GeoLine:
    """The riders' line as the centre, begun at the start line and in the direction of riding."""
    if reference is None:
        return centre
    x, y = on_plane(found.plane, centre)
    height = np.full(len(x), np.nan) if centre.height_m is None else centre.height_m
    return geo_line(found.plane, reference, averaged(reference, [Pass(x, y, height)]), ridden=True)
