"""``lapkit walk``: a track file from the waypoints and recordings of a track walk."""

from __future__ import annotations

from pathlib import Path

import click

_PATH = click.Path(path_type=Path)


@click.command()
@click.argument("walk_file", metavar="WALK.gpx", type=_PATH)
@click.option(
    "--out",
    required=True,
    metavar="TRACK",
    type=_PATH,
    help="Track file to write or bring up to date.",
)
@click.option(
    "--riders",
    "logs",
    metavar="LOG",
    type=_PATH,
    multiple=True,
    help="Rider's log to take the centre from, where nobody walked it. May be repeated.",
)
def walk(walk_file: Path, out: Path, logs: tuple[Path, ...]) -> None:
    """Make a track file of a track walk.

    Waypoints are named in plain words ("3 turn-in", "3 apex 2", "3 exit", "start left", "3 seam 1
    a", "hold point", "hazard kerb sticks out"), recordings "centre", "left edge", "right edge",
    "seam 1", "coach lap" or "pit lane". A track file that exists keeps everything that the walk
    does not say.
    """
    from lapkit.cli.problems import tell
    from lapkit.course import read_track, write_track
    from lapkit.course.checks import check_track
    from lapkit.course.track_merge import merge
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
    write_track(walked.track if old is None else merge(old, walked.track), out)
    for line in walked.told:
        click.echo(line)
    for line in walked.unread:
        click.echo(f"not read: {line}", err=True)
    tell(check_track(read_track(out)))
    click.echo(f"Track file: {out}. Next: lapkit track {out} --out sheets")


def _course_of(logs: tuple[Path, ...]):  # noqa: ANN202 - the type is imported with the command
    from lapkit.importer.event_folder import Entry
    from lapkit.runs import Options, find_course

    entries = tuple(Entry("", str(i), log.name, log) for i, log in enumerate(logs, 1))
    return find_course(entries, Options())
