"""A coach's walk round a course with a receiver in hand, as the GPX file it leaves behind."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import UTC, datetime

import numpy as np
from gpxpy.gpx import GPX, GPXTrack, GPXTrackPoint, GPXTrackSegment, GPXWaypoint

from lapkit.arrays import FloatArray
from lapkit.course.course import Course, Profile
from lapkit.course.reference import on_plane
from lapkit.course.types import GeoLine, Track
from lapkit.curvature import path_length_m
from lapkit.errors import TrackError
from lapkit.simulate.bias import SlowBias, gauss_markov
from lapkit.simulate.receiver import Receiver

HANDHELD = Receiver(rate_hz=1.0, bias_m=1.2, bias_s=600.0, wander_m=0.7, wander_s=8.0, white_m=0.5)
"""A receiver carried by hand: 1.5 m per axis in all, most of it slow."""

WALKS_MPS = 1.4
"""Walking pace, m/s."""

ROLLS_MPS = 8.0
"""He records lines on a bicycle, m/s: the slow error hardly moves in a lap."""

STANDS_S = 20
"""How long he stands at a cone, seconds."""

BETWEEN_ROUNDS_S = 1800
"""Between rounds, seconds: three times the slow error's correlation time, so that the error is a new one."""

_EPOCH_S = datetime(2024, 5, 4, 6, 0, tzinfo=UTC).timestamp()
_HEIGHT_M = 20.0  # where the walk begins, or all along a course without heights


@dataclass(eq=False)
class _Walker:
    """Where the walker was, second by second, and what he recorded and marked on the way."""

    course: Course
    at: list[FloatArray] = field(default_factory=list)
    seconds: int = 0
    named: list[tuple[str, int, int]] = field(default_factory=list)
    marked: list[tuple[str, str, int]] = field(default_factory=list)
    begins: int = 0

    def go(self, points: FloatArray, speed_mps: float = WALKS_MPS) -> None:
        """Move along points of shape ``(n, 2)`` from where he is."""
        if self.at:
            points = np.vstack([self.at[-1][-1:], points])
        length = path_length_m(*points.T)
        along = np.arange(0.0, length[-1] + speed_mps, speed_mps)
        self._stay(np.stack([np.interp(along, length, axis) for axis in points.T], axis=-1))

    def stand(self, name: str, said: str) -> None:
        """Stand still for a while and mark the place."""
        self.marked.append((name, said, self.seconds + STANDS_S // 2))
        self._stay(np.repeat(self.at[-1][-1:], STANDS_S, axis=0))

    def rest(self, seconds: int) -> None:
        """Wait where he is, with the recording stopped."""
        self._stay(np.repeat(self.at[-1][-1:], seconds, axis=0))
        self.begins = self.seconds

    def stop(self, name: str) -> None:
        """End a recording begun at the last stop, and name it."""
        self.named.append((name, self.begins, self.seconds))
        self.begins = self.seconds

    def _stay(self, places: FloatArray) -> None:
        self.at.append(places)
        self.seconds += len(places)


def walk_of(
    course: Course, *, visits: int = 3, receiver: Receiver = HANDHELD, seed: int = 0
) -> GPX:
    """The GPX file of a walk that marks everything in the track file of a course.

    ``visits`` times, half an hour apart, he cycles along the centre, the edges and the seams, and then
    walks round the cones and stands at each for a while. The same seed gives the same file.

    Raises:
        TrackError: the course was not placed from a track file.
    """
    track = course.track
    if track is None:
        raise TrackError(
            "a course found from logs has no cones to walk to",
            remedy="Place a track file, and walk that course.",
        )
    walker = _Walker(course)
    for number in range(visits):
        for name, line in _lines(track):
            points = np.stack(on_plane(course.plane, line), axis=-1)
            walker.go(points[:1], ROLLS_MPS)
            walker.rest(1)
            walker.go(points, ROLLS_MPS)
            walker.stop(name)
        for lane in course.pit_lanes if number == 0 else ():
            walker.go(lane[:1], ROLLS_MPS)
            walker.rest(1)
            walker.go(lane, ROLLS_MPS)
            walker.stop("pit lane")
        for name, said, x, y in _stops(course, track, first=number == 0):
            walker.go(np.array([[x, y]]))
            walker.stand(name, said)
        walker.stop(f"walk {number + 1}")
        walker.rest(BETWEEN_ROUNDS_S)
    gpx = _written(walker, receiver, seed)
    gpx.name = track.members.get("name")
    return gpx


def _lines(track: Track) -> list[tuple[str, GeoLine]]:
    """What is recorded while walking along it, with the name the recording is given."""
    named = (
        ("centre", track.centre),
        ("left edge", track.left_edge),
        ("right edge", track.right_edge),
    )
    lines = [(name, line) for name, line in named if line is not None]
    numbers: dict[str, int] = {}
    for seam in track.seams:
        numbers[seam.corner] = numbers.get(seam.corner, 0) + 1
        lines.append((f"{seam.corner} seam {numbers[seam.corner]}".strip(), seam))
    return lines


def _stops(course: Course, track: Track, *, first: bool) -> list[tuple[str, str, float, float]]:
    """Name, description and place of all that is marked, in the order in which he comes by."""
    stops = []
    for corner in course.corners:
        given = {marker.name: marker for marker in track.markers if marker.corner == corner.name}
        for marker in corner.markers:
            said = []
            if first and given[marker.name].pass_within_m is not None:
                said.append(f"pass within {marker.pass_within_m:g}")
            if first and given[marker.name].camber_deg is not None:
                said.append(f"camber {marker.camber_deg:g}")
            stops.append((f"{corner.name} {marker.name}", "; ".join(said), marker.x_m, marker.y_m))
        if first and corner.markers:
            said = [f"camber {corner.camber_deg:g}", *(f"cue: {cue}" for cue in corner.cues)]
            here = corner.markers[-1]
            stops.append(
                (f"corner {corner.name} {corner.turn}", "; ".join(said), here.x_m, here.y_m)
            )
    return stops + _other_stops(course, track)


def _other_stops(course: Course, track: Track) -> list[tuple[str, str, float, float]]:
    """The ends of the start line, the known spots and the hazards."""
    stops = []
    if track.start_line is not None:
        for side, (x, y) in zip(("left", "right"), course.start_line.tolist(), strict=True):
            stops.append((f"start {side}", "", x, y))
    spots = [(f"hold point {p.name}".strip(), p) for p in track.hold_points]
    spots += [(f"base point {p.name}".strip(), p) for p in track.base_points]
    for name, point in spots:
        x, y = course.plane.to_xy(point.lat, point.lon)
        stops.append((name, "", float(x), float(y)))
    for hazard in track.hazards:
        if hazard.geometry["type"] == "Point":
            lon, lat = hazard.geometry["coordinates"][:2]
            x, y = course.plane.to_xy(lat, lon)
            stops.append((f"{hazard.corner} hazard {hazard.text}".strip(), "", float(x), float(y)))
    return stops


def _written(walker: _Walker, receiver: Receiver, seed: int) -> GPX:
    """The GPX file, with the receiver's errors in it."""
    true = np.vstack(walker.at)
    rng = np.random.default_rng([seed, 3])
    time = _EPOCH_S + np.arange(len(true), dtype=np.float64)
    bias = SlowBias.drawn(receiver.bias_m, receiver.bias_s, _EPOCH_S, float(len(true)), seed)
    wander = receiver.wander_m * gauss_markov(len(true), 1.0, receiver.wander_s, 2, rng)
    error = bias.at(time) + np.column_stack([wander, np.zeros(len(true))])
    error[:, :2] += receiver.white_m * rng.standard_normal(true.shape)
    lat, lon = walker.course.plane.to_lat_lon(*(true + error[:, :2]).T)
    height = _heights(walker.course, true) + error[:, 2]

    def place(i: int) -> tuple[float, float, float, datetime]:
        """Latitude, longitude, elevation and time, as points of GPX begin."""
        lat_lon = round(float(lat[i]), 7), round(float(lon[i]), 7)
        return *lat_lon, round(float(height[i]), 1), datetime.fromtimestamp(time[i], UTC)

    gpx = GPX()
    gpx.creator = "lapkit simulate (an invented walk)"
    for name, said, second in walker.marked:
        gpx.waypoints.append(GPXWaypoint(*place(second), name=name, description=said or None))
    for name, begin, end in walker.named:
        points = [GPXTrackPoint(*place(i)) for i in range(begin, end)]
        recorded = GPXTrack(name=name)
        recorded.segments.append(GPXTrackSegment(points))
        gpx.tracks.append(recorded)
    return gpx


def _heights(course: Course, true: FloatArray) -> FloatArray:
    """Height of the ground along the walk, metres, from the grade of the course."""
    profile: Profile | None = course.profile
    if profile is None:
        return np.full(len(true), _HEIGHT_M)
    at = np.append(profile.station_m, course.reference.length_m)
    grade, _ = profile.at(at)
    rise = np.concatenate([[0.0], np.cumsum(0.5 * (grade[1:] + grade[:-1]) * np.diff(at))])
    station, _ = course.reference.project(true[:, 0], true[:, 1])
    return _HEIGHT_M + np.interp(station, at, rise)
