from dataclasses import replace

import numpy as np
import pytest

from lapkit.course import place
from lapkit.course.checks import check_track
from lapkit.course.problem import Severity
from lapkit.course.walk import track_of_walk
from lapkit.course.walk_file import read_walk
from lapkit.errors import TrackError
from lapkit.simulate.courses import LAYOUTS
from lapkit.simulate.layout_track import track_of
from lapkit.simulate.track_walk import HANDHELD, walk_of


@pytest.fixture(scope="module")
def course():
    return place(track_of(LAYOUTS["sample"]))


@pytest.fixture(scope="module")
def walked(course, tmp_path_factory):
    path = tmp_path_factory.mktemp("walk") / "walk.gpx"
    path.write_text(walk_of(course, seed=1).to_xml(), encoding="utf-8")
    return track_of_walk(read_walk(path))


def test_the_receiver_errs_by_a_metre_and_a_half():
    total = np.hypot(np.hypot(HANDHELD.bias_m, HANDHELD.wander_m), HANDHELD.white_m)
    assert total == pytest.approx(1.5, abs=0.05)


def test_the_same_seed_gives_the_same_walk(course):
    first, again, other = (walk_of(course, visits=1, seed=s).to_xml() for s in (3, 3, 4))
    assert first == again != other


def test_three_visits_give_cones_within_a_metre(course, walked):
    track = walked.track
    x, y = course.plane.to_xy([m.lat for m in track.markers], [m.lon for m in track.markers])
    errors = []
    for marker, east, north in zip(track.markers, x, y, strict=True):
        true = next(m for m in course.corner(marker.corner).markers if m.name == marker.name)
        errors.append((east - true.x_m, north - true.y_m))
        assert marker.side is true.side and marker.properties["visits"] == 3
    rms = np.sqrt(np.mean(np.square(errors)))
    assert 0.3 < rms < 1.0


def test_everything_is_read_and_nothing_stops(course, walked):
    assert walked.unread == ()
    # A cone on the edge may come out beside it: both were recorded with metres of error.
    found = check_track(walked.track)
    assert {p.code for p in found} == {"outside the edge"}
    assert {p.severity for p in found} == {Severity.WARNING}
    assert walked.track.members == {"name": "Saltmarsh Ring"}
    assert len(walked.track.pit_lanes) == 1
    again = place(walked.track)
    for corner in course.corners:
        same = again.corner(corner.name)
        assert (same.turn, same.cues, same.camber_deg) == (
            corner.turn,
            corner.cues,
            corner.camber_deg,
        )
        assert len(same.seams) == len(corner.seams)
        assert [m.camber_deg for m in same.markers] == [m.camber_deg for m in corner.markers]
        assert {m.pass_within_m for m in same.markers} == {1.5}
    assert again.reference.length_m == pytest.approx(course.reference.length_m, abs=8.0)
    left, right = again.edges_at(np.arange(0.0, again.reference.length_m, 10.0))
    assert np.mean(left - right) == pytest.approx(12.0, abs=0.5)


def test_a_course_found_from_logs_has_no_cones(course):
    with pytest.raises(TrackError, match="no cones to walk to"):
        walk_of(replace(course, track=None))
