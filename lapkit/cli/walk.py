"""``lapkit walk``: a track file from the waypoints and recordings of a track walk."""

from __future__ import annotations

import shlex
from pathlib import Path
from typing import TYPE_CHECKING

import click

from lapkit.cli import options

if TYPE_CHECKING:
    from lapkit.course.course import Course

_HOW_TO_NAME = (
    "Rename what was not read in the walk and run this again: `lapkit walk --help` shows names that are "
    'read; "hazard ..." keeps what else is to be minded.'
)


@click.command("walk")
@click.argument("walk_file", metavar="WALK.gpx", type=options.FILE)
@click.option(
    "--out",
    required=True,
    metavar="TRACK",
    type=options.FILE,
    help="Track file to write or bring up to date.",
)
@click.option(
    "--riders",
    "logs",
    metavar="LOG",
    type=options.FILE,
    multiple=True,
    help="Rider's log to take the centre from, where nobody walked it. May be repeated.",
)
def command(walk_file: Path, out: Path, logs: tuple[Path, ...]) -> None:
    """Make a track file of a track walk.

    Waypoints are named in plain words ("3 turn-in", "3 apex 2", "3 exit", "start left", "3 seam 1
    a", "hold point", "hazard kerb sticks out"), recordings "centre", "left edge", "right edge",
    "seam 1", "coach lap" or "pit lane". A track file that exists keeps everything that the walk
    does not say.
    """
    from dataclasses import replace

    from lapkit.cli.problems import tell
    from lapkit.coach_line import with_walked_laps
    from lapkit.course import read_track, write_track
    from lapkit.course.checks import check_track
    from lapkit.course.track_merge import kept_only, merge, with_known_corners
    from lapkit.course.walk import track_of_walk
    from lapkit.course.walk_file import read_walk
    from lapkit.course.walk_lines import line_in_degrees

    recorded = read_walk(walk_file)
    old = read_track(out) if out.exists() else None
    centre = None
    if logs:
        course = _course_of(logs)
        centre = line_in_degrees(course.plane, course.reference)
    walked = track_of_walk(recorded, centre)
    new, remark = with_walked_laps(walked.track, recorded)
    made = new if old is None else merge(old, new)
    made, freed = with_known_corners(replace(made, source=str(out)))
    write_track(made, out)
    for line in filter(None, (*walked.remarks, remark)):
        click.echo(line)
    for line in (*walked.unread, *freed):
        click.echo(f"not read: {line}", err=True)
    if walked.unread:
        click.echo(_HOW_TO_NAME, err=True)
    tell(check_track(made))
    if kept := kept_only(old, walked.track) if old else []:
        click.echo(
            f"Kept from the earlier {out}, as this walk does not name them: {', '.join(kept)}. To be rid "
            "of them take them out of it, or walk into a new file."
        )
    click.echo(f"Track file: {out}\nNext: lapkit track {shlex.quote(str(out))} --out sheets")


def _course_of(logs: tuple[Path, ...]) -> Course:
    """The course as the riders' logs show it."""
    from lapkit.course_source import find_course
    from lapkit.importer.event_folder import Entry
    from lapkit.options import Options

    entries = tuple(Entry("", str(i), log.name, log) for i, log in enumerate(logs, 1))
    return find_course(entries, Options())
