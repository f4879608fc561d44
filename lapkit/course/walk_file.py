"""Reading the GPX file of a track walk: its waypoints, tracks and routes, by gpxpy."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from xml.parsers import expat

import gpxpy
import numpy as np
from gpxpy.gpx import GPX, GPXRoutePoint, GPXTrackPoint

from lapkit.arrays import FloatArray
from lapkit.counting import counted
from lapkit.errors import TrackError
from lapkit.whole_file import GZIP, read_whole

_PLACES = ("wpt", "trkpt", "rtept")

_Points = Sequence[GPXTrackPoint | GPXRoutePoint]

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
    """What was recorded on a walk, as it stands in the file ``source``.

    Attributes:
        source: the file.
        waypoints, tracks: what has a place on the Earth.
        name: the name given in the file.
        left_out: a clause for each waypoint and each recording with places that are none.
    """

    source: str
    waypoints: tuple[Waypoint, ...]
    tracks: tuple[Recorded, ...]
    name: str = ""
    left_out: tuple[str, ...] = ()


def read_walk(path: str | Path) -> WalkFile:
    """Read the GPX file of a track walk.

    Raises:
        TrackError: the file cannot be read, is no GPX, has a DOCTYPE, or holds no place at all.
    """
    source = str(path)
    data = read_whole(path, "walk", LARGEST_WALK_BYTES)
    _refuse_other_kinds(data, source)
    _refuse_unsound(data, source)
    try:
        gpx = gpxpy.parse(data)
    # gpxpy lets errors of every kind through, those of the XML parser as well.
    except Exception as error:
        raise TrackError(
            f"this is not GPX that can be read ({' '.join(str(error).split())[:200]})",
            where=source,
            remedy="Export the walk again as GPX.",
        ) from error
    walk = WalkFile(
        source,
        tuple(_waypoints(gpx)),
        tuple(_tracks(gpx)),
        _printable(gpx.name),
        tuple(_left_out(gpx)),
    )
    if not walk.waypoints and not walk.tracks:
        raise TrackError(
            "it has neither waypoints nor tracks",
            where=source,
            remedy="Export the walk with its waypoints.",
        )
    return walk


def _refuse_other_kinds(data: bytes, source: str) -> None:
    """Refuse files that are no XML.

    Raises:
        TrackError: it is packed, or JSON.
    """
    if data.startswith(GZIP):
        raise TrackError(
            "the file is packed (gzip)", where=source, remedy="Unpack it and give the GPX file."
        )
    if data.lstrip()[:1] in (b"{", b"["):
        raise TrackError(
            "this is JSON, as track files are, and no walk",
            where=source,
            remedy="Give the GPX file of the walk here; `lapkit track` checks a track file.",
        )


def _refuse_unsound(data: bytes, source: str) -> None:
    """Refuse what the reader of GPX would expand, or would refuse without saying where.

    Raises:
        TrackError: it has a DOCTYPE, whose entities could fill memory; it is broken XML, or KML; or a place in it is no
            number.
    """
    parser = expat.ParserCreate()

    def refuse_doctype(*_: object) -> None:
        raise TrackError(
            "it has a DOCTYPE, which GPX never needs",
            where=f"{source}, line {parser.CurrentLineNumber}",
            remedy="Export the walk again from the receiver.",
        )

    def check_element(tag: str, said: dict[str, str]) -> None:
        if tag.lower() == "kml":
            raise TrackError(
                "this is KML, not GPX", where=source, remedy="Export the walk again as GPX."
            )
        # gpxpy would name neither the line nor what stands there.
        for part in ("lat", "lon") if tag.rpartition(":")[2] in _PLACES else ():
            if part in said and not _is_number(said[part]):
                raise TrackError(
                    f"{part}={said[part][:40]!r} is no number of degrees",
                    where=f"{source}, line {parser.CurrentLineNumber}",
                    remedy="Export the walk again as GPX, or write it in decimal degrees.",
                )

    parser.StartDoctypeDeclHandler = refuse_doctype
    parser.StartElementHandler = check_element
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
            found.append(
                Waypoint(
                    _printable(point.name),
                    "\n".join(_printable(line) for line in said.splitlines()),
                    point.latitude,
                    point.longitude,
                    _seconds(point.time),
                )
            )
    return found


def _recordings(gpx: GPX) -> Iterator[tuple[str | None, _Points]]:
    """Name and points of every track and route."""
    for track in gpx.tracks:
        yield track.name, [point for segment in track.segments for point in segment.points]
    yield from ((route.name, route.points) for route in gpx.routes)


def _tracks(gpx: GPX) -> list[Recorded]:
    recorded = [_recorded(name, points) for name, points in _recordings(gpx)]
    return [one for one in recorded if len(one.lat_deg) > 1]


def _left_out(gpx: GPX) -> Iterator[str]:
    """What has no place on the Earth: a cone must not be missing without a word."""
    for point in gpx.waypoints:
        if not _on_earth(point.latitude, point.longitude):
            at = f"latitude {point.latitude:g}, longitude {point.longitude:g}"
            yield f"waypoint {_printable(point.name)!r}: {at} is no place on the Earth"
    for name, points in _recordings(gpx):
        lost = sum(not _on_earth(p.latitude, p.longitude) for p in points)
        if lost:
            yield f"{counted(lost, 'point')} of track {_printable(name)!r} with no place on the Earth"


def _seconds(time: datetime | None) -> float:
    """Seconds since 1970; NaN without a time. A time without a zone is one of UTC, as GPX has them."""
    if time is None:
        return math.nan
    return (time if time.tzinfo else time.replace(tzinfo=UTC)).timestamp()


def _recorded(name: str | None, points: _Points) -> Recorded:
    rows = np.array(
        [
            (
                p.latitude,
                p.longitude,
                math.nan if p.elevation is None else p.elevation,
                _seconds(p.time),
            )
            for p in points
            if _on_earth(p.latitude, p.longitude)
        ]
    ).reshape(-1, 4)
    return Recorded(_printable(name), *rows.T)


def _printable(text: str | None) -> str:
    """Text on one line without characters that no terminal or page could show."""
    return "".join(c for c in " ".join((text or "").split()) if c.isprintable())


def _is_number(text: str) -> bool:
    try:
        float(text)
    except ValueError:
        return False
    return True


def _on_earth(lat: float, lon: float) -> bool:
    return abs(lat) <= 90.0 and abs(lon) <= 180.0
