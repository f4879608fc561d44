"""``lapkit walk``: a track file from the waypoints and recordings of a track walk."""

from __future__ import annotations

import shlex
from pathlib import Path
from typing import TYPE_CHECKING

import click

from lapkit.cli import options

if TYPE_CHECKING:
    from lapkit.measuring.options import Options

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
@options.reading
def command(walk_file: Path, out: Path, logs: tuple[Path, ...], read: Options) -> None:
    """Make a track file of a track walk.

    Waypoints are named in plain words ("3 turn-in", "3 apex 2", "3 exit", "start left", "3 seam 1
    a", "hold point", "hazard kerb sticks out"), recordings "centre", "left edge", "right edge",
    "seam 1", "coach lap" or "pit lane". A track file that exists keeps everything that the walk
    does not say.
    """
    from lapkit.cli.problems import tell
    from lapkit.course.checks import check_track
    from lapkit.walked_track import write_walked_track

    made = write_walked_track(walk_file, out, logs, read)
    for line in made.remarks:
        click.echo(line)
    for line in (*made.unread, *made.freed):
        click.echo(f"not read: {line}", err=True)
    if made.unread:
        click.echo(_HOW_TO_NAME, err=True)
    tell(check_track(made.track))
    if made.kept:
        click.echo(
            f"Kept from the earlier {out}, as this walk does not name them: {', '.join(made.kept)}. To be rid "
            "of them take them out of it, or walk into a new file."
        )
    click.echo(f"Track file: {out}\nNext: lapkit track {shlex.quote(str(out))} --out sheets")
