"""lapkit: radius, lean and line from track-day riders' GPS logs, held against the coach's cones.

Every public name is in ``__all__``; nothing else is promised to stay. Names are loaded when they are first
asked for, so that importing lapkit costs nothing. Inside, every number is SI and every angle of a table in
degrees; the unit stands in the name (``_m``, ``_mps``, ``_s``, ``_deg``, ``_1pm``).
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from lapkit.compare.results import CornerTrace, RunResult, Unusable
    from lapkit.course import line_table, place, read_track, write_track
    from lapkit.course.course import Corner, Course
    from lapkit.course.marker_line import solve_marker_line
    from lapkit.course.plane import Plane
    from lapkit.course.types import Track
    from lapkit.curvature import circle_curvature, held_curvature, radius_m
    from lapkit.errors import (
        EventError,
        LapkitError,
        LogError,
        OptionError,
        OutputError,
        PathError,
        SeasonError,
        TrackError,
    )
    from lapkit.findings import Finding, RiderReview
    from lapkit.importer import Log, Quality, assess, read_log, read_logs
    from lapkit.importer.heights import Heights
    from lapkit.lean import (
        balance_lean_deg,
        grip_demand,
        road_lean_deg,
        speed_at_lean_mps,
        tyre_width_lean_deg,
    )
    from lapkit.library.chain import event, review, write_results
    from lapkit.library.drawings import draw_along, draw_corner, draw_course, draw_straightened
    from lapkit.library.event_runs import event_runs
    from lapkit.library.export import export, write_geojson, write_gpx
    from lapkit.library.layers import cones_layer, corners_layer, laps_layer, marker_line_layer
    from lapkit.library.run import Run, measure, read_course
    from lapkit.measuring.reviews import EventReview
    from lapkit.path.draws import PathDraws
    from lapkit.path.ridden import RiddenPath, ride_path
    from lapkit.path.summary import Summary, summarise
    from lapkit.sample import sample_event
    from lapkit.splitter import Lap, split

__all__ = [
    "Corner",
    "CornerTrace",
    "Course",
    "EventError",
    "EventReview",
    "Finding",
    "Heights",
    "Lap",
    "LapkitError",
    "Log",
    "LogError",
    "OptionError",
    "OutputError",
    "PathDraws",
    "PathError",
    "Plane",
    "Quality",
    "RiddenPath",
    "RiderReview",
    "Run",
    "RunResult",
    "SeasonError",
    "Summary",
    "Track",
    "TrackError",
    "Unusable",
    "__version__",
    "assess",
    "balance_lean_deg",
    "circle_curvature",
    "cones_layer",
    "corners_layer",
    "draw_along",
    "draw_corner",
    "draw_course",
    "draw_straightened",
    "event",
    "event_runs",
    "export",
    "grip_demand",
    "held_curvature",
    "laps_layer",
    "line_table",
    "marker_line_layer",
    "measure",
    "place",
    "radius_m",
    "read_course",
    "read_log",
    "read_logs",
    "read_track",
    "review",
    "ride_path",
    "road_lean_deg",
    "sample_event",
    "solve_marker_line",
    "speed_at_lean_mps",
    "split",
    "summarise",
    "tyre_width_lean_deg",
    "write_geojson",
    "write_gpx",
    "write_results",
    "write_track",
]

__version__ = "0.1.0"

_HOMES = {
    "lapkit.importer": ("Log", "Quality", "assess", "read_log", "read_logs"),
    "lapkit.course": ("line_table", "place", "read_track", "write_track"),
    "lapkit.course.plane": ("Plane",),
    "lapkit.course.types": ("Track",),
    "lapkit.course.course": ("Corner", "Course"),
    "lapkit.course.marker_line": ("solve_marker_line",),
    "lapkit.path.ridden": ("RiddenPath", "ride_path"),
    "lapkit.path.draws": ("PathDraws",),
    "lapkit.importer.heights": ("Heights",),
    "lapkit.path.summary": ("Summary", "summarise"),
    "lapkit.splitter": ("Lap", "split"),
    "lapkit.curvature": ("circle_curvature", "held_curvature", "radius_m"),
    "lapkit.lean": (
        "balance_lean_deg",
        "grip_demand",
        "road_lean_deg",
        "speed_at_lean_mps",
        "tyre_width_lean_deg",
    ),
    "lapkit.compare.results": ("CornerTrace", "RunResult", "Unusable"),
    "lapkit.findings": ("Finding", "RiderReview"),
    "lapkit.measuring.reviews": ("EventReview",),
    "lapkit.library.run": ("Run", "measure", "read_course"),
    "lapkit.library.chain": ("event", "review", "write_results"),
    "lapkit.library.drawings": ("draw_along", "draw_corner", "draw_course", "draw_straightened"),
    "lapkit.library.event_runs": ("event_runs",),
    "lapkit.library.export": ("export", "write_geojson", "write_gpx"),
    "lapkit.library.layers": ("cones_layer", "corners_layer", "laps_layer", "marker_line_layer"),
    "lapkit.sample": ("sample_event",),
    "lapkit.errors": (
        "EventError",
        "LapkitError",
        "LogError",
        "OptionError",
        "OutputError",
        "PathError",
        "SeasonError",
        "TrackError",
    ),
}
_HOME_OF = {name: home for home, names in _HOMES.items() for name in names}


if not TYPE_CHECKING:  # so that a type checker still knows a name that is not there

    def __getattr__(name: str) -> Any:
        if name not in _HOME_OF:
            raise AttributeError(f"module 'lapkit' has no attribute {name!r}")
        value = getattr(import_module(_HOME_OF[name]), name)
        globals()[name] = value
        return value


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})
