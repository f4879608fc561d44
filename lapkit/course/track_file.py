"""Reading and writing track files: GeoJSON (RFC 7946) with a role on every feature."""

from __future__ import annotations

import hashlib
import json
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from typing import Any, NamedTuple

from lapkit.course.feature import Feature, features
from lapkit.course.track_writer import document_of
from lapkit.course.types import (
    LINE_ROLES,
    GeoCorner,
    GeoLine,
    GeoMarker,
    GeoPoint,
    Hazard,
    MarkerKind,
    Track,
    Turn,
)
from lapkit.errors import TrackError
from lapkit.whole_file import GZIP, read_whole, write_whole

LARGEST_FILE_BYTES = 32 * 1024 * 1024
"""A track file above this size is refused: one of a circuit drawn every 10 cm is a tenth of it."""

MOST_FEATURES = 2_000
"""A file with more corners, cones, seams and so on is refused: fifty corners of twenty cones are half as many."""


def read_track(path: str | Path) -> Track:
    """Read a track file.

    Raises:
        TrackError: the file cannot be read or breaks a rule; the error names the file and the feature.
    """
    source = str(path)
    data = read_whole(path, "track file", LARGEST_FILE_BYTES)
    document = _parsed(data, source)
    return _track(document, source, hashlib.sha256(data).hexdigest())


def write_track(track: Track, path: str | Path) -> None:
    """Write a track file, whole or not at all. Whatever lapkit does not know is written as it was read.

    Raises:
        OutputError: the file cannot be written.
    """
    write_whole(Path(path), track_bytes(track), "track file")


def track_bytes(track: Track) -> bytes:
    """A track file's bytes, UTF-8 JSON with a line for each feature, so that versions can be compared."""
    document = document_of(track)
    listed = ",\n".join(json.dumps(f, ensure_ascii=False) for f in document["features"])
    members = {name: value for name, value in document.items() if name != "features"}
    opening = json.dumps(members, ensure_ascii=False)[:-1]
    text = f'{opening}, "features": [\n{listed}\n]}}\n'
    # A lone surrogate cannot be written in UTF-8; its escape is what JSON itself would write.
    return text.encode("utf-8", errors="backslashreplace")


def _parsed(data: bytes, source: str) -> Any:
    _refuse_log(data, source)
    try:
        return json.loads(data.decode("utf-8-sig"), parse_constant=_no_constant)
    except UnicodeDecodeError as error:
        raise TrackError(
            f"byte {error.start} is not UTF-8 text",
            where=source,
            remedy="Save the file as UTF-8; a track file is GeoJSON.",
        ) from error
    except json.JSONDecodeError as error:
        raise TrackError(
            f"this is not JSON ({error.msg}, column {error.colno})",
            where=f"{source}, line {error.lineno}",
            remedy="Correct the file there, or export it again.",
        ) from error
    except RecursionError:
        raise TrackError(
            "its brackets are nested too deeply", where=source, remedy="This is no track file."
        ) from None
    except ValueError as error:
        raise TrackError(
            f"it holds a number that cannot be used ({error})",
            where=source,
            remedy="Write plain decimal numbers.",
        ) from error


def _refuse_log(data: bytes, source: str) -> None:
    """Refuse a file that begins like a rider's log: log and track file may have been swapped."""
    first = data.lstrip(b"\xef\xbb\xbf \r\n\t")[:4000].split(b"\n")[0]
    if first.startswith((GZIP, b"<", b"$")) or (first[:1] not in b"{[" and b"," in first):
        raise TrackError(
            "a track file (GeoJSON) is wanted here; this looks like a log",
            where=source,
            remedy="Give the track file here, and logs where logs are asked for.",
        )


def _no_constant(word: str) -> Any:
    raise ValueError(f"{word} is not allowed in JSON")


def _track(document: Any, source: str, sha256: str) -> Track:
    """The track of a document: its features sorted by role."""
    lines: dict[str, Any] = {}
    centre_width_m = None
    listed: dict[str, list[Any]] = {kind.field: [] for kind in _LISTED.values()}
    unknown = []
    for feature in features(document, source):
        role = feature.role
        if role in lines:
            feature.refuse(f"there is a second {role}", "Keep one of them.")
        if role == "centre":
            lines[role] = feature.line("width_m")
            centre_width_m = feature.quantity("width_m", above=0.0)
        elif role in LINE_ROLES:
            lines[role] = feature.line()
        elif role in _LISTED:
            kind = _LISTED[role]
            listed[kind.field].append(kind.read(feature))
        else:
            unknown.append(feature.raw)
    _check_number(sum(map(len, listed.values())), source)
    _check_start(lines.get("start_line"), source)
    by_field: dict[str, Any] = {field: tuple(items) for field, items in listed.items()}
    track = Track(
        source=source,
        sha256=sha256,
        centre_width_m=centre_width_m,
        unknown=tuple(unknown),
        members={k: v for k, v in document.items() if k not in ("type", "features")},
        **lines,
        **by_field,
    )
    _check_names(track)
    return track


def _check_number(count: int, source: str) -> None:
    if count > MOST_FEATURES:
        raise TrackError(
            f"it has {count} corners, cones, seams and the like",
            where=source,
            remedy=f"A course has no more than {MOST_FEATURES}; leave the others out.",
        )


def _check_start(line: GeoLine | None, source: str) -> None:
    if line is None:
        return
    what = ""
    if len(line.lon_lat) != 2:
        what = f"the start line has {len(line.lon_lat)} points"
    elif (line.lon_lat[0] == line.lon_lat[1]).all():
        what = "the start line begins and ends at one point"
    if what:
        raise TrackError(
            what, where=source, remedy="Give it two points: its left and its right end."
        )


def _check_names(track: Track) -> None:
    """Refuse features that belong to a corner which does not exist, and names that are not unique."""
    corners = [corner.name for corner in track.corners]
    _refuse_repeats(corners, "corner", track.source)
    markers: dict[str, list[str]] = {}
    for marker in track.markers:
        markers.setdefault(marker.corner, []).append(marker.name)
    for name, listed in markers.items():
        _refuse_repeats(listed, "marker", f"{track.source}, corner {name!r}")
    belonging = [(f"marker {m.name!r}", m.corner) for m in track.markers]
    belonging += [(f"seam {s.name!r}", s.corner) for s in track.seams if s.corner]
    belonging += [(f"hazard {h.text[:40]!r}", h.corner) for h in track.hazards if h.corner]
    known = set(corners)
    for what, corner in belonging:
        if corner not in known:
            raise TrackError(
                f"{what} belongs to corner {corner!r}, which the file does not have",
                where=track.source,
                remedy=f"It has corners: {', '.join(corners) or 'none'}. Add it, or correct this.",
            )


def _refuse_repeats(names: list[str], what: str, where: str) -> None:
    for name, count in Counter(names).items():
        if count > 1:
            raise TrackError(
                f"there are {count} {what}s named {name!r}",
                where=where,
                remedy="Give each its own name.",
            )


def _corner(feature: Feature) -> GeoCorner:
    lane = feature.quantity("target_lane", above=0.0)
    if lane is not None and lane != int(lane):
        feature.refuse(
            f'property "target_lane" is {lane:g}', "Lanes count 1, 2, 3 from the inside."
        )
    return GeoCorner(
        name=feature.text("name", required=True),
        turn=feature.choice("turn", Turn),
        camber_deg=feature.quantity("camber_deg"),
        target_lane=None if lane is None else int(lane),
        cues=feature.texts("cues"),
        properties=feature.others("name", "turn", "camber_deg", "target_lane", "cues"),
        members=feature.members,
    )


def _marker(feature: Feature) -> GeoMarker:
    lon, lat, height = feature.point()
    kind = feature.choice("kind", MarkerKind)
    return GeoMarker(
        corner=feature.text("corner", required=True),
        name=feature.text("name") or kind.value.replace("_", " "),
        kind=kind,
        side=feature.choice("side", Turn),
        lon=lon,
        lat=lat,
        camber_deg=feature.quantity("camber_deg"),
        pass_within_m=feature.quantity("pass_within_m", above=0.0),
        height_m=height,
        properties=feature.others("corner", "name", "kind", "side", "camber_deg", "pass_within_m"),
        members=feature.members,
    )


def _point(feature: Feature) -> GeoPoint:
    lon, lat, height = feature.point()
    return GeoPoint(lon, lat, feature.text("name"), height, feature.others("name"), feature.members)


def _hazard(feature: Feature) -> Hazard:
    return Hazard(
        text=feature.text("text", required=True),
        geometry=feature.shape("Point", "LineString", "Polygon"),
        corner=feature.text("corner"),
        properties=feature.others("text", "corner"),
        members=feature.members,
    )


def _pit_lane(feature: Feature) -> dict[str, Any]:
    feature.shape("LineString", "Polygon")
    return feature.raw


class _Listed(NamedTuple):
    """A role that a track file may have many features of: the field of :class:`Track` for them, and their reader."""

    field: str
    read: Callable[[Feature], Any]


_LISTED = {
    "corner": _Listed("corners", _corner),
    "marker": _Listed("markers", _marker),
    "seam": _Listed("seams", Feature.line),
    "hold_point": _Listed("hold_points", _point),
    "base_point": _Listed("base_points", _point),
    "hazard": _Listed("hazards", _hazard),
    "pit_lane": _Listed("pit_lanes", _pit_lane),
}

ROLES = (*LINE_ROLES, *_LISTED)
"""Every role that is used; features of other roles are kept as they are."""
