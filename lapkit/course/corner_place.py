"""Corners on the stations: their cones in riding order, whatever a corner lacks estimated."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from lapkit.course.course import CourseMarker
from lapkit.course.follow import Legs, best_path, legs_near
from lapkit.course.plane import Plane
from lapkit.course.stations import StationLine
from lapkit.course.types import RIDING_ORDER, GeoCorner, GeoMarker, MarkerKind, Track, Turn
from lapkit.curvature import HELD_OVER_M
from lapkit.units import FloatArray

PASS_WITHIN_M = 1.0
"""A cone is passed within this where the track file does not say, metres (common practice)."""

_BENDS = 0.25  # of the corner's largest curvature: there the bend begins and ends
_REACH_M = 150.0  # how far a bend goes on before and beyond its cones at most (our choice)
_PER_OFFSET = 4.0  # a metre of distance from the leg counts as so many along it
_TURNS_RAD = 0.05  # no corner turns less from its first to its last cone


@dataclass(frozen=True, eq=False)
class PlacedCorner:
    """A corner's cones with unwrapped stations, and where its phases begin and end, metres.

    ``estimated`` names the phases whose cone is missing; they were taken from the curvature of the
    reference. ``ordered`` is false when the cones cannot be brought into the order turn-in, apexes,
    exit.
    """

    corner: GeoCorner
    markers: tuple[CourseMarker, ...]
    turn_in_m: float
    apexes_m: tuple[float, ...]
    exit_m: float
    estimated: tuple[str, ...]
    ordered: bool


def place_corner(
    track: Track, corner: GeoCorner, plane: Plane, reference: StationLine
) -> PlacedCorner | None:
    """A corner on the stations; None when it has no turn-in, apex or exit cone at all."""
    cones = [m for m in track.markers if m.corner == corner.name]
    if all(cone.kind is MarkerKind.SIGHT for cone in cones):
        return None
    x, y = plane.to_xy([c.lat for c in cones], [c.lon for c in cones])
    station = _stations(reference, corner, cones, np.stack([x, y], axis=-1))
    station, offset = reference.project_near(x, y, station)
    by_kind = {
        kind: sorted(s for s, c in zip(station.tolist(), cones, strict=True) if c.kind is kind)
        for kind in MarkerKind
    }
    turn_in, apexes, leaves, estimated = _phases(reference, corner, by_kind)
    shift = turn_in - float(reference.wrap(turn_in))
    camber = _camber(corner, cones, station)
    markers = [
        CourseMarker(
            name=cone.name,
            kind=cone.kind,
            side=cone.side,
            x_m=float(x[i]),
            y_m=float(y[i]),
            station_m=float(station[i] - shift),
            offset_m=float(offset[i]),
            camber_deg=float(camber[i]),
            pass_within_m=PASS_WITHIN_M if cone.pass_within_m is None else cone.pass_within_m,
        )
        for i, cone in enumerate(cones)
    ]
    return PlacedCorner(
        corner=corner,
        markers=tuple(sorted(markers, key=lambda marker: marker.station_m)),
        turn_in_m=turn_in - shift,
        apexes_m=tuple(apex - shift for apex in apexes),
        exit_m=leaves - shift,
        estimated=estimated,
        ordered=turn_in < apexes[0] and apexes[-1] < leaves,
    )


def _camber(corner: GeoCorner, cones: list[GeoMarker], station: FloatArray) -> FloatArray:
    """Camber at each cone, degrees: its own, else the corner's, else from the cones before and after that have one.

    Beyond those the road counts as flat: who notes that the exit falls away says nothing of the turn-in.
    """
    given = np.array([np.nan if c.camber_deg is None else c.camber_deg for c in cones])
    known = np.isfinite(given)
    if corner.camber_deg is not None or not np.any(known):
        return np.where(known, given, corner.camber_deg or 0.0)
    order = np.argsort(station[known])
    between = np.interp(station, station[known][order], given[known][order], left=0.0, right=0.0)
    return np.where(known, given, between)


def _stations(
    reference: StationLine, corner: GeoCorner, cones: list[GeoMarker], at: FloatArray
) -> FloatArray:
    """Unwrapped stations of a corner's cones, on the legs that make one corner of them.

    Where two legs of the course run close, the nearest leg need not be the cone's. The cones are
    taken in riding order and their legs chosen together: near to the cones, one after the other, no
    further apart along the course than on the ground, turning the right way.
    """
    legs = legs_near(reference, at)
    ridden = sorted(
        (i for i, cone in enumerate(cones) if cone.kind in RIDING_ORDER),
        key=lambda i: RIDING_ORDER.index(cones[i].kind),
    )
    station = np.empty(len(cones))
    kinds = [cones[i].kind for i in ridden]
    of_ridden = Legs(*(each[ridden] for each in legs))
    station[ridden] = _in_order(reference, corner.turn, kinds, at[ridden], of_ridden)
    first, last = station[ridden].min(), station[ridden].max()
    middle = 0.5 * (first + last)
    near = middle + reference.way(legs.station_m - middle)
    beyond = np.maximum(np.abs(near - middle) - 0.5 * (last - first), 0.0)
    nearest = np.argmin(np.where(legs.valid, legs.distance_m + beyond, np.inf), axis=1)
    sights = [i for i, cone in enumerate(cones) if cone.kind not in RIDING_ORDER]
    station[sights] = near[sights, nearest[sights]]
    return station


def _in_order(
    reference: StationLine, turn: Turn, kinds: list[MarkerKind], at: FloatArray, legs: Legs
) -> FloatArray:
    """Unwrapped stations of cones in riding order, ``(k,)``, by the best chain of their legs.

    ``kinds`` are the cones', ``at`` their places, metres, ``(k, 2)``, and ``legs`` those near each of them.
    """
    near = legs.station_m
    cost = np.where(legs.valid, _PER_OFFSET * legs.distance_m, np.inf)
    ahead = reference.way(near[1:, None, :] - near[:-1, :, None])
    ground = np.hypot(*np.diff(at, axis=0).T)[:, None, None]
    move = np.maximum(np.abs(ahead) - ground, 0.0)
    later = np.array([a is not b for a, b in pairwise(kinds)], dtype=bool)[:, None, None]
    move = move + np.where(later & (ahead < -1.0), _REACH_M, 0.0)
    best, chosen = np.inf, np.zeros(len(kinds))
    for leg in np.flatnonzero(legs.valid[0]):
        only = cost.copy()
        only[0, np.arange(len(only[0])) != leg] = np.inf
        picked, total = best_path(only, move)
        station = np.take_along_axis(near, picked[:, None], axis=1)[:, 0]
        station = station[0] + np.concatenate([[0.0], np.cumsum(reference.way(np.diff(station)))])
        begin, end = reference.heading_at([station.min(), station.max()])
        if len(kinds) > 1 and (end - begin) * turn.sign < _TURNS_RAD:
            total += _REACH_M
        if total < best:
            best, chosen = total, station
    return chosen


def _phases(
    reference: StationLine, corner: GeoCorner, by_kind: dict[MarkerKind, list[float]]
) -> tuple[float, list[float], float, tuple[str, ...]]:
    """Turn-in, apexes and exit, metres, and which of them had to be taken from the curvature."""
    turn_ins, apexes = by_kind[MarkerKind.TURN_IN], by_kind[MarkerKind.APEX]
    exits = by_kind[MarkerKind.EXIT]
    estimated = []
    known = [*turn_ins, *apexes, *exits]
    anchor = (apexes or known)[0]
    grid = np.arange(min(known) - _REACH_M, max(known) + _REACH_M, 1.0)
    held = _held(reference, grid) * corner.turn.sign
    peak = float(np.max(held[(grid >= min(known) - 1.0) & (grid <= max(known) + 1.0)], initial=0.0))
    bends = held > _BENDS * max(peak, 1e-3)
    if not turn_ins:
        estimated.append("turn-in")
        straight = grid[(grid < anchor) & ~bends]
        turn_ins = [float(straight[-1]) if len(straight) else anchor - _REACH_M]
    if not exits:
        estimated.append("exit")
        straight = grid[(grid > known[-1]) & ~bends]
        exits = [float(straight[0]) if len(straight) else known[-1] + _REACH_M]
    turn_in, leaves = turn_ins[0], exits[-1]
    if not apexes:
        estimated.append("apex")
        inside = np.flatnonzero((grid > turn_in) & (grid < leaves))
        middle = 0.5 * (turn_in + leaves)
        apexes = [float(grid[inside[np.argmax(held[inside])]]) if len(inside) else middle]
    return turn_in, apexes, leaves, tuple(estimated)


def _held(reference: StationLine, station_m: FloatArray) -> FloatArray:
    """Curvature of the reference held over 10 m about stations, 1/m."""
    half = 0.5 * HELD_OVER_M
    turned = reference.heading_at(station_m + half) - reference.heading_at(station_m - half)
    return turned / HELD_OVER_M
