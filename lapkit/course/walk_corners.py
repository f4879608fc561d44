"""Corners and cones of a walk: which way a corner turns, and where a cone is passed."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy.spatial import cKDTree

from lapkit.arrays import FloatArray
from lapkit.course.in_degrees import place_in_degrees
from lapkit.course.plane import Plane
from lapkit.course.stations import StationLine
from lapkit.course.types import RIDING_ORDER, GeoCorner, GeoMarker, MarkerKind, Turn
from lapkit.course.walk_description import Described
from lapkit.course.walk_lines import Pass
from lapkit.course.walk_spots import Spot
from lapkit.course.walk_words import Named, Thing
from lapkit.curvature import path_length_m

CLEAR_M = 1.5
"""The place of a cone this near to the centre does not show on which side to pass it, metres."""

_ON_PATH_M = 30.0  # further from the way from cone to cone, as a sight may be, a place stands beside the nearest leg
_BESIDE_M = 20.0  # each way along the course from a lone cone, to see which way it turns


@dataclass(frozen=True)
class Visited:
    """A named place, averaged over its visits, and everything said about it."""

    named: Named
    spot: Spot
    said: Described

    @property
    def properties(self) -> dict[str, Any]:
        """The number of visits, their spread and the notes, as properties in the track file."""
        kept: dict[str, Any] = {"visits": self.spot.visits}
        if self.spot.spread_m is not None:
            kept["spread_m"] = round(self.spot.spread_m, 2)
        if self.said.notes:
            kept["note"] = "; ".join(self.said.notes)
        return kept


def by_corner(places: Iterable[Visited]) -> dict[str, list[Visited]]:
    """The cones and descriptions of every corner, its cones in riding order as far as their kinds show it."""
    corners: dict[str, list[Visited]] = {}
    for place in places:
        if place.named.thing in (Thing.MARKER, Thing.CORNER):
            corners.setdefault(place.named.corner, []).append(place)
    for listed in corners.values():
        listed.sort(key=_rank)
    return corners


def _rank(place: Visited) -> tuple[int, str]:
    kind = place.named.kind
    number = RIDING_ORDER.index(kind) if kind in RIDING_ORDER else len(RIDING_ORDER)
    return number, place.named.name


def _ridden(listed: Sequence[Visited]) -> FloatArray:
    """Places of the cones that have a riding order, metres, ``(n, 2)``."""
    spots = [p.spot for p in listed if p.named.kind in RIDING_ORDER]
    return np.array([(s.x_m, s.y_m) for s in spots]).reshape(-1, 2)


def runs_against(
    reference: StationLine,
    corners: dict[str, list[Visited]],
    left: Sequence[Pass],
    right: Sequence[Pass],
) -> bool:
    """Whether along the reference most corners would be ridden from exit to turn-in.

    Without cones the edges show it: in the direction of riding the left edge lies to the left.
    """
    votes = 0.0
    for listed in corners.values():
        station = _along(reference, _ridden(listed))
        if len(station) > 1:
            votes += float(np.sign(station[-1] - station[0]))
    if votes == 0.0:
        for side, passes in ((1.0, left), (-1.0, right)):
            for walked in passes:
                _, offset = reference.follow(walked.x_m, walked.y_m)
                votes += side * float(np.sign(np.median(offset)))
    return votes < 0.0


def _along(reference: StationLine, cones: FloatArray) -> FloatArray:
    """Stations of a path from cone to cone, metres; empty when there are fewer than two cones."""
    return _path(reference, cones)[1]


def _path(reference: StationLine, cones: FloatArray) -> tuple[FloatArray, FloatArray]:
    """A path from cone to cone: its points, metres, ``(n, 2)``, and their stations; empty for fewer than two cones."""
    if len(cones) < 2:
        return np.zeros((0, 2)), np.zeros(0)
    length = path_length_m(*cones.T)
    at = np.linspace(0.0, length[-1], max(int(length[-1] / 4.0), 2))
    x, y = np.interp(at, length, cones[:, 0]), np.interp(at, length, cones[:, 1])
    station, _ = reference.follow(x, y)
    return np.stack([x, y], axis=-1), station


def beside(reference: StationLine, listed: Sequence[Visited]) -> tuple[FloatArray, FloatArray]:
    """Station and offset of the places of a corner, metres, ``(n,)`` each.

    They are those on the legs along which its cones are ridden, one after the other: where the course crosses itself or
    comes back beside itself, another leg may lie nearer.
    """
    places = np.array([(place.spot.x_m, place.spot.y_m) for place in listed]).reshape(-1, 2)
    station, offset = reference.project(places[:, 0], places[:, 1])
    path, along = _path(reference, _ridden(listed))
    if len(path):
        away, nearest = cKDTree(path).query(places)
        own = away < _ON_PATH_M
        x, y = places[own].T
        near, offset[own] = reference.project_near(x, y, along[nearest[own]])
        station[own] = reference.wrap(near)
    return station, offset


def turn_of(
    reference: StationLine | None, listed: Sequence[Visited], known: Turn | None = None
) -> Turn | None:
    """Which way a corner turns: as described, else as the course turns, else as its cones do; None when unknown.

    A lone cone may stand where the course turns the other way already, so there what is ``known`` of the corner counts.
    """
    for place in listed:
        if place.said.turn is not None:
            return place.said.turn
    cones = _ridden(listed)
    if len(cones) == 0 or (len(cones) == 1 and known is not None):
        return known
    if reference is not None:
        station = _along(reference, cones)
        if len(station) == 0:
            middle, _ = reference.project(cones[0, 0], cones[0, 1])
            station = np.array([middle - _BESIDE_M, middle + _BESIDE_M])
        begin, end = reference.heading_at([station.min(), station.max()])
        return Turn.LEFT if end > begin else Turn.RIGHT
    if len(cones) < 3:
        return known
    first, second = cones[len(cones) // 2] - cones[0], cones[-1] - cones[len(cones) // 2]
    return Turn.LEFT if first[0] * second[1] > first[1] * second[0] else Turn.RIGHT


def side_of(place: Visited, turn: Turn, offset_m: float | None) -> Turn:
    """The side of the rider on which a cone stands: as described, else by its place, else by its kind.

    Args:
        place: the cone.
        turn: which way its corner turns.
        offset_m: how far to the left of the reference it stands (:func:`beside`); None without a reference.
    """
    if place.said.side is not None:
        return place.said.side
    if offset_m is not None and abs(offset_m) >= CLEAR_M:
        return Turn.LEFT if offset_m > 0.0 else Turn.RIGHT
    inside = place.named.kind is MarkerKind.APEX
    other = Turn.RIGHT if turn is Turn.LEFT else Turn.LEFT
    return turn if inside else other


def corner_of(name: str, turn: Turn, listed: Sequence[Visited]) -> GeoCorner:
    """The corner with everything said about it at any of its cones."""
    own = [p for p in listed if p.named.thing is Thing.CORNER]
    cambers = [p.said.camber_deg for p in own if p.said.camber_deg is not None]
    lanes = [p.said.target_lane for p in listed if p.said.target_lane is not None]
    notes = [note for p in own for note in p.said.notes]
    return GeoCorner(
        name=name,
        turn=turn,
        camber_deg=cambers[-1] if cambers else None,
        target_lane=lanes[-1] if lanes else None,
        cues=tuple(dict.fromkeys(cue for p in listed for cue in p.said.cues)),
        properties={"note": "; ".join(notes)} if notes else {},
    )


def marker_of(plane: Plane, place: Visited, side: Turn) -> GeoMarker:
    """The cone in degrees."""
    lon, lat = place_in_degrees(plane, place.spot.x_m, place.spot.y_m)
    assert place.named.kind is not None
    return GeoMarker(
        corner=place.named.corner,
        name=place.named.name,
        kind=place.named.kind,
        side=side,
        lon=lon,
        lat=lat,
        camber_deg=place.said.camber_deg,
        pass_within_m=place.said.pass_within_m,
        properties=place.properties,
    )
