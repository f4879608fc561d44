"""The track file of an invented course: centre with heights, edges, cones, seams, pit lane, cues."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from scipy.interpolate import CubicSpline

from lapkit.arrays import FloatArray, read_only
from lapkit.course.plane import Plane
from lapkit.course.types import (
    GeoCorner,
    GeoLine,
    GeoMarker,
    GeoPoint,
    Hazard,
    MarkerKind,
    Track,
    Turn,
)
from lapkit.simulate.layout import (
    Bend,
    Centre,
    CornerPlan,
    Layout,
    centre_of,
    closed_loop,
    section_starts,
)
from lapkit.simulate.lines import smooth_step

_POINT_M = 5.0  # between vertices, as in a track file that was walked
_SEAM_OUT_M = (2.0, -2.0)  # inward of the centre: three lanes of four metres
_SEAM_NAMES = ("first seam", "second seam")
_SEAM_BEYOND_M = 15.0  # a seam is drawn from before turn-in to after the exit
_PASS_WITHIN_M = 1.5  # what a coach may ask of novices (our choice)
_DECIMALS = 8  # of a degree: a millimetre
_LEAVES_OVER_M = 60.0  # over which the pit lane leaves the track, and comes back


class _Ground:
    """Where a layout lies on the earth, and how high."""

    def __init__(self, layout: Layout) -> None:
        self.sections = closed_loop(layout.sections)
        self.centre: Centre = centre_of(self.sections, np.radians(90.0 - layout.heading_deg))
        self.plane = Plane(layout.lat_deg, layout.lon_deg)
        share, height = np.array(layout.heights).T
        self.height = CubicSpline(share, height, bc_type="periodic")

    def lon_lat(self, station_m: FloatArray, left_m: FloatArray | float) -> FloatArray:
        """Degrees of points to the left of stations, shape ``(n, 2)``."""
        lat, lon = self.plane.to_lat_lon(*self.centre.beside(station_m, left_m))
        return np.stack([lon, lat], axis=-1).round(_DECIMALS)

    def line(
        self,
        station_m: FloatArray,
        left_m: FloatArray | float,
        *,
        name: str = "",
        corner: str = "",
    ) -> GeoLine:
        """A line along offsets from the centre, metres, ``(n,)``."""
        lon_lat = read_only(self.lon_lat(station_m, left_m))
        return GeoLine(lon_lat, name=name, corner=corner)


def track_of(layout: Layout) -> Track:
    """The track file of a layout; the same layout gives the same file.

    Raises:
        TrackError: the layout does not close.
    """
    ground = _Ground(layout)
    count = round(ground.centre.length_m / _POINT_M)
    loop = np.linspace(0.0, ground.centre.length_m, count + 1)
    half = layout.half_width_m
    centre = GeoLine(
        read_only(ground.lon_lat(loop, 0.0)),
        read_only(np.round(ground.height(loop / loop[-1]), 3)),
    )
    plans = [
        (plan, start)
        for plan, start in zip(ground.sections, section_starts(ground.sections), strict=True)
        if isinstance(plan, CornerPlan)
    ]
    return Track(
        source=layout.name,
        sha256="",
        start_line=ground.line(np.zeros(2), np.array([half + 1.0, -half - 1.0])),
        centre=centre,
        centre_width_m=2.0 * half,
        left_edge=ground.line(loop, half),
        right_edge=ground.line(loop, -half),
        corners=tuple(_corner(plan) for plan, _ in plans),
        markers=tuple(m for plan, start in plans for m in _markers(ground, plan, start, half)),
        seams=tuple(s for plan, start in plans for s in _seams(ground, plan, start)),
        hold_points=(_hold(ground, layout),),
        hazards=tuple(_hazard(ground, p, start, half) for p, start in plans if p.hazard),
        pit_lanes=(_pit_lane(ground, layout),),
        members={"name": layout.name, "note": "An invented course; it lies in the open sea."},
    )


def _corner(plan: CornerPlan) -> GeoCorner:
    return GeoCorner(plan.name, plan.turn, camber_deg=plan.camber_deg, cues=plan.cues)


def _markers(ground: _Ground, plan: CornerPlan, start: float, half: float) -> list[GeoMarker]:
    inside = plan.turn
    outside = Turn.RIGHT if inside is Turn.LEFT else Turn.LEFT
    apexes, at = [], start
    for leg in plan.legs:
        if isinstance(leg, Bend):
            apexes.append(at + plan.apex_share * leg.length_m)
        at += leg.length_m
    names = ["apex"] if len(apexes) == 1 else [f"apex {i + 1}" for i in range(len(apexes))]
    entry = half if plan.turn_in_out_m is None else plan.turn_in_out_m
    leave = half if plan.exit_out_m is None else plan.exit_out_m
    cones = [_Cone("turn-in", MarkerKind.TURN_IN, outside, start - plan.turn_in_before_m, entry)]
    cones += [
        _Cone(name, MarkerKind.APEX, inside, s, half) for name, s in zip(names, apexes, strict=True)
    ]
    cones.append(_Cone("exit", MarkerKind.EXIT, outside, at + plan.exit_after_m, leave))
    return [_marker(ground, plan, cone) for cone in cones]


class _Cone(NamedTuple):
    """A cone on a side of the rider, so far out from the centre at a station, metres."""

    name: str
    kind: MarkerKind
    side: Turn
    station_m: float
    out_m: float


def _marker(ground: _Ground, plan: CornerPlan, cone: _Cone) -> GeoMarker:
    beside = ground.lon_lat(np.array([cone.station_m]), cone.side.sign * cone.out_m)
    lon, lat = beside[0].tolist()
    camber = plan.apex_camber_deg if cone.kind is MarkerKind.APEX else None
    return GeoMarker(plan.name, cone.name, cone.kind, cone.side, lon, lat, camber, _PASS_WITHIN_M)


def _seams(ground: _Ground, plan: CornerPlan, start: float) -> list[GeoLine]:
    """Two seams make three lanes of the corner; the first is the inner one."""
    first = start - plan.turn_in_before_m - _SEAM_BEYOND_M
    last = start + plan.length_m + plan.exit_after_m + _SEAM_BEYOND_M
    at = np.linspace(first, last, max(round((last - first) / _POINT_M), 2) + 1)
    return [
        ground.line(at, plan.turn.sign * out, name=name, corner=plan.name)
        for name, out in zip(_SEAM_NAMES, _SEAM_OUT_M, strict=True)
    ]


def _hold(ground: _Ground, layout: Layout) -> GeoPoint:
    lon, lat = ground.lon_lat(np.array([layout.hold_at_m]), layout.pit_out_m)[0].tolist()
    return GeoPoint(lon, lat, "pit exit gate")


def _hazard(ground: _Ground, plan: CornerPlan, start: float, half: float) -> Hazard:
    """Something beyond the outer edge after the corner."""
    at = np.array([start + plan.length_m + plan.exit_after_m])
    lon_lat = ground.lon_lat(at, -plan.turn.sign * (half + 6.0))[0].tolist()
    return Hazard(plan.hazard, {"type": "Point", "coordinates": lon_lat}, plan.name)


def _pit_lane(ground: _Ground, layout: Layout) -> dict[str, object]:
    """The pit lane: off the track before the start line, along it, and back on after it."""
    reach = layout.pit_reach_m
    at = np.linspace(-reach, reach, 2 * round(reach / _POINT_M) + 1)
    share = smooth_step((reach - np.abs(at)) / _LEAVES_OVER_M)
    edge = np.sign(layout.pit_out_m) * (layout.half_width_m - 1.5)
    lon_lat = ground.lon_lat(at, edge + share * (layout.pit_out_m - edge))
    return {
        "type": "Feature",
        "properties": {"role": "pit_lane"},
        "geometry": {"type": "LineString", "coordinates": lon_lat.tolist()},
    }
