"""Checks of start line, centre, edges and heights."""

import numpy as np
import pytest

from lapkit.course.check_lines import crossings
from lapkit.course.stations import StationLine


def test_a_line_scribbled_over_itself_cannot_be_used(problems, draw):
    again = np.tile(np.linspace(0.0, 30.0, 9), 400)
    wide = np.random.default_rng(1).normal(0.0, 3.0, len(again))
    found = problems([draw.line("centre", again, wide)])
    assert found[0][1] == "unusable line" and "again and again" in found[0][2]


def test_a_start_line_beside_the_course_is_an_error_with_its_distance(
    problems, features, draw, only, expect
):
    start = only(features, role="start_line")
    start["geometry"]["coordinates"] = draw.positions([0.0], 30.0) + draw.positions([0.0], 12.0)
    expect(problems(features), "error", "start line", "does not cross", "12 to 30 m beside")


def test_a_start_line_of_two_metres_is_an_error_with_its_length(
    problems, features, draw, only, expect
):
    start = only(features, role="start_line")
    start["geometry"]["coordinates"] = draw.positions([0.0], 1.0) + draw.positions([0.0], -1.0)
    expect(problems(features), "error", "start line", "only 2.0 m long")


def test_a_start_line_that_ends_before_the_edge_is_warned_of(
    problems, features, draw, only, expect
):
    start = only(features, role="start_line")
    start["geometry"]["coordinates"] = draw.positions([0.0], 6.0) + draw.positions([0.0], -3.0)
    expect(problems(features), "warning", "start line", "ends 3.0 m before the edge")


def test_a_start_line_along_the_track_is_an_error(problems, features, draw, only, expect):
    start = only(features, role="start_line")
    start["geometry"]["coordinates"] = draw.positions([0.0], 2.0) + draw.positions([20.0], -2.0)
    expect(problems(features), "error", "start line", "along the track")


def test_a_missing_start_line_is_warned_of(problems, features, without, expect):
    bare = without(features, "start_line")
    expect(problems(bare), "warning", "start line", "laid across the longest straight")


def test_an_open_course_without_a_start_line_is_warned_of(problems, draw, expect):
    hill = [draw.line("centre", np.arange(0.0, 300.0, 5.0))]
    expect(problems(hill), "warning", "start line", "laid across the beginning of the course")


def test_a_centre_folded_over_itself_is_an_error_at_the_vertex(problems, features, only):
    centre = only(features, role="centre")["geometry"]["coordinates"]
    centre[10], centre[12] = centre[12], centre[10]
    found = problems(features)
    assert ("error", "self-crossing") in {(s, c) for s, c, _ in found}
    assert any("folded over itself" in text and "centre, 7" in text for _, _, text in found)


def test_a_bridge_is_only_mentioned(problems, draw):
    t = np.linspace(0.0, 2.0 * np.pi, 160)
    x = 250.0 * np.cos(t) / (1.0 + np.sin(t) ** 2)
    lat, lon = draw.plane.to_lat_lon(x, x * np.sin(t))
    eight = draw.feature("centre", "LineString", np.stack([lon, lat], axis=-1).tolist())
    found = problems([eight])
    assert {(s, c) for s, c, _ in found} == {
        ("warning", "self-crossing"),
        ("warning", "start line"),
    }
    assert any("right for a bridge" in text for _, _, text in found)


def test_crossings_are_found_where_they_are():
    t = np.linspace(0.0, 2.0 * np.pi, 300, endpoint=False)
    x = 250.0 * np.cos(t) / (1.0 + np.sin(t) ** 2)
    line = StationLine.through(x, x * np.sin(t), True)
    ((first, second),) = crossings(line)
    assert first == pytest.approx(line.length_m / 4, abs=0.1)
    assert second == pytest.approx(0.75 * line.length_m, abs=0.1)


@pytest.mark.parametrize("role", ["left_edge", "right_edge"])
def test_edges_that_run_against_each_other_are_an_error(problems, features, role, only, expect):
    only(features, role=role)["geometry"]["coordinates"].reverse()
    expect(problems(features), "error", "edge direction", role, "against each other")


def test_edges_that_both_run_against_the_centre_are_an_error(problems, features, only, expect):
    for role in ("left_edge", "right_edge"):
        only(features, role=role)["geometry"]["coordinates"].reverse()
    expect(problems(features), "error", "edge direction", "against the centre")


def test_edges_that_changed_sides_are_an_error(problems, features, only):
    left, right = only(features, role="left_edge"), only(features, role="right_edge")
    left["properties"]["role"], right["properties"]["role"] = "right_edge", "left_edge"
    found = problems(features)
    # Every cone stands outside of such edges too; that is not said of each.
    assert [(s, c) for s, c, _ in found] == [("error", "edge sides")]


def test_an_edge_walked_in_part_is_warned_of_with_the_length_it_lacks(
    problems, features, draw, without, expect
):
    part = draw.line("left_edge", np.linspace(0.0, 0.6 * draw.lap_m, 90), 6.0)
    found = problems([*without(features, "left_edge"), part])
    expect(found, "warning", "edge in part", "left_edge: 34", "m of the course")


def test_heights_with_a_step_are_an_error(problems, features, draw, without, expect):
    at = np.linspace(0.0, draw.lap_m, 141)
    height = 400.0 + 3.0 * np.sin(2.0 * np.pi * at / draw.lap_m) + 6.0 * ((at > 300) & (at < 600))
    lifted = draw.line("centre", np.mod(at, draw.lap_m), 0.0, height)
    found = problems([lifted, *without(features, "centre")])
    expect(found, "error", "height step", "centre, ", "m within 10 m")


def test_noisy_heights_have_no_step(problems, features, draw, without):
    at = np.linspace(0.0, draw.lap_m, 141)
    height = 400.0 + np.random.default_rng(3).normal(0.0, 0.5, 141)
    lifted = draw.line("centre", np.mod(at, draw.lap_m), 0.0, height)
    assert problems([lifted, *without(features, "centre")]) == []


def test_a_loop_that_does_not_close_is_warned_of_with_its_gap(
    problems, features, draw, without, expect
):
    part = draw.line("centre", np.linspace(0.0, draw.lap_m - 40.0, 120))
    found = problems([part, *without(features, "centre", "left_edge", "right_edge", "seam")])
    expect(found, "warning", "nearly closed", "its ends are 40 m apart")


def test_an_open_course_between_edges_is_told_by_its_edges(problems, features, draw, without):
    at = np.linspace(0.0, draw.lap_m - 30.0, 120)
    edges = [draw.line("left_edge", at, 6.0), draw.line("right_edge", at, -6.0)]
    found = problems([*edges, *without(features, "centre", "left_edge", "right_edge", "seam")])
    assert [code for _, code, _ in found] == ["nearly closed"]
    assert "left_edge and right_edge: its ends" in found[0][2]


def test_a_marker_line_that_is_measured_along_is_told_of_once_and_by_its_own_name(problems, draw):
    t = np.linspace(0.0, 2.0 * np.pi, 160)
    x = 250.0 * np.cos(t) / (1.0 + np.sin(t) ** 2)
    lat, lon = draw.plane.to_lat_lon(x, x * np.sin(t))
    eight = np.stack([lon, lat], axis=-1).tolist()
    found = problems([draw.feature("marker_line", "LineString", eight)])
    (crossing,) = [text for _, code, text in found if code == "self-crossing"]
    assert "marker_line, " in crossing


def test_a_lone_edge_on_the_other_side_or_drawn_backward_is_told_by_itself(
    problems, features, only, without
):
    lone = without(features, "right_edge")
    only(lone, role="left_edge")["properties"]["role"] = "right_edge"
    ((_, code, text),) = problems(lone)
    assert code == "edge sides"
    assert (
        "right_edge: the right edge lies on the other side of the centre. Change its role" in text
    )
    only(lone, role="right_edge")["properties"]["role"] = "left_edge"
    only(lone, role="left_edge")["geometry"]["coordinates"].reverse()
    ((_, code, text),) = problems(lone)
    assert code == "edge direction"
    assert "left_edge: it runs against the direction of riding. Draw it in" in text
