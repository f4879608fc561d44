"""Checks of the marker line: as it was drawn, and whether the cones ask for one that no coach would set out."""

from __future__ import annotations

from collections.abc import Iterator

import pandas as pd

from lapkit.course.line_table import MARKER, ONE_LANE_IN
from lapkit.course.placed_line import PlacedLine
from lapkit.course.problem import Problem, Survey, error, warning
from lapkit.course.reference import station_line

TIGHTER_THAN = 0.7
"""The marker line is doubted where its radius is below this share of that of a line further in (our choice).

In a corner that is followed by the next at once it may rightly give up a fifth.
"""


def as_drawn(survey: Survey) -> Iterator[Problem]:
    """A marker line drawn against the direction of riding, and corners that it does not pass."""
    drawn = survey.track.marker_line
    if drawn is None:
        return
    line = station_line(survey.plane, drawn, survey.track.source, "marker_line")
    station, _ = survey.reference.follow(line.x_m, line.y_m)
    if station[-1] < station[0]:
        yield error(
            "marker line direction",
            f"{survey.track.source}, marker_line",
            "it runs against the direction of riding",
            "Draw it in the direction of riding.",
        )
        return
    placed = PlacedLine.on(survey.reference, line)
    for corner in survey.corners:
        if corner.ordered and not placed.passes(corner.turn_in_m, corner.exit_m):
            yield warning(
                "marker line in part",
                f"{survey.track.source}, corner {corner.corner.name!r}",
                "the marker line is not drawn from its turn-in to its exit, so riders are held against none here",
                "Draw it all the way round, or take it out to have it solved from the cones.",
            )


def tighter_than_further_in(table: pd.DataFrame, source: str) -> Iterator[Problem]:
    """Corners where a line further in is much more open than the marker line.

    Cones are set so that the whole road opens the arc. Where the line is tighter instead, a cone stands where no open
    line passes, or it leads too late to the next corner's cones. Every rider would be judged wrongly by such a line.

    Args:
        table: of :func:`~lapkit.course.line_table.line_table`.
        source: name of the track file.
    """
    lines = table.pivot(index="corner", columns="line")
    for corner in table["corner"].drop_duplicates():
        own = float(lines.loc[corner, ("radius_min_m", MARKER)])
        further_in = float(lines.loc[corner, ("radius_min_m", ONE_LANE_IN)])
        # Unknown radii compare as false.
        if own < TIGHTER_THAN * further_in:
            at = float(lines.loc[corner, ("radius_min_at_m", MARKER)])
            yield warning(
                "tight marker line",
                f"{source}, corner {corner!r}",
                f"{at:.0f} m after turn-in the marker line is down to {own:.0f} m radius, where a line one lane "
                f"further in keeps {further_in:.0f} m",
                "Its cones, or the next corner's, leave no room for an open line: move them, and run this again.",
            )
