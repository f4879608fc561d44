"""Corners placed along the stations: their cones in riding order, and what a corner lacks estimated."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import NamedTuple

import numpy as np

from lapkit.arrays import FloatArray
from lapkit.course.course import CourseMarker
from lapkit.course.follow import Legs, best_path, legs_near
from lapkit.course.plane import Plane
from lapkit.course.stations import StationLine
from lapkit.course.types import RIDING_ORDER, GeoCorner, GeoMarker, MarkerKind, Track, Turn
from lapkit.curvature import HELD_OVER_M

PASS_WITHIN_M = 1.0
"""Distance within which a cone is passed when the track file gives none, metres (common practice)."""

_BENDS = 0.25  # share of the corner's largest curvature, at which the bend begins and ends
_REACH_M = 150.0  # a bend goes on no further before and beyond its cones (our choice)
_PER_OFFSET = 4.0  # one metre away from a leg counts as much as this many along it
_TURNS_RAD = 0.05  # every corner turns more from its first to its last cone


@dataclass(frozen=True, eq=False)
class PlacedCorner:
    """A corner's cones with unwrapped stations, and the stations of its turn-in, apexes and exit, metres.

    ``estimated`` names those that have no cone and were taken from the curvature of the reference. ``ordered`` is
    false when the cones cannot be brought into the order turn-in, apexes, exit.
    """

    corner: GeoCorner
    markers: tuple[CourseMarker, ...]
    turn_in_m: float
    apexes_m: tuple[float, ...]
    exit_m: float
    estimated: tuple[str, ...]
    ordered: bool


class _Phases(NamedTuple):
    """Stations of turn-in, apexes and exit, metres, and the names of those that have no cone."""

    turn_in_m: float
    apexes_m: list[float]
    exit_m: float
    estimated: tuple[str, ...]


def place_corner(
    track: Track, corner: GeoCorner, plane: Plane, reference: StationLine
) -> PlacedCorner | None:
    """A corner placed along the stations; None when it has no turn-in, apex or exit cone at all."""
    cones = [m for m in track.markers if m.corner == corner.name]
    if all(cone.kind is MarkerKind.SIGHT for cone in cones):
        return None
    x, y = plane.to_xy([c.lat for c in cones], [c.lon for c in cones])
    station = _stations(reference, corner, cones, np.stack([x, y], axis=-1))
    station, offset = reference.project_near(x, y, station)
    phases = _phases(reference, corner, cones, station)
    # By whole laps, so that the turn-in lies in the first.
    shift = phases.turn_in_m - float(reference.wrap(phases.turn_in_m))
    camber = _camber(corner, cones, station)
    measured = np.stack([x, y, station - shift, offset, camber], axis=-1).tolist()
    markers = [_marker(cone, *row) for cone, row in zip(cones, measured, strict=True)]
    return PlacedCorner(
        corner=corner,
        markers=tuple(sorted(markers, key=lambda marker: marker.station_m)),
        turn_in_m=phases.turn_in_m - shift,
        apexes_m=tuple(apex - shift for apex in phases.apexes_m),
        exit_m=phases.exit_m - shift,
        estimated=phases.estimated,
        ordered=phases.turn_in_m < phases.apexes_m[0] and phases.apexes_m[-1] < phases.exit_m,
    )


def _marker(
    cone: GeoMarker, x_m: float, y_m: float, station_m: float, offset_m: float, camber_deg: float
) -> CourseMarker:
    """The cone on the plane."""
    return CourseMarker(
        name=cone.name,
        kind=cone.kind,
        side=cone.side,
        x_m=x_m,
        y_m=y_m,
        station_m=station_m,
        offset_m=offset_m,
        camber_deg=camber_deg,
        pass_within_m=PASS_WITHIN_M if cone.pass_within_m is None else cone.pass_within_m,
    )


def _camber(corner: GeoCorner, cones: list[GeoMarker], station: FloatArray) -> FloatArray:
    """Camber at each cone, degrees: its own, else the corner's, else interpolated between the cones that have one.

    Beyond those cones the road counts as flat: a note that the exit falls away says nothing of the turn-in.
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

    Where two legs of the course run close together, a cone need not belong to the nearest. So the legs of all cones
    are chosen together, in riding order: near the cones, one after the other, no further apart along the course than
    on the ground, and turning the right way.
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
    """Unwrapped stations of cones in riding order, ``(k,)``, from the best chain of their legs.

    ``kinds`` are the kinds of the cones, ``at`` their places, metres, ``(k, 2)``, and ``legs`` the legs near each.
    """
    near = legs.station_m
    cost = np.where(legs.valid, _PER_OFFSET * legs.distance_m, np.inf)
    ahead = reference.way(near[1:, None, :] - near[:-1, :, None])
    ground = np.hypot(*np.diff(at, axis=0).T)[:, None, None]
    move = np.maximum(np.abs(ahead) - ground, 0.0)
    # Of one kind any cone may come first.
    other_kind = np.array([a is not b for a, b in pairwise(kinds)], dtype=bool)[:, None, None]
    move = move + np.where(other_kind & (ahead < -1.0), _REACH_M, 0.0)
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
    reference: StationLine, corner: GeoCorner, cones: list[GeoMarker], station: FloatArray
) -> _Phases:
    """Turn-in, apexes and exit of a corner by its cones, else by the curvature of the reference."""
    by_kind: dict[MarkerKind, list[float]] = {kind: [] for kind in MarkerKind}
    for cone, at in zip(cones, station.tolist(), strict=True):
        by_kind[cone.kind].append(at)
    turn_ins, apexes, exits = (sorted(by_kind[kind]) for kind in RIDING_ORDER)
    estimated = []
    known = [*turn_ins, *apexes, *exits]
    grid = np.arange(min(known) - _REACH_M, max(known) + _REACH_M, 1.0)
    held = _held(reference, grid) * corner.turn.sign
    # The bend lies between the cones, ahead of a lone turn-in and behind a lone exit.
    begin = min(known) - (0.0 if turn_ins or apexes else _REACH_M)
    end = max(known) + (0.0 if apexes or exits else _REACH_M)
    near = (grid >= begin - 1.0) & (grid <= end + 1.0)
    bends = held > _BENDS * max(float(np.max(held[near], initial=0.0)), 1e-3)
    bent = grid[bends & near].tolist() or known
    in_bend = apexes or (bent[:1] if turn_ins else bent[-1:])
    if not turn_ins:
        estimated.append("turn-in")
        straight = grid[(grid < in_bend[0]) & ~bends]
        turn_ins = [float(straight[-1]) if len(straight) else in_bend[0] - _REACH_M]
    if not exits:
        estimated.append("exit")
        straight = grid[(grid > in_bend[-1]) & ~bends]
        exits = [float(straight[0]) if len(straight) else in_bend[-1] + _REACH_M]
    turn_in, leave = turn_ins[0], exits[-1]
    if not apexes:
        estimated.append("apex")
        inside = np.flatnonzero((grid > turn_in) & (grid < leave))
        middle = 0.5 * (turn_in + leave)
        apexes = [float(grid[inside[np.argmax(held[inside])]]) if len(inside) else middle]
    return _Phases(turn_in, apexes, leave, tuple(estimated))


def _held(reference: StationLine, station_m: FloatArray) -> FloatArray:
    """Curvature of the reference held over 10 m about stations, 1/m."""
    half = 0.5 * HELD_OVER_M
    turned = reference.heading_at(station_m + half) - reference.heading_at(station_m - half)
    return turned / HELD_OVER_M
