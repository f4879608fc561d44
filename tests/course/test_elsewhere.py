"""Logs of other courses, far away and near by."""

import numpy as np
import pytest

from lapkit.course.elsewhere import require_along, require_near
from lapkit.errors import LogError
from lapkit.simulate.courses import built_in


@pytest.fixture(scope="module")
def course():
    return built_in("sample")


def on_course(course, offset_m, share=1.0):
    """Degrees along the course, the last of it so many metres beside."""
    station = np.arange(0.0, course.reference.length_m, 5.0)
    beside = np.where(station < share * course.reference.length_m, 0.0, offset_m)
    return course.plane.to_lat_lon(*course.reference.offset_points(station, beside))


def test_a_log_on_the_course_is_let_through(course):
    lat, lon = on_course(course, 8.0)
    require_near(course, lat, lon, "a.gpx")
    require_along(course, lat, lon, "a.gpx")


def test_one_fix_near_the_course_is_enough(course):
    lat, lon = on_course(course, 0.0)
    far = np.full(1001, lat[0] + 0.05)
    far[777] = lat[0]
    require_near(course, far, np.full(1001, lon[0]), "a.gpx")


def test_a_log_of_another_place_is_refused_with_the_distance(course):
    lat, lon = on_course(course, 0.0)
    # A twentieth of a degree of latitude is 5.56 km, less what the course itself reaches north.
    with pytest.raises(
        LogError, match=r"never comes nearer than [45] km .* another course"
    ) as told:
        require_near(course, lat + 0.05, lon, "a.gpx")
    assert told.value.where == "a.gpx"
    with pytest.raises(LogError, match=r"nearer than 4\d\d m"):
        require_near(course, lat[:1] + 500 / 111_200, lon[:1], "a.gpx")


def test_a_track_file_with_its_coordinates_swapped_is_recognised(course):
    lat, lon = on_course(course, 0.0)
    with pytest.raises(LogError, match=r"\d km .*latitude and longitude look swapped"):
        require_near(course, lon, lat, "a.gpx")


def test_the_other_side_of_the_earth_is_not_near(course):
    lat, lon = on_course(course, 0.0)
    with pytest.raises(LogError, match=r"20 0\d\d km"):
        require_near(course, -lat, lon + 180.0, "a.gpx")


def test_a_log_that_leaves_the_course_for_most_of_its_way_is_of_another(course):
    require_along(course, *on_course(course, 300.0, share=0.8), "a.gpx")
    with pytest.raises(LogError, match=r"only \d\d % of its way lies along the course"):
        require_along(course, *on_course(course, 300.0, share=0.4), "a.gpx")
