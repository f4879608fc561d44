"""``lapkit track``: check a track file, solve its marker line, and write it with its table."""

from __future__ import annotations

import shlex
from pathlib import Path
from typing import TYPE_CHECKING

import click

from lapkit.cli import options
from lapkit.counting import counted
from lapkit.errors import TrackError

if TYPE_CHECKING:
    from lapkit.measuring.options import Options
    from lapkit.units import Units


@click.command("track")
@click.argument("track_file", metavar="TRACK", type=options.FILE)
@click.option(
    "--out",
    metavar="DIR",
    type=options.FILE,
    help="Folder for track.geojson, line.csv and the corner sheets (a page and a PDF).",
)
@options.line
@options.reading
@options.units
def command(
    track_file: Path, out: Path | None, line: Path | None, read: Options, units: Units
) -> None:
    """Check a track file, solve its marker line and tabulate the radii of its corners.

    The table is geometry: which radius a line has and which lean a speed would ask for on it. It is
    no target and no advice.
    """
    from lapkit.cli.problems import tell
    from lapkit.cli.progress import progress_on_terminal
    from lapkit.course import read_track
    from lapkit.course.checks import check_track
    from lapkit.reporter.terminal_line import line_text, uncounted_text, without_cue_text
    from lapkit.track_sheets import PAGE, PDF, with_marker_line, write_sheets

    given = read_track(track_file)
    problems = check_track(given)
    if errors := tell(problems, units):
        raise TrackError(
            f"the track file has {counted(errors, 'error')}, told above",
            where=str(track_file),
            remedy="Mend the file and run this again.",
        )
    solved = with_marker_line(given, line, units, read)
    tell(solved.problems, units)
    if out is not None:
        # Before anything is printed: a reader that has seen enough would end the command.
        with progress_on_terminal("sheets") as progress:
            write_sheets(solved, problems, out, units, progress=progress)
    click.echo(line_text(solved.table, solved.course.marker_line_from, units))
    for said in (uncounted_text(solved.course), without_cue_text(solved.course)):
        if said:
            click.echo(said)
    if out is None:
        coach = f" --line {shlex.quote(str(line))}" if line is not None else ""
        if coach and read.columns:
            named = ",".join("=".join(pair) for pair in read.columns)
            coach += f" --columns {shlex.quote(named)}"
        again = f"lapkit track {shlex.quote(str(track_file))}{coach} --out sheets"
        click.echo(f"Next, for sheets to print: {again}")
    elif solved.course.corners:
        click.echo(f"Written to {out}: track.geojson, line.csv and a sheet for each corner")
        click.echo(f"Open {out / PAGE}; print {out / PDF}")
    else:
        click.echo(
            f"Written to {out}: track.geojson and line.csv; without a corner there are no sheets to print"
        )
        click.echo(f"Open {out / PAGE}")
