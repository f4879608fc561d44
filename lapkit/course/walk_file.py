"""Reading the GPX file of a track walk: its waypoints, tracks and routes, by gpxpy."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from xml.parsers import expat

import gpxpy
import numpy as np
from gpxpy.gpx import GPX, GPXRoutePoint, GPXTrackPoint

from lapkit.arrays import FloatArray
from lapkit.errors import TrackError
from lapkit.whole_file import GZIP, read_whole

LARGEST_WALK_BYTES = 48 * 1024 * 1024
"""A walk above this size is refused; a day's walk at 1 Hz is a fifth of it."""


@dataclass(frozen=True)
class Waypoint:
    """A named place, degrees; ``time_s`` is NaN when it has no time."""

    name: str
    description: str
    lat_deg: float
    lon_deg: float
    time_s: float


@dataclass(frozen=True, eq=False)
class Recorded:
    """A recorded track or route of two or more places; arrays ``(n,)``, NaN where height or time is absent."""

    name: str
    lat_deg: FloatArray
    lon_deg: FloatArray
    height_m: FloatArray
    time_s: FloatArray


@dataclass(frozen=True, eq=False)
class WalkFile:
    """What was recorded on a walk, as it stands in the file ``source``; ``name`` is the name given in the file."""

    source: str
    waypoints: tuple[Waypoint, ...]
    tracks: tuple[Recorded, ...]
    name: str = ""


def read_walk(path: str | Path) -> WalkFile:
    """Read the GPX file of a track walk.

    Raises:
        TrackError: the file cannot be read, is no GPX, has a DOCTYPE, or holds no place at all.
    """
    source = str(path)
    data = read_whole(path, "walk", LARGEST_WALK_BYTES)
    _refuse_doctype(data, source)
    try:
        gpx = gpxpy.parse(data)
    except (
        Exception
    ) as error:  # gpxpy lets errors of every kind through, those of the XML parser as well
        raise TrackError(
            f"this is not GPX that can be read ({' '.join(str(error).split())[:200]})",
            where=source,
            remedy="Export the walk again as GPX.",
        ) from error
    walk = WalkFile(source, tuple(_waypoints(gpx)), tuple(_tracks(gpx)), _printable(gpx.name))
    if not walk.waypoints and not walk.tracks:
        raise TrackError(
            "it has neither waypoints nor tracks",
            where=source,
            remedy="Export the walk with its waypoints.",
        )
    return walk


def _refuse_doctype(data: bytes, source: str) -> None:
    """Refuse a DOCTYPE before any entity could be expanded, and XML that is broken."""
    if data.startswith(GZIP):
        raise TrackError(
            "the file is packed (gzip)", where=source, remedy="Unpack it and give the GPX file."
        )
    parser = expat.ParserCreate()

    def refuse(*_: object) -> None:
        raise TrackError(
            "it has a DOCTYPE, which GPX never needs",
            where=f"{source}, line {parser.CurrentLineNumber}",
            remedy="Export the walk again from the receiver.",
        )

    parser.StartDoctypeDeclHandler = refuse
    try:
        parser.Parse(data, True)
    except (expat.ExpatError, ValueError) as error:
        line = getattr(error, "lineno", 1)
        raise TrackError(
            f"this is not sound XML ({error})",
            where=f"{source}, line {line}",
            remedy="Export the walk again as GPX.",
        ) from error


def _waypoints(gpx: GPX) -> list[Waypoint]:
    found = []
    for point in gpx.waypoints:
        if _on_earth(point.latitude, point.longitude):
            # Many receivers write the same text as description and as comment.
            texts = dict.fromkeys(t for t in (point.description, point.comment) if t)
            said = "\n".join(texts)
            time_s = point.time.timestamp() if point.time else math.nan
            found.append(
                Waypoint(
                    _printable(point.name),
                    "\n".join(_printable(line) for line in said.splitlines()),
                    point.latitude,
                    point.longitude,
                    time_s,
                )
            )
    return found


def _tracks(gpx: GPX) -> list[Recorded]:
    recorded = []
    for track in gpx.tracks:
        points = [point for segment in track.segments for point in segment.points]
        recorded.append(_recorded(track.name, points))
    recorded.extend(_recorded(route.name, route.points) for route in gpx.routes)
    return [one for one in recorded if len(one.lat_deg) > 1]


def _recorded(name: str | None, points: Sequence[GPXTrackPoint | GPXRoutePoint]) -> Recorded:
    rows = np.array(
        [
            (
                p.latitude,
                p.longitude,
                math.nan if p.elevation is None else p.elevation,
                p.time.timestamp() if p.time else math.nan,
            )
            for p in points
            if _on_earth(p.latitude, p.longitude)
        ]
    ).reshape(-1, 4)
    return Recorded(_printable(name), *rows.T)


def _printable(text: str | None) -> str:
    """Text on one line without characters that no terminal or page could show."""
    return "".join(c for c in " ".join((text or "").split()) if c.isprintable())


def _on_earth(lat: float, lon: float) -> bool:
    return abs(lat) <= 90.0 and abs(lon) <= 180.0
