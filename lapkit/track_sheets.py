"""A track file made ready for the paddock: its marker line found, its radii tabulated, its corner sheets written."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import pandas as pd

from lapkit.course import line_table, place
from lapkit.course.check_marker_line import tighter_than_further_in
from lapkit.course.course import Course
from lapkit.course.in_degrees import RIDDEN_VERTEX_M, line_in_degrees
from lapkit.course.line_table import SPEEDS_KMH, columns, ladder_kmh
from lapkit.course.marker_line import with_line
from lapkit.course.problem import Problem
from lapkit.course.track_file import track_bytes
from lapkit.course.types import LineSource, Track
from lapkit.measuring.coach_line import with_coach_line
from lapkit.measuring.options import Options
from lapkit.measuring.runs import log_beside
from lapkit.reporter import whole_folder
from lapkit.reporter.contents import Contents, What
from lapkit.reporter.corner_sheets import corner_sheets
from lapkit.reporter.course_page import course_page
from lapkit.reporter.display import in_units
from lapkit.units import Units

PAGE, PDF = "corner-sheets.html", "corner-sheets.pdf"
"""Names of the corner sheets, as a page and to be printed."""


@dataclass(frozen=True, eq=False)
class SolvedTrack:
    """A track file with its marker line.

    Attributes:
        track: the track file, the marker line in it.
        course: the same, placed on its plane.
        table: :func:`~lapkit.course.line_table.line_table` with the speeds of ``line.csv`` and those of the reader.
        problems: what only the line shows to be wrong.
    """

    track: Track
    course: Course
    table: pd.DataFrame
    problems: tuple[Problem, ...]


def with_marker_line(
    track: Track, line: Path | None, units: Units, read: Options | None = None
) -> SolvedTrack:
    """Find the marker line of a track file: ridden by the coach, given in the file, or solved from the cones.

    Args:
        track: a sound track file.
        line: the coach's own log; None to take the file's line or solve one.
        units: what the sheets are read in.
        read: how the log is read.

    Raises:
        LogError: the coach's log cannot be read, or is of no use.
        PathError: the coach's log does not determine a path.
        TrackError: the track cannot be placed, the log holds no whole lap, or no line can meet the cones.
    """
    course = place(track)
    if line is None:
        course = with_line(course)
    else:
        course = with_coach_line(course, log_beside(line, read or Options()))
    if course.marker_line_from is not LineSource.GIVEN:
        drawn = line_in_degrees(course.plane, course.require_marker_line(), RIDDEN_VERTEX_M)
        track = replace(track, marker_line=drawn)
    table = line_table(course, sorted({*SPEEDS_KMH, *ladder_kmh(units)}))
    return SolvedTrack(track, course, table, tuple(tighter_than_further_in(table, track.source)))


def write_sheets(
    solved: SolvedTrack,
    problems: Sequence[Problem],
    out: Path,
    units: Units,
    *,
    progress: Callable[[int, int], None] | None = None,
) -> None:
    """Write ``track.geojson``, ``line.csv`` and the corner sheets into a folder, whole or not at all.

    Args:
        solved: the track with its line.
        problems: warnings of the track file itself, told on the page with those of the line.
        out: the folder.
        units: what the sheets are read in; files are SI.
        progress: called with printed sheets done and in all; they take longest, and come last.

    Raises:
        OutputError: the folder cannot be written, or holds riders' results.
    """
    track, course = solved.track, solved.course
    warnings = [in_units(str(problem), units) for problem in (*problems, *solved.problems)]
    name = str(track.members.get("name") or Path(track.source).stem)
    # On the sheets speeds are round figures of the reader's units.
    readers = solved.table[columns(ladder_kmh(units))]
    with whole_folder(out, [Path(track.source)], Contents(What.SHEETS)) as folder:
        (folder / "track.geojson").write_bytes(track_bytes(track))
        solved.table[columns()].to_csv(folder / "line.csv", index=False, float_format="%.6g")
        page = course_page(course, readers, name, warnings, units=units)
        (folder / PAGE).write_text(page, encoding="utf-8")
        corner_sheets(course, readers, folder / PDF, units=units, progress=progress)
