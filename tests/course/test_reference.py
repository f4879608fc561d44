"""The line along which a course is measured, and the edges along it."""

from dataclasses import replace

import numpy as np
import pytest

from lapkit.course.plane import Plane
from lapkit.course.reference import (
    along,
    edges_of,
    meets,
    middle_of,
    offsets_along,
    plane_of,
    reference_of,
)
from lapkit.course.stations import StationLine
from lapkit.course.types import GeoLine, Track
from lapkit.errors import TrackError

PLANE = Plane(47.0, 8.0)
BARE = Track("track.geojson", "0")


def circle_points(radius_m, way=1, begins_rad=0.0):
    angle = begins_rad + way * np.linspace(0.0, 2.0 * np.pi, 361)
    return radius_m * np.cos(angle), radius_m * np.sin(angle)


def circle(radius_m, way=1, begins_rad=0.0):
    return StationLine.through(*circle_points(radius_m, way, begins_rad), True)


def straight(start_m, stop_m, y_m=0.0):
    x = np.linspace(start_m, stop_m, 60)
    return StationLine.through(x, np.full(60, float(y_m)), False)


def drawn(x, y):
    lat, lon = PLANE.to_lat_lon(np.asarray(x, dtype=float), np.asarray(y, dtype=float))
    return GeoLine(np.stack([lon, lat], axis=1))


@pytest.mark.parametrize(
    ("gap_m", "spacing_m", "closed"),
    [(7.5, 2.0, True), (8.5, 2.0, False), (29.0, 20.0, True), (31.0, 20.0, False)],
)
def test_a_line_is_a_loop_when_its_ends_are_near_by_metres_or_by_its_own_spacing(
    gap_m, spacing_m, closed
):
    around = 600.0
    at = np.arange(0.0, around - gap_m + 1e-9, spacing_m)
    at = np.append(at[at < around - gap_m - 1.0], around - gap_m)
    angle = 2.0 * np.pi * at / around
    radius = around / (2.0 * np.pi)
    assert meets(radius * np.cos(angle), radius * np.sin(angle)) == closed


def test_three_points_and_a_line_of_a_few_metres_are_no_loop():
    assert not meets(np.array([0.0, 30.0, 0.0]), np.array([0.0, 30.0, 1.0]))
    few = np.array([0.0, 3.0, 6.0, 3.0])  # nine metres of way, its ends three metres apart
    assert not meets(few, np.zeros(4))


@pytest.mark.parametrize("origin_deg", [8.0, -179.9999, 179.9999])
def test_the_plane_s_origin_is_in_the_middle_of_the_first_line_there_is(origin_deg):
    lon = origin_deg + np.array([0.0, 0.001, 0.002])
    line = GeoLine(np.stack([np.mod(lon + 180.0, 360.0) - 180.0, [47.0, 47.003, 47.003]], axis=1))
    far = drawn([5e3, 6e3], [0.0, 0.0])
    for role in ("centre", "left_edge"):
        plane = plane_of(replace(BARE, **{role: line}, marker_line=far))
        assert plane.lat_deg == pytest.approx(47.002)
        away = np.mod(plane.lon_deg - origin_deg - 0.001 + 180.0, 360.0) - 180.0
        assert abs(away) < 1e-9
        assert -180.0 <= plane.lon_deg < 180.0


def test_a_file_without_a_line_to_measure_along_says_which_it_needs():
    for needs in (lambda: plane_of(BARE), lambda: reference_of(BARE, PLANE)):
        with pytest.raises(TrackError, match="neither a centre, nor an edge, nor a marker line"):
            needs()


@pytest.mark.parametrize("beside_m", [0.0, 2.0])
@pytest.mark.parametrize("turns", [1.4, 2.0, 3.0])
@pytest.mark.parametrize("role", ["centre", "marker_line", "right_edge"])
def test_a_reference_that_goes_round_again_is_refused(role, turns, beside_m):
    angle = np.linspace(0.0, turns * 2.0 * np.pi, 900)
    radius = 150.0 + beside_m * np.floor(angle / (2.0 * np.pi))
    twice = drawn(radius * np.cos(angle), radius * np.sin(angle))
    with pytest.raises(TrackError, match=r"more than once: from 9[45]. m on it lies") as told:
        reference_of(replace(BARE, **{role: twice}), PLANE)
    assert told.value.where == f"track.geojson, {role}"


def test_a_hairpin_whose_legs_touch_and_ends_that_overlap_a_little_are_no_second_lap():
    along = np.linspace(0.0, 400.0, 200)
    bend = np.linspace(0.0, np.pi, 20)[1:-1]
    x = np.concatenate([along, 400.0 + 1.5 * np.sin(bend), along[::-1]])
    y = np.concatenate([np.zeros(200), 1.5 - 1.5 * np.cos(bend), np.full(200, 3.0)])
    hairpin = reference_of(replace(BARE, centre=drawn(x, y)), PLANE)
    assert hairpin.length_m == pytest.approx(806.0, abs=8.0)
    angle = np.linspace(0.0, 2.0 * np.pi + 0.5, 400)
    over = drawn(150.0 * np.cos(angle), 150.0 * np.sin(angle))
    assert reference_of(replace(BARE, centre=over), PLANE).length_m == pytest.approx(1017.5, abs=3)


def test_the_centre_comes_first_then_the_edges_middle_then_the_marker_line_then_one_edge():
    roles = {
        "centre": drawn(*circle_points(60.0)),
        "left_edge": drawn(*circle_points(55.0)),
        "right_edge": drawn(*circle_points(69.0)),
        "marker_line": drawn(*circle_points(58.0)),
    }
    given = dict(roles)
    for leaves_out, radius in (("", 60.0), ("centre", 62.0), ("left_edge", 58.0),
                               ("marker_line", 69.0)):  # fmt: skip
        given.pop(leaves_out, None)
        line = reference_of(replace(BARE, **given), PLANE)
        assert line.closed
        assert line.length_m == pytest.approx(2.0 * np.pi * radius, abs=0.1)


@pytest.mark.parametrize("begins_rad", [0.0, 2.0])
@pytest.mark.parametrize("way", [1, -1])
def test_midway_between_two_edges_it_runs_as_the_left_one(way, begins_rad):
    line = middle_of(circle(50.0), circle(62.0, way, begins_rad))
    np.testing.assert_allclose(np.hypot(line.x_m, line.y_m), 56.0, atol=0.02)
    assert line.curvature_at(10.0) > 0.0
    assert line.closed


def test_midway_between_edges_that_open_out_it_halves_their_distance():
    x = np.linspace(0.0, 300.0, 80)
    left = StationLine.through(x, 4.0 + 0.02 * x, False)
    right = StationLine.through(x, -4.0 - 0.04 * x, False)
    line = middle_of(left, right)
    inner = (line.x_m > 20.0) & (line.x_m < 280.0)
    np.testing.assert_allclose(line.y_m[inner], -0.01 * line.x_m[inner], atol=0.03)


@pytest.mark.parametrize("way", [1, -1])
def test_a_line_drawn_against_the_direction_of_riding_is_turned_round(way):
    station, offset = along(circle(60.0), circle(57.0, way, 1.0))
    assert np.all(np.diff(station) > 0.0)
    np.testing.assert_allclose(offset, 3.0, atol=0.01)


@pytest.mark.parametrize("begins_rad", [0.0, 1.0, 5.0])
def test_offsets_round_a_loop_do_not_depend_on_where_the_line_begins(begins_rad):
    reference = circle(60.0)
    at = np.linspace(0.0, reference.length_m, 50)
    angle = np.linspace(0.0, 2.0 * np.pi, 721) + begins_rad
    line = StationLine.through(62.0 * np.cos(angle) + 1.0, 62.0 * np.sin(angle), True)
    found, missing = offsets_along(reference, line, at)
    where = at / 60.0
    expected = 60.0 - np.cos(where) - np.sqrt(62.0**2 - np.sin(where) ** 2)
    np.testing.assert_allclose(found, expected, atol=0.02)
    assert missing == 0.0


@pytest.mark.parametrize(("stop_rad", "missing_m"), [(5.0, 0.2831853 + 1.0), (5.9, 0.0)])
def test_where_a_loop_s_edge_was_not_drawn_it_has_its_usual_offset(stop_rad, missing_m):
    """From one radian on; a gap of no more than thirty metres is bridged."""
    start_rad = 1.0 if missing_m else 0.0
    reference = circle(60.0)
    angle = np.linspace(start_rad, stop_rad, 300)
    line = StationLine.through(57.0 * np.cos(angle), 57.0 * np.sin(angle), False)
    at = reference.station_m[:-1]
    found, missing = offsets_along(reference, line, at)
    np.testing.assert_allclose(found, 3.0, atol=0.01)
    assert missing == pytest.approx(60.0 * (missing_m + (1.0 if missing_m else 0.0)), abs=3.1)


@pytest.mark.parametrize(
    ("start_m", "stop_m", "missing_m"),
    [(25.0, 375.0, 0.0), (35.0, 375.0, 35.0), (25.0, 365.0, 35.0), (-50.0, 450.0, 0.0)],
)
def test_beyond_an_edge_s_ends_an_open_course_has_thirty_metres_for_nothing(
    start_m, stop_m, missing_m
):
    reference = straight(0.0, 400.0)
    line = straight(start_m, stop_m, 5.0)
    found, missing = offsets_along(reference, line, reference.station_m)
    np.testing.assert_allclose(found, 5.0, atol=1e-6)
    assert missing == pytest.approx(missing_m, abs=2.0 * reference.step_m)


def test_an_edge_that_is_not_drawn_mirrors_the_other_about_the_centre():
    centre = drawn(*circle_points(60.0))
    reference = circle(60.0)
    inner, outer = drawn(*circle_points(55.0)), drawn(*circle_points(64.0))
    for edges, left, right in (
        ({"left_edge": inner, "right_edge": outer}, 5.0, -4.0),
        ({"left_edge": inner}, 5.0, -5.0),
        ({"right_edge": outer}, 4.0, -4.0),
    ):
        found = edges_of(replace(BARE, centre=centre, **edges), PLANE, reference)
        np.testing.assert_allclose(found.left_m, left, atol=0.02)
        np.testing.assert_allclose(found.right_m, right, atol=0.02)
        assert found.missing_left_m == found.missing_right_m == 0.0


def test_without_edges_half_the_centre_s_width_stands_in_and_without_that_nothing():
    centre = drawn(*circle_points(60.0))
    wide = replace(BARE, centre=centre, centre_width_m=11.0)
    found = edges_of(wide, PLANE, circle(60.0))
    assert set(found.left_m) == {5.5} and set(found.right_m) == {-5.5}
    assert edges_of(replace(wide, centre_width_m=None), PLANE, circle(60.0)) is None
    one = replace(BARE, left_edge=centre)  # measured along it, it tells nothing of the other
    assert edges_of(one, PLANE, circle(60.0)) is None


def test_a_line_that_cannot_be_one_is_named():
    with pytest.raises(TrackError) as caught:
        reference_of(replace(BARE, centre=drawn([0.0, 0.0], [0.0, 0.0])), PLANE)
    assert "track.geojson, centre" in str(caught.value)
