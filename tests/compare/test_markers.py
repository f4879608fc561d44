"""Gaps, lanes and distances from the marker line at cones, on circles."""

from dataclasses import replace

import numpy as np
import pytest

from lapkit.compare.results import RunOf
from lapkit.compare.run import measure_run
from lapkit.course.types import MarkerKind, Turn


def markers(path, course):
    tables = measure_run(path, path.split(), course, RunOf("A", "1")).tables
    return tables["markers"].query("lap == 1").set_index("marker")


def test_a_cone_on_the_wrong_side_has_a_negative_gap(circle_path, round_course):
    # Tyres outside the turn-in cone at 65 m, and inside the apex cone at 57 m.
    wide, tight = circle_path(radius_m=66.0, com_m=0.0), circle_path(radius_m=55.5, com_m=0.0)
    assert markers(wide, round_course).loc["turn-in", "gap_m"] == pytest.approx(-1.0, abs=3e-3)
    assert markers(tight, round_course).loc["apex", "gap_m"] == pytest.approx(-1.5, abs=3e-3)


@pytest.mark.parametrize(("radius_m", "lane"), [(58.0, 1), (61.0, 2), (64.0, 3)])
def test_lanes_count_from_the_inside_outward(circle_path, round_course, radius_m, lane):
    rows = markers(circle_path(radius_m=radius_m, com_m=0.0), round_course)
    assert rows["lane"].tolist() == [lane] * 3


def test_lanes_of_a_right_hander_count_from_its_inside(bent_path):
    from lapkit.course.course import CourseMarker, CourseSeam

    path = bent_path(np.array([0.0, 200.0]), np.full(2, -1 / 80))
    course = path.course(60.0, (90.0,), 130.0, turn=Turn.RIGHT)
    x, y = course.reference.offset_points(90.0, -2.0)
    cone = CourseMarker(
        "apex", MarkerKind.APEX, Turn.RIGHT, float(x), float(y), 90.0, -2.0, 0.0, 1.5
    )
    ends = np.array([30.0, 160.0])
    seams = tuple(CourseSeam(str(o), ends, np.full(2, o)) for o in (-1.0, 1.0))
    corner = replace(course.corners[0], markers=(cone,), seams=seams)
    course = replace(course, corners=(corner,))
    tables = measure_run(path, path.lap(), course, RunOf("A", "1")).tables
    row = tables["markers"].iloc[0]
    assert row["lane"] == 2
    assert row["gap_m"] == pytest.approx(2.0, abs=3e-3)
    calls = tables["seams"].set_index("seam")["call"].to_dict()
    assert calls == {"-1.0": "outside", "1.0": "inside"}


def test_the_likeliest_lane_comes_with_its_probability(circle_path, round_course):
    path = circle_path(radius_m=59.0, com_m=0.0)
    # Of 48 draws 12 lie inside the seam at 59 m.
    path.wider_m = np.concatenate([[0.1], np.repeat([-0.2, 0.2], [12, 36])])
    row = markers(path, round_course).loc["apex"]
    assert (row["lane"], row["p_lane"]) == (2, 0.75)


def test_without_seams_there_is_no_lane(circle_path, round_course):
    course = replace(round_course, corners=(replace(round_course.corners[0], seams=()),))
    rows = markers(circle_path(), course)
    assert rows["lane"].isna().all()
    assert rows["p_lane"].isna().all()


def sighted(round_course, ahead_m):
    """The course with a cone to be sighted so far along from turn-in, 5 m outside the path of 60 m."""
    corner = round_course.corners[0]
    angle = np.radians(60.0) + ahead_m / 60.0
    far = replace(
        corner.markers[0],
        name="sight",
        kind=MarkerKind.SIGHT,
        x_m=65.0 * np.cos(angle),
        y_m=65.0 * np.sin(angle),
        station_m=corner.turn_in_m + ahead_m,
    )
    return replace(round_course, corners=(replace(corner, markers=(far, *corner.markers)),))


@pytest.mark.parametrize("ahead_m", [-60.0, -32.0, -30.0, -28.0, -10.0, 125.0, 150.0, 155.0, 190.0])
def test_a_cone_to_be_sighted_is_measured_before_turn_in_and_beyond_the_exit(
    circle_path, round_course, ahead_m
):
    path = circle_path(com_m=0.0)
    row = markers(path, sighted(round_course, ahead_m)).loc["sight"]
    assert row["gap_m"] == pytest.approx(5.0, abs=3e-3)
    assert row["lean_deg"] == pytest.approx(path.lean_deg, abs=1e-6)
    assert row["speed_mps"] == pytest.approx(20.0)


def test_a_cone_farther_than_a_corner_is_looked_at_has_no_values(circle_path, round_course):
    path = circle_path(start_s=1000.0)
    path.angle = lambda time_s: np.radians(-200.0) + (time_s - path.start_s) * 20.0 / 60.0
    rows = markers(path, sighted(round_course, -200.0))
    assert np.isnan(rows.loc["sight", ["gap_m", "wide_of_line_m", "lean_deg"]].astype(float)).all()
    assert rows.loc["apex", "gap_m"] > 0


def test_a_line_that_the_coach_rode_is_known_no_better_than_his_receiver(circle_path, round_course):
    path = circle_path()
    path.wider_m = np.concatenate([[0.0], np.random.default_rng(1).normal(0.0, 0.1, 400)])
    ridden = replace(round_course, marker_line_from="ridden", marker_line_sd_m=0.5)
    sure, unsure = markers(path, round_course), markers(path, ridden)
    assert (unsure["wide_of_line_m"] == sure["wide_of_line_m"]).all()
    half = 0.5 * (unsure["wide_hi_m"] - unsure["wide_lo_m"])
    # Independent errors add as their squares; 1.96 standard deviations hold 95 % of a normal spread.
    assert half.tolist() == pytest.approx([1.96 * np.hypot(0.1, 0.5)] * 3, rel=0.12)
    same = [name for name in sure.columns if not name.startswith("wide_")]
    assert sure[same].equals(unsure[same])


def test_which_way_is_wide_is_a_unit_vector_out_of_the_corner(circle_path, round_course):
    rows = markers(circle_path(), round_course)
    angle = np.radians([60.0, 110.0, 180.0])
    np.testing.assert_allclose(rows["wide_east"], np.cos(angle), atol=1e-6)
    np.testing.assert_allclose(rows["wide_north"], np.sin(angle), atol=1e-6)
