"""The ground under a corner, seen from above: road, seams, lanes, marker line, hazards."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from lapkit.arrays import FloatArray
from lapkit.compare.standard import standards
from lapkit.course.course import Corner, Course, CourseMarker
from lapkit.reporter.course_words import is_tilted
from lapkit.reporter.display import plain
from lapkit.reporter.figures import style
from lapkit.reporter.figures.canvas import Canvas
from lapkit.reporter.figures.view import STEP_M, Label, View
from lapkit.units import Units

BELOW = 46.0
"""Room under a drawing for lane numbers and the scale bar, points."""

_LONGEST_LABEL = 18  # characters of a cone's name
_NEAR_M = 60.0  # from the middle of the road: farther hazards are another corner's
_HAZARD_OFF = 26.0  # points from a cone's middle
_LANE_APART = 15.0  # points, so that lanes' numbers do not touch
_SCALE_UP = 6.0  # points from the foot of the paper
_BARS = {"m": (5, 10, 20, 50, 100, 200, 500), "ft": (20, 50, 100, 200, 500, 1000)}


def stations(span_m: tuple[float, float]) -> FloatArray:
    """Stations to draw between two ends, metres, ``(n,)``."""
    return np.linspace(*span_m, max(int((span_m[1] - span_m[0]) / STEP_M), 2) + 1)


def beside(
    course: Course, station_m: FloatArray, offset_m: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Metres east and north of points at offsets from the reference, metres, ``(n,)`` each."""
    return course.reference.offset_points(course.reference.wrap(station_m), offset_m)


def edge_points(course: Course, station_m: FloatArray) -> list[tuple[FloatArray, FloatArray]]:
    """Points of the left and the right edge at stations ``(n,)``, metres; of the reference on a course without edges."""
    edges = course.edges_at(station_m)
    if edges is None:
        return [beside(course, station_m, np.zeros_like(station_m))]
    return [beside(course, station_m, edge) for edge in edges]


def cone_labels(course: Course, view: View, markers: Sequence[CourseMarker]) -> list[Label]:
    """The names of cones, on the side away from the road."""
    labels = []
    for marker in markers:
        edges = course.edges_at(np.array([marker.station_m]))
        middle = float(0.5 * (edges[0][0] + edges[1][0])) if edges else 0.0
        out = 1.0 if marker.offset_m >= middle else -1.0
        heading = float(course.reference.heading_at(marker.station_m))
        side = view.turned(-out * np.sin(heading), out * np.cos(heading))
        labels.append(Label(marker.x_m, marker.y_m, *side, plain(marker.name, _LONGEST_LABEL)))
    return labels


def draw_labels(paper: Canvas, view: View, labels: Sequence[Label], lifts: Sequence[float]) -> None:
    """Words beside their places, moved up where they would lie on each other."""
    for label, lift in zip(labels, lifts, strict=True):
        x, y = view.paper(label.x_m, label.y_m) + label.off * np.array([label.side_x, label.side_y])
        paper.text(x, y + lift, label.text, ha=label.align)


def room_for_way_in(course: Course, view: View, station_m: float) -> Label:
    """What :func:`draw_way_in` takes up beside the road, as if it were a word."""
    edges = course.edges_at(np.array([station_m]))
    heading = float(course.reference.heading_at(station_m))
    x, y = beside(course, np.array([station_m]), edges[0] if edges else np.zeros(1))
    return Label(float(x[0]), float(y[0]), *view.turned(-np.sin(heading), np.cos(heading)), "·")


def draw_ground(
    paper: Canvas, view: View, course: Course, corner: Corner, span_m: tuple[float, float]
) -> None:
    """Road, seams and marker line between two stations."""
    station = stations(span_m)
    edges = [view.paper(*points) for points in edge_points(course, station)]
    if len(edges) == 2:
        paper.areas([np.concatenate([edges[0], edges[1][::-1]])], color=style.ROAD, z=0)
        paper.lines(edges, width=style.EDGE_WIDTH, z=2)
    seams = []
    for seam in corner.seams:
        where = station[(station >= seam.station_m[0]) & (station <= seam.station_m[-1])]
        if len(where) > 1:
            seams.append(view.paper(*beside(course, where, seam.offset_at(where))))
    paper.lines(seams, width=style.SEAM_WIDTH, dash=style.SEAM_DASH, z=2.5)
    line = standards(course)[corner.name].line
    if line is not None:
        offset = line.offset_at(station)
        there = np.isfinite(offset)
        path = view.paper(*beside(course, station[there], offset[there]))
        paper.lines([path], width=style.LINE_WIDTH, dash=style.LINE_DASH, z=4)


def draw_way_in(
    paper: Canvas, view: View, course: Course, corner: Corner, station_m: float
) -> None:
    """An arrow where the rider comes in, and the lanes' numbers, from the inside of the corner out."""
    at = np.array([station_m])
    heading = float(course.reference.heading_at(station_m))
    ahead = np.array(view.turned(np.cos(heading), np.sin(heading)))
    left = np.array([-ahead[1], ahead[0]])
    edges = course.edges_at(at)
    middle = 0.5 * (edges[0] + edges[1]) if edges else np.zeros(1)
    centre = view.paper(*beside(course, at, middle))[0]
    lanes = len(corner.seams) + 1 if corner.seams and edges else 0
    half = 0.5 * float((edges[0] - edges[1])[0]) * view.scale if edges else 0.0
    aside = centre + left * max(half, 0.5 * _LANE_APART * lanes) + left * 10.0
    paper.arrow(aside - 22.0 * ahead, aside - 2.0 * ahead)
    for lane in range(lanes):
        # The inside of the corner is on the side that it turns to.
        across = corner.turn.sign * (0.5 * (lanes - 1) - lane) * _LANE_APART
        x, y = centre - 13.0 * ahead + across * left
        paper.text(x, y, str(lane + 1), ha="center")


def lane_limits(
    course: Course, corner: Corner, station_m: FloatArray
) -> list[tuple[FloatArray, FloatArray]]:
    """Inner and outer offset of each lane at stations, metres, ``(n,)``, from the inside of the corner outward."""
    edges = course.edges_at(station_m)
    if edges is None or not corner.seams:
        return []
    inner, outer = edges if corner.turn.sign > 0 else edges[::-1]
    return list(pairwise([inner, *(s.offset_at(station_m) for s in corner.seams), outer]))


def draw_scale(paper: Canvas, view: View, units: Units, x: float) -> None:
    """A bar of round length at the foot of the paper, from ``x`` points on."""
    y = _SCALE_UP
    lengths = [n for n in _BARS[units.length] if n * units.length_m * view.scale <= 110.0]
    length = lengths[-1] if lengths else _BARS[units.length][0]
    end = x + length * units.length_m * view.scale
    ticks = [np.array([[at, y], [at, y + 6.0]]) for at in (x, end)]
    paper.lines([np.array([[x, y], [end, y]]), *ticks], width=1.6)
    paper.text(end + 6.0, y + 4.0, f"{length} {units.length}")


def hazard_places(
    course: Course, corner: Corner, span_m: tuple[float, float]
) -> list[tuple[float, float]]:
    """Where the corner's hazards between two stations lie: a point, or the middle of a line or area."""
    places = []
    for hazard in course.hazards:
        if hazard.corner != corner.name:
            continue
        lon_lat = np.array(
            list(_positions(hazard.geometry.get("coordinates", []))), dtype=np.float64
        )
        if len(lon_lat):
            x, y = course.plane.to_xy(lon_lat[:, 1], lon_lat[:, 0])
            place = float(np.mean(x)), float(np.mean(y))
            middle = 0.5 * (span_m[0] + span_m[1])
            station, offset = course.reference.project_near(*place, middle)
            if span_m[0] <= station <= span_m[1] and abs(offset) < _NEAR_M:
                places.append(place)
    return places


def _positions(coordinates: object) -> list[tuple[float, float]]:
    """Every longitude and latitude in GeoJSON coordinates of whatever depth."""
    if not isinstance(coordinates, list | tuple) or not coordinates:
        return []
    if isinstance(coordinates[0], int | float):
        return [(float(coordinates[0]), float(coordinates[1]))]
    return [place for part in coordinates for place in _positions(part)]


def hazard_points(
    view: View, places: Sequence[tuple[float, float]], markers: Sequence[CourseMarker]
) -> list[FloatArray]:
    """Where hazards are drawn on paper, points, ``(2,)`` each: beside a cone that they would cover."""
    points = []
    for place in places:
        x, y = place
        at = view.paper(x, y)
        for marker in markers:
            away = at - view.paper(marker.x_m, marker.y_m)
            distance = float(np.hypot(*away))
            if distance < _HAZARD_OFF:
                at = at + away / max(distance, 1e-6) * (_HAZARD_OFF - distance)
        points.append(at)
    return points


def draw_hazards(paper: Canvas, points: Sequence[FloatArray]) -> None:
    """An exclamation mark in a triangle at every hazard."""
    for x, y in points:
        triangle = np.array([[x - 12.0, y - 10.0], [x + 12.0, y - 10.0], [x, y + 12.0]])
        paper.areas([triangle], color="#ffffff", edge=style.INK, width=1.8, z=6)
        paper.text(x, y - 2.0, "!", ha="center", bold=True)


def drawn_camber_deg(course: Course, corner: Corner) -> float:
    """The camber before the apex, which :func:`draw_camber` shows; 0 where it is level, or the course has no edges."""
    camber_deg = float(corner.camber_at(_before_apex(corner))[0])
    return camber_deg if is_tilted(camber_deg) and course.edges is not None else 0.0


def _before_apex(corner: Corner) -> FloatArray:
    return np.array([0.5 * (corner.turn_in_m + corner.apexes_m[0])])


def draw_camber(paper: Canvas, view: View, course: Course, corner: Corner) -> None:
    """An arrow across the road the way water would run, where the camber is large enough to be mentioned."""
    camber, station = drawn_camber_deg(course, corner), _before_apex(corner)
    edges = course.edges_at(station)
    if not camber or edges is None:
        return
    inner, outer = edges if corner.turn.sign > 0 else edges[::-1]
    ends = [view.paper(*beside(course, station, edge))[0] for edge in (outer, inner)]
    if camber < 0.0:
        ends.reverse()
    across = ends[1] - ends[0]
    paper.arrow(ends[0] + 0.15 * across, ends[1] - 0.1 * across, width=2.0)
