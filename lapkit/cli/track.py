"""``lapkit track``: check a track file, solve its marker line, and write it with its table."""

from __future__ import annotations

import shlex
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import click

from lapkit.cli import options
from lapkit.counting import counted

if TYPE_CHECKING:
    import pandas as pd

    from lapkit.course.course import Course
    from lapkit.course.problem import Problem
    from lapkit.course.types import Track
    from lapkit.units import Units

PAGE, SHEETS = "corner-sheets.html", "corner-sheets.pdf"


@click.command("track")
@click.argument("track_file", metavar="TRACK", type=options.FILE)
@click.option(
    "--out",
    metavar="DIR",
    type=options.FILE,
    help="Folder for track.geojson, line.csv and the corner sheets (a page and a PDF).",
)
@options.line
@options.units
def command(track_file: Path, out: Path | None, line: Path | None, units: Units) -> None:
    """Check a track file, solve its marker line and tabulate the radii of its corners.

    The table is geometry: which radius a line has and which lean a speed would ask for on it. It is
    no target and no advice.
    """
    from dataclasses import replace

    from lapkit.cli.problems import tell
    from lapkit.course import line_table, place, read_track
    from lapkit.course.check_marker_line import tighter_than_further_in
    from lapkit.course.checks import check_track
    from lapkit.course.line_table import SPEEDS_KMH, ladder_kmh
    from lapkit.course.walk_lines import RIDDEN_VERTEX_M, line_in_degrees
    from lapkit.errors import TrackError
    from lapkit.reporter import whole_folder
    from lapkit.reporter.terminal import line_text

    given = read_track(track_file)
    problems = check_track(given)
    errors = tell(problems, units)
    if errors:
        raise TrackError(
            f"the track file has {counted(errors, 'error')}, told above",
            where=str(track_file),
            remedy="Mend the file and run this again.",
        )
    course = _with_line(place(given), line)
    if course.marker_line_from != "given":
        solved = line_in_degrees(course.plane, course.require_marker_line(), RIDDEN_VERTEX_M)
        given = replace(given, marker_line=solved)
    table = line_table(course, sorted({*SPEEDS_KMH, *ladder_kmh(units)}))
    tight = tuple(tighter_than_further_in(table, str(given.source)))
    tell(tight, units)
    if out is not None:
        # Before anything is printed: a reader that has seen enough would end the command.
        with whole_folder(out, [track_file]) as folder:
            _write(folder, given, course, table, (*problems, *tight), units)
    click.echo(line_text(table, course.marker_line_from, units))
    if out is None:
        coach = f" --line {shlex.quote(str(line))}" if line is not None else ""
        again = f"lapkit track {shlex.quote(str(track_file))}{coach} --out sheets"
        click.echo(f"Next, for sheets to print: {again}")
    else:
        click.echo(f"Written to {out}: track.geojson, line.csv and a sheet for each corner")
        click.echo(f"Open {out / PAGE}; print {out / SHEETS}")


def _with_line(course: Course, line: Path | None) -> Course:
    """The course with its marker line: ridden by the coach, given, or solved from the cones."""
    from lapkit.course.marker_line import with_line

    if line is not None:
        from lapkit.coach_line import with_coach_line
        from lapkit.importer import read_log

        course = with_coach_line(course, read_log(line))
    return with_line(course)


def _write(
    folder: Path,
    track: Track,
    course: Course,
    table: pd.DataFrame,
    problems: Sequence[Problem],
    units: Units,
) -> None:
    from lapkit.course.line_table import columns, ladder_kmh
    from lapkit.course.track_file import track_bytes
    from lapkit.reporter.course_sheets import course_page
    from lapkit.reporter.display import in_units
    from lapkit.reporter.pdf import corner_sheets

    (folder / "track.geojson").write_bytes(track_bytes(track))
    table[columns()].to_csv(folder / "line.csv", index=False, float_format="%.6g")
    # Files are always SI; on sheets the speeds are round figures of what is read.
    table = table[columns(ladder_kmh(units))]
    corner_sheets(course, table, folder / SHEETS, units=units)
    name = str(track.members.get("name") or Path(track.source).stem)
    told = [in_units(str(problem), units) for problem in problems]
    page = course_page(course, table, name, told, units=units)
    (folder / PAGE).write_text(page, encoding="utf-8")
