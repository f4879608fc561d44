"""From a track walk to a track: waypoints become cones, seams and hazards; recordings become lines."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from difflib import get_close_matches
from typing import Any

import numpy as np

from lapkit.arrays import read_only
from lapkit.course.in_degrees import place_in_degrees, places_in_degrees
from lapkit.course.stations import StationLine
from lapkit.course.types import (
    RIDING_ORDER,
    GeoCorner,
    GeoLine,
    GeoMarker,
    GeoPoint,
    Hazard,
    Track,
    Turn,
)
from lapkit.course.walk_average import averaged, geo_line
from lapkit.course.walk_corners import (
    Visited,
    beside,
    by_corner,
    corner_of,
    marker_of,
    side_of,
    turn_of,
)
from lapkit.course.walk_file import WalkFile
from lapkit.course.walk_lines import Pass, plain_line
from lapkit.course.walk_reference import passes_of, reference_of_walk, ridden_centre
from lapkit.course.walk_ridden import ridden_line
from lapkit.course.walk_sort import Sorted, sort_walk, title
from lapkit.course.walk_words import Named, Thing
from lapkit.errors import TrackError

HALF_START_LINE_M = 8.0
"""Half of a start line of which only one end was recorded, metres (our choice)."""

_FIELDS = {
    Thing.CENTRE: "centre",
    Thing.LEFT_EDGE: "left_edge",
    Thing.RIGHT_EDGE: "right_edge",
    Thing.COACH_LAP: "marker_line",
}


@dataclass(frozen=True, eq=False)
class Walked:
    """The track of a walk, remarks on what was made of it and assumed, and everything that was not read."""

    track: Track
    remarks: tuple[str, ...]
    unread: tuple[str, ...]


def track_of_walk(
    walk: WalkFile, centre: GeoLine | None = None, earlier: Track | None = None
) -> Walked:
    """The track that a walk describes.

    Stations run along the walked centre; else along the middle of the walked edges, along ``centre`` (a line taken
    from the riders' logs), along the coach's lap, or as in the ``earlier`` track file. That also tells which way a corner
    turns of which the walk has one cone only, as where a cone was moved.

    Raises:
        TrackError: nothing in the walk could be read, or a recording is no line.
    """
    try:
        return _track_of(walk, centre, earlier)
    except TrackError as error:
        where = error.where or walk.source
        raise TrackError(error.what, where=where, remedy=error.remedy) from None


def _track_of(walk: WalkFile, centre: GeoLine | None, earlier: Track | None) -> Walked:
    found = sort_walk(walk)
    reference = reference_of_walk(found, centre, earlier)
    turns = {corner.name: corner.turn for corner in earlier.corners} if earlier else {}
    corners, markers = _corners(found, reference, turns)
    lines = _lines(found, reference)
    if centre is not None and not passes_of(found, Thing.CENTRE):
        lines["centre"] = ridden_centre(found, reference, centre)
    track = Track(
        source=walk.source,
        sha256="",
        start_line=_start_line(found, reference),
        corners=corners,
        markers=markers,
        hold_points=_points(found, Thing.HOLD_POINT),
        base_points=_points(found, Thing.BASE_POINT),
        hazards=_hazards(found),
        members={"name": walk.name} if walk.name else {},
        **lines,
    )
    found.remarks.extend(_rest_made(track))
    found.remarks.extend(_perhaps_the_same(track))
    return Walked(track, tuple(found.remarks), (*walk.left_out, *found.unread))


def _rest_made(track: Track) -> Iterator[str]:
    """Remarks on what was made besides corners and lines."""
    if track.start_line is not None:
        yield "start line"
    for points, what in ((track.hold_points, "hold point"), (track.base_points, "base point")):
        yield from (f"{what}{f' {p.name}' if p.name else ''}" for p in points)
    for hazard in track.hazards:
        yield f"hazard{f' at {hazard.corner}' if hazard.corner else ''}: {hazard.text}"
    if track.pit_lanes:
        yield f"pit lane: {len(track.pit_lanes)} recorded"


def _perhaps_the_same(track: Track) -> Iterator[str]:
    """Remarks on corners that lack some of their cones and whose name is nearly that of another corner."""
    kinds = {
        corner.name: {m.kind for m in track.markers if m.corner == corner.name} & set(RIDING_ORDER)
        for corner in track.corners
    }
    for name, has in kinds.items():
        near = get_close_matches(name, [other for other in kinds if other != name], n=1, cutoff=0.7)
        if near and not name.isdigit() and len(has) < len(kinds[near[0]]):
            yield (
                f"corner {name} was made one of its own; if {near[0]} was meant, mend the name in the walk "
                "and run this again into a new file"
            )


def _corners(
    found: Sorted, reference: StationLine | None, turns: Mapping[str, Turn]
) -> tuple[tuple[GeoCorner, ...], tuple[GeoMarker, ...]]:
    """Corners and cones, in the order in which they are ridden; ``turns`` is which way known corners turn."""
    corners: list[GeoCorner] = []
    markers: list[GeoMarker] = []
    listed = by_corner(found.places)
    names, offsets = list(listed), {name: [None] * len(places) for name, places in listed.items()}
    if reference is not None:
        placed = {name: beside(reference, places) for name, places in listed.items()}
        names.sort(key=lambda name: float(placed[name][0][0]))
        offsets = {name: offset.tolist() for name, (_, offset) in placed.items()}
    for name in names:
        turn = turn_of(reference, listed[name], turns.get(name))
        if turn is None:
            found.unread.append(
                f'corner {name}: which way it turns; write "left-hander" or "right-hander" into '
                "the description of one of its cones"
            )
            continue
        corners.append(corner_of(name, turn, listed[name]))
        cones = []
        for place, offset_m in zip(listed[name], offsets[name], strict=True):
            if place.named.thing is Thing.MARKER:
                cones.append(place)
                markers.append(marker_of(found.plane, place, side_of(place, turn, offset_m)))
        found.remarks.append(f"corner {name}, {turn}: {', '.join(map(_cone, cones)) or 'no cones'}")
    return tuple(corners), tuple(markers)


def _cone(place: Visited) -> str:
    """A cone in remarks."""
    spot = place.spot
    if spot.spread_m is None:
        return place.named.name
    return f"{place.named.name} ({spot.visits} visits, spread {spot.spread_m:.1f} m)"


def _lines(found: Sorted, reference: StationLine | None) -> dict[str, Any]:
    """The lines of the track, by the field of :class:`Track` that holds them."""
    made: dict[str, Any] = {"seams": (), "pit_lanes": ()}
    for named, passes in found.passes.items():
        if named.thing is Thing.PIT_LANE:
            made["pit_lanes"] += tuple(_pit_lane(found, walked) for walked in passes)
        elif named.thing is Thing.SEAM:
            made["seams"] += (_line(found, reference, named, passes),)
        elif named.thing is not Thing.HAZARD:
            made[_FIELDS[named.thing]] = _line(found, reference, named, passes)
    return made


def _line(
    found: Sorted, reference: StationLine | None, named: Named, passes: list[Pass]
) -> GeoLine:
    """One line of the track, averaged over its passes along the reference."""
    if reference is None:
        return plain_line(found.plane, passes[0], name=named.name, corner=named.corner)
    line = averaged(reference, passes)
    remark = f"{title(named)}: {len(passes)} recorded"
    if np.isfinite(line.spread_m):
        remark += f", {line.spread_m:.1f} m apart"
    if line.filled_m > 0.0 and not all(walked.drawn for walked in passes):
        remark += f"; {line.filled_m:.0f} m between its parts were filled in"
    found.remarks.append(remark)
    if named.thing is Thing.COACH_LAP:
        return ridden_line(found.plane, reference, passes, line)
    return geo_line(found.plane, reference, line, name=named.name, corner=named.corner)


def _pit_lane(found: Sorted, walked: Pass) -> dict[str, Any]:
    lon_lat = places_in_degrees(found.plane, walked.x_m, walked.y_m).tolist()
    return {
        "type": "Feature",
        "properties": {"role": "pit_lane"},
        "geometry": {"type": "LineString", "coordinates": lon_lat},
    }


def _start_line(found: Sorted, reference: StationLine | None) -> GeoLine | None:
    """The start line from its two ends, or from one of them and the direction of the reference."""
    ends = {p.named.thing: p.spot for p in found.places}
    left, right = ends.get(Thing.START_LEFT), ends.get(Thing.START_RIGHT)
    points = [(spot.x_m, spot.y_m) for spot in (left, right) if spot is not None]
    if len(points) == 1 and reference is not None:
        station, _ = reference.project(*points[0])
        sign = 1.0 if left is None else -1.0
        x, y = reference.offset_points(station, sign * HALF_START_LINE_M)
        points.insert(0 if left is None else 1, (float(x), float(y)))
        found.remarks.append("only one end of the start line was recorded; the other was drawn")
    if len(points) < 2:
        return None
    return GeoLine(read_only([place_in_degrees(found.plane, *point) for point in points]))


def _points(found: Sorted, thing: Thing) -> tuple[GeoPoint, ...]:
    return tuple(
        GeoPoint(
            *place_in_degrees(found.plane, place.spot.x_m, place.spot.y_m),
            name=place.named.name,
            properties=place.properties,
        )
        for place in found.places
        if place.named.thing is thing
    )


def _hazards(found: Sorted) -> tuple[Hazard, ...]:
    """Hazards from waypoints and from recorded tracks."""
    made = []
    for place in found.places:
        if place.named.thing is Thing.HAZARD:
            at = place_in_degrees(found.plane, place.spot.x_m, place.spot.y_m)
            made.append((place.named, {"type": "Point", "coordinates": list(at)}))
    for named, passes in found.passes.items():
        if named.thing is Thing.HAZARD:
            drawn = places_in_degrees(found.plane, passes[0].x_m, passes[0].y_m).tolist()
            made.append((named, {"type": "LineString", "coordinates": drawn}))
    return tuple(Hazard(named.text, geometry, named.corner) for named, geometry in made)
