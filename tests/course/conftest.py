"""A small invented course to draw, break and read: a stadium of two left-hand bends."""

import json

import gpxpy.gpx
import numpy as np
import pytest

from lapkit.course import read_track
from lapkit.course.checks import check_track
from lapkit.course.plane import Plane
from lapkit.course.walk import track_of_walk
from lapkit.course.walk_file import read_walk

ORIGIN = Plane(47.0, 8.0)
STRAIGHT_M = 300.0
RADIUS_M = 40.0
HALF_WIDTH_M = 6.0
LAP_M = 2.0 * STRAIGHT_M + 2.0 * np.pi * RADIUS_M


def stadium(station_m, offset_m=0.0):
    """Points of the stadium ridden counter-clockwise, from the middle of its southern straight."""
    s = np.mod(np.asarray(station_m, dtype=float) + STRAIGHT_M / 2, LAP_M)
    half = STRAIGHT_M + np.pi * RADIUS_M
    second = s >= half
    s = np.where(second, s - half, s)
    angle = np.clip((s - STRAIGHT_M) / RADIUS_M, 0.0, np.pi)
    along = np.minimum(s, STRAIGHT_M) - STRAIGHT_M / 2
    out = RADIUS_M - np.asarray(offset_m, dtype=float)
    x = along + out * np.sin(angle)
    y = -out * np.cos(angle)
    sign = np.where(second, -1.0, 1.0)
    return sign * x, sign * y


def positions(station_m, offset_m=0.0, height_m=None):
    """GeoJSON positions along the stadium."""
    lat, lon = ORIGIN.to_lat_lon(*stadium(station_m, offset_m))
    rows = np.stack([np.atleast_1d(lon), np.atleast_1d(lat)], axis=-1)
    if height_m is not None:
        rows = np.column_stack([rows, np.broadcast_to(height_m, len(rows))])
    return rows.tolist()


def feature(role, kind=None, coordinates=None, /, **properties):
    """A GeoJSON feature."""
    geometry = None if kind is None else {"type": kind, "coordinates": coordinates}
    return {
        "type": "Feature",
        "properties": {"role": role, **properties},
        "geometry": geometry,
    }


def line(role, station_m, offset_m=0.0, height_m=None, **properties):
    """A line along the stadium."""
    return feature(role, "LineString", positions(station_m, offset_m, height_m), **properties)


def across(station_m):
    """A start line across the stadium."""
    ends = positions([station_m], 8.0) + positions([station_m], -8.0)
    return feature("start_line", "LineString", ends)


def cone(corner, kind, station_m, offset_m, side, **properties):
    """A marker beside the stadium."""
    place = positions(station_m, offset_m)[0]
    return feature("marker", "Point", place, corner=corner, kind=kind, side=side, **properties)


BEND_AT = {"1": STRAIGHT_M / 2, "2": 1.5 * STRAIGHT_M + np.pi * RADIUS_M}


def corner_features(name):
    """A corner with cones at turn-in, apex and exit."""
    begin, arc = BEND_AT[name], np.pi * RADIUS_M
    return [
        feature("corner", name=name, turn="left", camber_deg=2.0, cues=["look to the exit cone"]),
        cone(name, "turn_in", begin - 10.0, -5.5, "right", name="turn-in"),
        cone(name, "apex", begin + 0.55 * arc, 5.5, "left", name="apex"),
        cone(name, "exit", begin + arc + 15.0, -5.5, "right", name="exit"),
    ]


@pytest.fixture
def features():
    """The features of a complete and sound track file, as a list to change at will."""
    at = np.linspace(0.0, LAP_M, 141)
    lap = np.mod(at, LAP_M)
    hold = positions([20.0], -12.0)[0]
    return [
        across(0.0),
        line("centre", lap, width_m=12.0),
        line("left_edge", lap, HALF_WIDTH_M),
        line("right_edge", lap, -HALF_WIDTH_M),
        *corner_features("1"),
        *corner_features("2"),
        line("seam", lap, 2.0, name="first seam"),
        line("seam", lap, -2.0, name="second seam"),
        feature("hold_point", "Point", hold),
        feature("hazard", "Point", positions([160.0], -7.0)[0], text="kerb sticks out", corner="1"),
        line("pit_lane", np.linspace(-100.0, 100.0, 11), -20.0),
    ]


@pytest.fixture
def write(tmp_path):
    """Write features as a track file and return its path."""

    def write_features(features, **members):
        document = {"type": "FeatureCollection", **members, "features": features}
        path = tmp_path / "track.geojson"
        path.write_text(json.dumps(document), encoding="utf-8")
        return path

    return write_features


@pytest.fixture
def draw():
    """The means to draw more features: ``draw.line``, ``draw.cone``, ``draw.feature``, ..."""

    class Draw:
        lap_m = LAP_M
        bend_at = BEND_AT
        plane = ORIGIN
        line = staticmethod(line)
        cone = staticmethod(cone)
        across = staticmethod(across)
        feature = staticmethod(feature)
        positions = staticmethod(positions)
        stadium = staticmethod(stadium)

    return Draw


class Recorder:
    """A coach's receiver on the stadium: marks, records, and errs as told."""

    def __init__(self, draw, noise_m=0.0, seed=0):
        self.draw = draw
        self.noise_m = noise_m
        self.rng = np.random.default_rng(seed)
        self.gpx = gpxpy.gpx.GPX()

    def degrees(self, station_m, offset_m):
        xy = np.stack(self.draw.stadium(np.atleast_1d(station_m), offset_m))
        return self.draw.plane.to_lat_lon(*(xy + self.rng.normal(0.0, self.noise_m, xy.shape)))

    def mark(self, name, station_m, offset_m, said=None, comment=None):
        lat, lon = self.degrees(station_m, offset_m)
        point = gpxpy.gpx.GPXWaypoint(lat[0], lon[0], name=name, description=said, comment=comment)
        self.gpx.waypoints.append(point)
        return point

    def record(self, name, station_m, offset_m, height_m=None):
        lat, lon = self.degrees(station_m, offset_m)
        track = gpxpy.gpx.GPXTrack(name=name)
        track.segments.append(gpxpy.gpx.GPXTrackSegment())
        heights = np.broadcast_to(np.nan if height_m is None else height_m, len(lat))
        for a, o, h in zip(lat, lon, heights, strict=True):
            high = None if np.isnan(h) else float(h)
            track.segments[0].points.append(gpxpy.gpx.GPXTrackPoint(a, o, elevation=high))
        self.gpx.tracks.append(track)

    def cones(self, corner, **said):
        begin = self.draw.bend_at[corner]
        self.mark(f"{corner} turn-in", begin - 10.0, -5.5, said.get("turn_in"))
        self.mark(f"{corner} apex", begin + 0.55 * np.pi * RADIUS_M, 5.5, said.get("apex"))
        self.mark(f"{corner} exit", begin + np.pi * RADIUS_M + 15.0, -5.5, said.get("exit"))

    def lap(self, over_m=30.0):
        return np.arange(0.0, self.draw.lap_m + over_m, 1.4)


@pytest.fixture
def recorder_of():
    """Makes a coach's receiver that errs as told."""
    return Recorder


@pytest.fixture
def recorder(draw):
    """A coach's receiver that does not err."""
    return Recorder(draw)


@pytest.fixture
def made(tmp_path):
    """Turn a recorder's walk into what was made of it."""

    def make(recorder, centre=None):
        path = tmp_path / "walk.gpx"
        path.write_text(recorder.gpx.to_xml(), encoding="utf-8")
        return track_of_walk(read_walk(path), centre)

    return make


@pytest.fixture
def full():
    """Makes a recorder mark everything once."""

    def marked(recorder):
        lap = recorder.lap()
        recorder.record("centre", lap, 0.0)
        recorder.record("left edge", lap, 6.0)
        recorder.record("Right Edge", lap, -6.0)
        recorder.record("seam 1", lap, 2.0)
        recorder.record("pit lane", np.arange(-100.0, 100.0, 1.4), -20.0)
        recorder.cones("1", turn_in="camber -3; pass within 1.0", exit="cue: look to the exit cone")
        recorder.cones("2", apex="note: polished in the wet")
        recorder.mark("start left", 0.0, 8.0)
        recorder.mark("start right", 0.0, -8.0)
        recorder.mark("hold point", 20.0, -12.0)
        recorder.mark("base", 0.0, -30.0)
        recorder.mark("1 hazard kerb sticks out", 170.0, -7.0)
        return recorder

    return marked


@pytest.fixture
def only():
    """Picks the one feature with the properties told."""

    def picked(features, **wanted):
        (found,) = [
            f for f in features if all(f["properties"].get(k) == v for k, v in wanted.items())
        ]
        return found

    return picked


@pytest.fixture
def without():
    """Leaves out the features of some roles."""
    return lambda features, *roles: [f for f in features if f["properties"]["role"] not in roles]


@pytest.fixture
def problems(write):
    """Checks features: (severity, code, text) of every problem."""

    def check(features):
        found = check_track(read_track(write(features)))
        return [(p.severity.value, p.code, str(p)) for p in found]

    return check


@pytest.fixture
def expect():
    """Holds that the problems are those of one check, and say all of some texts."""

    def held(problems, severity, code, *texts):
        assert {(s, c) for s, c, _ in problems} == {(severity, code)}, problems
        for text in texts:
            assert any(text in message for _, _, message in problems), problems

    return held
