"""The course: the track file, the local plane, stations, corners with their cones, seams, line."""

from lapkit.course.line_table import line_table
from lapkit.course.place import place
from lapkit.course.track_file import read_track, write_track

__all__ = ["line_table", "place", "read_track", "write_track"]
