"""The course as a page: one sheet a corner with its drawing, cues, cones, radii, leans and speeds."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import pandas as pd

from lapkit import __version__
from lapkit.counting import counted
from lapkit.course.course import Corner, Course, CourseMarker
from lapkit.course.types import MarkerKind
from lapkit.curvature import HELD_OVER_M
from lapkit.reporter import display
from lapkit.reporter.captions import bare_caption
from lapkit.reporter.corner_head import CornerHead
from lapkit.reporter.corner_section import Picture
from lapkit.reporter.course_words import camber_size_deg, course_rows, is_tilted, road_of_line
from lapkit.reporter.display import Measured
from lapkit.reporter.figures import course_map, overhead, svg_of
from lapkit.reporter.lines_at_corner import (
    LineAtCorner,
    exit_radius_of_line_m,
    lean_text,
    lines_at_corner,
    speed_text,
)
from lapkit.reporter.page import render
from lapkit.units import KMH_MPS, Units

GEOMETRY = (
    "These figures are geometry: what a line asks for at a steady speed, with camber, grade, crests "
    "and dips counted, and the lean taken from the road’s own surface. They are no target and no advice."
)
"""Stands under every table of radii."""

_FROM = {
    "given": "The marker line is the one that the track file holds.",
    "ridden": "The marker line is the mean of the coach’s own laps.",
    "solved": "The marker line was solved from the cones: past each on its proper side, {road}, with the "
    "largest radius in each corner and the smoothest way from one to the next. It is not the fastest line.",
}
_KINDS = {
    MarkerKind.TURN_IN: "turn-in",
    MarkerKind.APEX: "apex",
    MarkerKind.EXIT: "exit",
    MarkerKind.SIGHT: "to look at",
}

Row = tuple[str, ...]


def course_page(
    course: Course,
    table: pd.DataFrame,
    name: str,
    problems: Sequence[str],
    *,
    units: Units = Units.METRIC,
) -> str:
    """The page of a course, complete in itself, made to be printed: each corner on a sheet.

    Args:
        course: the course with its marker line.
        table: ``line.csv``: a row for each corner and line.
        name: what the page is headed with.
        problems: warnings of the track file, to be told.
        units: what is read.
    """
    title, what = f"{name} from above", "The course with its corners"
    length = course.reference.length_m / units.length_m
    way = "a lap" if course.closed else "from start to end"
    return render(
        "course.html.j2",
        title=f"{name} – corner sheets",
        name=name,
        facts=[f"{length:.0f} {units.length} {way}", counted(len(course.corners), "corner")],
        map=svg_of(course_map(course, units), "map-", title, what),
        line_from=_FROM.get(course.marker_line_from, "").format(road=road_of_line(course, units)),
        problems=problems,
        course=course_rows(course, units),
        corners=[_sheet(course, c, i, table, units) for i, c in enumerate(course.corners)],
        cones_head=("Cone", "Stands", f"Within, {units.length}", "Camber"),
        radii_head=("Line", *(f"{what}, {units.length}" for what in _RADII)),
        geometry=GEOMETRY,
        held=f"{HELD_OVER_M / units.length_m:.0f} {units.length}",
        speed=units.speed,
        version=__version__,
    )


_RADII = ("tightest", "after turn-in", "at the exit", "length")
"""What stands over the columns of :func:`_radii`, each with the unit."""


class Ladder(NamedTuple):
    """A table with a row for each line and a column for each rung, of speeds or of leans."""

    head: Row
    rows: list[Row]


@dataclass(frozen=True)
class CornerSheet:
    """What a corner's sheet shows.

    Attributes:
        head: what stands over it.
        picture: from above.
        cones: a row for each, in words.
        radii: a row for each line.
        leans, speeds: what lines ask for at some speeds, and at some leans.
    """

    head: CornerHead
    picture: Picture
    cones: list[Row]
    radii: list[Row]
    leans: Ladder
    speeds: Ladder


def _sheet(
    course: Course, corner: Corner, number: int, table: pd.DataFrame, units: Units
) -> CornerSheet:
    lines = lines_at_corner(table, corner)
    head = CornerHead.of(course, corner, number, exit_radius_of_line_m(table, corner), units)
    caption = bare_caption(course, corner)
    drawing = overhead(course, corner, units=units)
    svg = svg_of(drawing, f"c{number + 1}-", f"{head.name} from above", caption)
    return CornerSheet(
        head=head,
        picture=Picture("plan", svg, caption, ""),
        cones=[_cone(marker, units) for marker in corner.markers],
        radii=[_radii(line, units) for line in lines],
        leans=_leans(lines, units),
        speeds=_speeds(lines, units),
    )


def _cone(marker: CourseMarker, units: Units) -> Row:
    """A cone in words: its name, where it stands, how near to pass it, and the camber there."""
    kind = _KINDS[marker.kind]
    name = marker.name if kind in marker.name else f"{marker.name} ({kind})"
    sight = marker.kind is MarkerKind.SIGHT
    within = display.EMPTY if sight else f"{marker.pass_within_m / units.length_m:.1f}"
    camber = "level"
    if is_tilted(marker.camber_deg):
        way = "banked" if marker.camber_deg > 0 else "off camber"
        camber = f"{way} {camber_size_deg(marker.camber_deg):.0f}°"
    return name, str(marker.side), within, camber


def _radii(line: LineAtCorner, units: Units) -> Row:
    lengths_m = (line.radius_min_m, line.radius_min_at_m, line.exit_radius_min_m, line.length_m)
    cells = (display.radius_text(Measured(x), units, bare=True) for x in lengths_m)
    return line.name, *cells


def _leans(lines: Sequence[LineAtCorner], units: Units) -> Ladder:
    """The lean that each line asks for at some speeds."""
    head = [f"{kmh * KMH_MPS / units.speed_mps:.0f}" for kmh in lines[0].lean_deg]
    rows = [(line.name, *map(lean_text, line.lean_deg.values())) for line in lines]
    return Ladder(("Line", *head), rows)


def _speeds(lines: Sequence[LineAtCorner], units: Units) -> Ladder:
    """The speed at which each line asks for some leans."""
    head = [f"{lean_deg:.0f}°" for lean_deg in lines[0].speed_kmh]
    rows = [
        (line.name, *(speed_text(kmh, units) for kmh in line.speed_kmh.values())) for line in lines
    ]
    return Ladder(("Line", *head), rows)
