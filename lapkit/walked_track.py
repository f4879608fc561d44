"""From the recording of a track walk to a track file: a new one, or an existing one brought up to date."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from lapkit.course import read_track, write_track
from lapkit.course.in_degrees import line_in_degrees
from lapkit.course.track_merge import kept_only, merge, with_known_corners
from lapkit.course.types import GeoLine, Track
from lapkit.course.walk import track_of_walk
from lapkit.course.walk_file import read_walk
from lapkit.importer.riders_file import Entry
from lapkit.measuring.coach_line import with_walked_laps
from lapkit.measuring.course_source import find_course
from lapkit.measuring.options import Options


@dataclass(frozen=True, eq=False)
class WalkedTrack:
    """What became of a walk.

    Attributes:
        track: the track as it was written.
        remarks: what was made of the walk, and what was assumed.
        unread: names in the walk that mean nothing known.
        freed: seams and hazards that named a corner without cones, and now belong to none.
        kept: corners, cones and seams of the earlier track file that the walk does not name.
    """

    track: Track
    remarks: tuple[str, ...]
    unread: tuple[str, ...]
    freed: tuple[str, ...]
    kept: tuple[str, ...]


def write_walked_track(
    walk_file: Path, out: Path, logs: Sequence[Path] = (), read: Options | None = None
) -> WalkedTrack:
    """Make a track of a walk and write it; an existing track file keeps everything that the walk does not name.

    Args:
        walk_file: the walk (GPX).
        out: the track file to write or to bring up to date.
        logs: riders' logs, to take the centre from where nobody walked it.
        read: how they are read.

    Raises:
        TrackError: the walk or the existing track file cannot be used, or the logs show no course.
        LapkitError: no log can be read, or nothing is ridden in them.
        OutputError: the track file cannot be written.
    """
    walk = read_walk(walk_file)
    old = read_track(out) if out.exists() else None
    walked = track_of_walk(walk, _ridden_centre(logs, read or Options()) if logs else None, old)
    new, remark = with_walked_laps(walked.track, walk)
    merged = new if old is None else merge(old, new)
    track, freed = with_known_corners(replace(merged, source=str(out)))
    write_track(track, out)
    return WalkedTrack(
        track=track,
        remarks=tuple(filter(None, (*walked.remarks, remark))),
        unread=walked.unread,
        freed=freed,
        kept=tuple(kept_only(old, new)) if old else (),
    )


def _ridden_centre(logs: Sequence[Path], read: Options) -> GeoLine:
    """The middle of where the riders went, in degrees."""
    entries = tuple(Entry("", str(i), log.name, log) for i, log in enumerate(logs, 1))
    course = find_course(entries, read)
    return line_in_degrees(course.plane, course.reference)
