"""The course as a page: one sheet a corner with its drawing, cues, cones, radii, leans and speeds."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

import pandas as pd

from lapkit import __version__
from lapkit.counting import counted
from lapkit.course.course import Corner, Course, CourseMarker
from lapkit.course.types import MarkerKind
from lapkit.curvature import HELD_OVER_M
from lapkit.reporter import display
from lapkit.reporter.corner_head import CornerHead
from lapkit.reporter.corner_section import Picture
from lapkit.reporter.course_words import course_rows, line_name
from lapkit.reporter.display import Measured
from lapkit.reporter.figures import course_map, overhead, svg_of
from lapkit.reporter.page import render
from lapkit.units import KMH_MPS, Units

GEOMETRY = (
    "These figures are geometry: what a line asks for at a steady speed, with camber, grade, crests "
    "and dips counted, and the lean taken from the road’s own surface. They are no target and no advice."
)
"""Stands under every table of radii."""

MOST_LEAN_DEG = 60.0
"""More lean than any machine on a circuit reaches, degrees (common practice)."""

MOST_KMH = 350.0
"""Faster than any machine on a circuit, km/h (common practice)."""

_DRAWN = "You come in from below. Solid: edges. Dashes: the marker line."
_SEAMS = "Dots: seams; lanes are counted from the inside."
_CAMBER = "Arrow across the road: the way it falls."
_HAZARD = "Triangle with a mark: a hazard."
_FROM = {
    "given": "The marker line is the one that the track file holds.",
    "ridden": "The marker line is the mean of the coach’s own laps.",
    "solved": "The marker line was solved from the cones: past each on its proper side, inside the "
    "edges, with the largest radius in each corner and the smoothest way from one to the next. It is "
    "not the fastest line.",
}
_KINDS = {
    MarkerKind.TURN_IN: "turn-in",
    MarkerKind.APEX: "apex",
    MarkerKind.EXIT: "exit",
    MarkerKind.SIGHT: "to look at",
}
_LEAN, _SPEED = "lean_at_", "kmh_at_"

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
    drawn = svg_of(
        course_map(course, units), "map-", f"{name} from above", "The course with its corners"
    )
    length = course.reference.length_m / units.length_m
    laid = "a lap" if course.closed else "from start to end"
    facts = [
        f"{length:.0f} {units.length} {laid}",
        counted(len(course.corners), "corner"),
    ]
    return render(
        "course.html.j2",
        title=f"{name} – corner sheets",
        name=name,
        facts=facts,
        map=drawn,
        line_from=_FROM.get(course.marker_line_from, ""),
        problems=problems,
        course=course_rows(course, units),
        corners=[_sheet(course, c, i, table, units) for i, c in enumerate(course.corners)],
        cones_head=("Cone", "Stands", f"Within, {units.length}", "Camber"),
        radii_head=("Line", *_radii_head(units)),
        geometry=GEOMETRY,
        held=f"{HELD_OVER_M / units.length_m:.0f} {units.length}",
        speed=units.speed,
        version=__version__,
    )


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
    rows = table[table["corner"] == corner.name]
    exit_m = rows.loc[rows["line"] == "marker", "exit_radius_min_m"]
    exit_radius_m = float(exit_m.iloc[0]) if len(exit_m) else float("nan")
    head = CornerHead.of(course, corner, number, exit_radius_m, units)
    caption = how_drawn(corner)
    svg = svg_of(
        overhead(course, corner, units=units), f"c{number + 1}-", f"{head.name} from above", caption
    )
    records = rows.to_dict("records")
    return CornerSheet(
        head=head,
        picture=Picture("plan", svg, caption, ""),
        cones=[_cone(marker, units) for marker in corner.markers],
        radii=[_radii(row, units) for row in records],
        leans=_ladder(records, _LEAN, units),
        speeds=_ladder(records, _SPEED, units),
    )


def how_drawn(corner: Corner) -> str:
    """What the lines and signs of a corner's drawing are, those that it has."""
    parts = [
        _DRAWN,
        _SEAMS if corner.seams else "",
        _CAMBER if _falls(corner) else "",
        _HAZARD if corner.hazards else "",
    ]
    return " ".join(filter(None, parts))


def asked_lean(degrees: float) -> str:
    """A lean that a line asks for; what no machine reaches is not told to the degree."""
    if display.known(degrees) and degrees > MOST_LEAN_DEG:
        return f"over {MOST_LEAN_DEG:.0f}°"
    return display.degrees_text(Measured(degrees))


def asked_speed(kmh: float, units: Units) -> str:
    """A speed at which a line asks for a lean; none that no machine reaches: there the line is nearly straight."""
    return display.speed_text(kmh * KMH_MPS if kmh <= MOST_KMH else float("nan"), units)


def _falls(corner: Corner) -> bool:
    return any(abs(m.camber_deg) >= 0.5 for m in corner.markers) or abs(corner.camber_deg) >= 0.5


def _cone(marker: CourseMarker, units: Units) -> Row:
    """A cone in words."""
    sight = marker.kind is MarkerKind.SIGHT
    within = display.EMPTY if sight else f"{marker.pass_within_m / units.length_m:.1f}"
    camber = marker.camber_deg
    side = "banked" if camber > 0 else "off camber"
    tilt = f"{side} {abs(camber):.0f}°" if abs(camber) >= 0.5 else "level"
    kind = _KINDS[marker.kind]
    name = marker.name if kind in marker.name else f"{marker.name} ({kind})"
    return name, str(marker.side), within, tilt


def _radii_head(units: Units) -> Iterator[str]:
    m = units.length
    yield from (
        f"tightest, {m}",
        f"after turn-in, {m}",
        f"at the exit, {m}",
        f"length, {m}",
    )


def _radii(row: dict[str, Any], units: Units) -> Row:
    cells = [
        display.radius_text(Measured(row[c]), units, bare=True)
        for c in ("radius_min_m", "radius_min_at_m", "exit_radius_min_m", "length_m")
    ]
    return line_name(row["line"]), *cells


def _ladder(records: list[dict[str, Any]], start: str, units: Units) -> Ladder:
    """Head and rows of a table that has a column for each rung of a ladder."""
    columns = [c for c in (records[0] if records else {}) if c.startswith(start)]
    rungs = [float(c.removeprefix(start).split("_")[0]) for c in columns]
    if start == _LEAN:
        head = [f"{r * KMH_MPS / units.speed_mps:.0f}" for r in rungs]
        cells = [[asked_lean(row[c]) for c in columns] for row in records]
    else:
        head = [f"{r:.0f}°" for r in rungs]
        cells = [[asked_speed(row[c], units) for c in columns] for row in records]
    names = [line_name(row["line"]) for row in records]
    rows = [(name, *row) for name, row in zip(names, cells, strict=True)]
    return Ladder(("Line", *head), rows)
