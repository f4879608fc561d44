"""The marker line solved from the cones."""

from dataclasses import replace

import numpy as np
import pytest

from lapkit.course.corridor import CONE_ROOM_M, EDGE_ROOM_M, edges_or_assumed, window
from lapkit.course.line_problem import pose
from lapkit.course.line_solver import ROLL_OVER_ROOT_M, solve
from lapkit.course.marker_line import solve_marker_line
from lapkit.course.place import place
from lapkit.course.placed_line import PlacedLine
from lapkit.course.stations import StationLine
from lapkit.course.track_file import read_track
from lapkit.course.types import EDGE_ROLES, GeoLine, MarkerKind, Track
from lapkit.sample import sample_event

HALF_M = 6.0


def tightest(line, placed):
    """Largest |curvature| held over 10 m between the corner's stations, as a radius, metres."""
    only = placed.corners[0]
    x, y = placed.reference.at(np.array([only.turn_in_m, only.exit_m]))
    first, last = line.project(x, y)[0]
    start = np.arange(first, last - 10.0, 0.5)
    turned = line.heading_at(start + 10.0) - line.heading_at(start)
    return 10.0 / np.max(np.abs(turned))


def assert_meets_cones(line, placed, slack_m=0.05):
    for place_ in placed.corners:
        for marker in place_.markers:
            if marker.kind is MarkerKind.SIGHT:
                continue
            _, beside = line.project(marker.x_m, marker.y_m)
            gap = beside * marker.side.sign
            assert CONE_ROOM_M - slack_m < gap < marker.pass_within_m + slack_m, marker.name


def assert_inside_edges(line, placed, half_m=HALF_M):
    _, offset = placed.reference.follow(line.x_m, line.y_m)
    assert np.max(np.abs(offset)) < half_m - EDGE_ROOM_M + 0.05


def test_cones_are_met_and_edges_kept_all_round(stadium):
    line = solve_marker_line(stadium)
    assert line.closed
    assert_meets_cones(line, stadium)
    assert_inside_edges(line, stadium)


def test_a_closed_line_begins_beside_the_reference_and_joins_smoothly(stadium):
    line = solve_marker_line(stadium)
    station, offset = stadium.reference.project(line.x_m[0], line.y_m[0])
    assert min(station, stadium.reference.length_m - station) < 0.5 and abs(offset) < HALF_M
    assert line.heading_rad[-1] - line.heading_rad[0] == pytest.approx(2 * np.pi, abs=1e-6)
    assert (line.x_m[0], line.y_m[0]) == pytest.approx((line.x_m[-1], line.y_m[-1]))


def test_equal_corners_get_equal_radii(stadium):
    line = solve_marker_line(stadium)
    one, other = (tightest(line, replace(stadium, corners=(c,))) for c in stadium.corners)
    assert one == pytest.approx(other, rel=2e-3)
    assert one > 40.0


def test_a_second_apex_is_met_and_costs_radius(lay):
    single = lay.square_corner()
    double = lay.square_corner(("apex 2", "left", 150 + 15 * np.pi / 2 + 20, HALF_M))
    lines = [solve_marker_line(c) for c in (single, double)]
    assert_meets_cones(lines[1], double)
    assert tightest(lines[1], double) < 0.97 * tightest(lines[0], single)


@pytest.fixture
def linked_corners(lay):
    """A left-hander into a right-hander of 45 m, with 20 m of straight between them."""
    reference = lay.through(lay.road((120, 0), (50, 45), (20, 0), (50, -45), (120, 0)))
    return lay.course(
        reference,
        lay.corner(
            "1",
            "left",
            lay.cone(reference, "in", "right", 100, -HALF_M),
            lay.cone(reference, "apex", "left", 147, HALF_M),
            lay.cone(reference, "out", "left", 178, 2.0, 4.0),
        ),
        lay.corner(
            "2",
            "right",
            lay.cone(reference, "in", "left", 182, 2.0, 4.0),
            lay.cone(reference, "apex", "right", 213, -HALF_M),
            lay.cone(reference, "out", "left", 260, HALF_M),
        ),
    )


def test_linked_corners_are_one_flowing_line(linked_corners):
    s = linked_corners
    line = solve_marker_line(s)
    assert_meets_cones(line, s)
    assert_inside_edges(line, s)
    held = np.diff(line.heading_at(np.arange(90.0, 270.0, 10.0))) / 10.0
    assert held.max() == pytest.approx(-held.min(), rel=0.1)
    assert 1.0 / held.max() > 60.0


def test_a_machine_can_be_rolled_over_from_corner_to_corner(linked_corners):
    """From full curvature one way to full curvature the other takes the way that rolling takes."""
    s = linked_corners
    line = solve_marker_line(s)
    apexes = [line.project(m.x_m, m.y_m)[0] for c in s.corners for m in c.markers[1:2]]
    at = np.arange(apexes[0], apexes[1], 0.25)
    curvature = np.interp(at, line.station_m, line.curvature_1pm)
    assert np.all(np.diff(curvature) < 2e-4)
    most = np.max(np.abs(curvature))
    turning = at[np.abs(curvature) < 0.9 * most]
    assert turning[-1] - turning[0] > 1.6 * ROLL_OVER_ROOT_M / np.sqrt(most)


def test_a_machine_can_be_rolled_into_a_corner_and_out_of_it(lay):
    """Of lines with one largest curvature that one is taken whose curvature comes and goes over metres."""
    line = solve_marker_line(lay.square_corner())
    curvature = np.abs(line.curvature_1pm)
    most = np.max(curvature)
    bent = line.station_m[curvature > 0.9 * most]
    for ahead, way in ((line.station_m < bent[0], -1), (line.station_m > bent[-1], 1)):
        level = line.station_m[ahead & (curvature < 0.1 * most)]
        upright = level.max() if way < 0 else level.min()
        over = abs(upright - (bent[0] if way < 0 else bent[-1]))
        assert over > 0.5 * ROLL_OVER_ROOT_M / np.sqrt(most)


def test_corners_of_one_hand_are_not_held_apart(stadium, linked_corners):
    cones = [window(stadium, c, m) for c in stadium.corners for m in c.markers]
    assert pose(stadium, cones).flicks == ()
    cones = [window(linked_corners, c, m) for c in linked_corners.corners for m in c.markers]
    ((first, last, sign),) = pose(linked_corners, cones).flicks
    assert 147 / 2.5 <= first < last <= 213 / 2.5 and sign == 1


def test_no_line_beside_it_turns_less(lay):
    """Of the lines that keep the largest curvature, none nearby has less squared curvature."""
    placed = lay.square_corner()
    cones = [window(placed, c, m) for c in placed.corners for m in c.markers]
    problem = pose(placed, cones)
    move = solve(problem, np.clip(0.0, problem.lower_m, problem.upper_m))
    curvature, length, _ = problem.curvature(move)
    rng = np.random.default_rng(3)
    low = np.array([w.low_m for w in cones])
    high = np.array([w.high_m for w in cones])
    tried = 0
    for _ in range(400):
        at, wide = rng.uniform(20, 320), rng.uniform(15, 60)
        bump = rng.normal(0, 0.05) * np.exp(-(((problem.station_m - at) / wide) ** 2))
        other = move + bump
        at_cones = problem.rows @ other
        bent = problem.curvature(other)[0]
        allowed = (
            np.all(other > problem.lower_m - 1e-3)
            and np.all(other < problem.upper_m + 1e-3)
            and np.all((at_cones > low - 1e-3) & (at_cones < high + 1e-3))
            and np.max(np.abs(bent)) <= np.max(np.abs(curvature))
        )
        if allowed:
            tried += 1
            assert length @ bent**2 > (length @ curvature**2) * (1 - 2e-3)
    assert tried > 20


def test_an_open_course_has_an_open_line(lay):
    line = solve_marker_line(lay.square_corner())
    assert not line.closed
    assert line.length_m == pytest.approx(150 + 15 * np.pi + 150, rel=0.05)


def test_a_course_without_corners_is_cut_as_wide_as_the_edges_let(lay):
    t = np.linspace(0, 2 * np.pi, 400, endpoint=False)
    circle = lay.through(60 * np.stack([np.cos(t), np.sin(t)], axis=-1), closed=True)
    line = solve_marker_line(lay.course(circle))
    assert np.max(line.curvature_1pm) == pytest.approx(1 / (60 + HALF_M - EDGE_ROOM_M), rel=2e-3)


def test_the_width_stands_in_for_edges(lay):
    wide = lay.square_corner(half_m=None)
    nowhere = GeoLine(np.zeros((2, 2)))
    track = Track("track.geojson", "", centre=nowhere, centre_width_m=2 * HALF_M)
    drawn = tightest(solve_marker_line(lay.square_corner()), lay.square_corner())
    for placed in (wide, replace(wide, track=track)):
        assert tightest(solve_marker_line(placed), placed) == pytest.approx(drawn, rel=1e-3)


def test_without_edges_the_track_is_twelve_metres_wide_but_for_cones_further_out(lay):
    reference = lay.through(lay.road((300, 0)))
    far = lay.cone(reference, "out", "right", 150.0, -9.0)
    placed = lay.course(reference, lay.corner("1", "left", far), half_m=None)
    left, right = edges_or_assumed(placed, np.array([50.0, 110.0, 120.0, 150.0, 170.0, 300.0]))
    assert left == pytest.approx(6.0)
    assert right == pytest.approx([-6.0, -6.0, -6.0, -9.0, -9.0, -6.0])


def test_without_edges_a_cone_further_out_widens_the_track_there(lay):
    reference = lay.square_corner().reference
    middle = 150 + 15 * np.pi / 2
    placed = lay.course(
        reference,
        lay.corner(
            "1",
            "left",
            lay.cone(reference, "in", "right", middle - 55, -9.0),
            lay.cone(reference, "apex", "left", middle, HALF_M),
            lay.cone(reference, "out", "right", middle + 55, -9.0),
        ),
        half_m=None,
    )
    assert_meets_cones(solve_marker_line(placed), placed)


def test_a_cone_on_the_verge_is_passed_along_the_edge(lay):
    placed = lay.square_corner(("apex 2", "left", 150 + 15 * np.pi / 2 + 5, HALF_M + 1.5))
    assert_inside_edges(solve_marker_line(placed), placed)


def test_a_sight_cone_does_not_pull_the_line(lay):
    plain = lay.square_corner()
    sighted = lay.square_corner(("sight", "left", 150 + 15 * np.pi / 2 + 30, HALF_M + 20.0))
    radii = [tightest(solve_marker_line(c), c) for c in (plain, sighted)]
    assert radii[1] == pytest.approx(radii[0], rel=1e-3)


def test_a_coarse_reference_does_no_harm(lay):
    """The radius hangs on the edges and cones; the reference only counts the stations."""
    fine, coarse = lay.square_corner(), lay.square_corner(step_m=12.0)
    radii = [tightest(solve_marker_line(c), c) for c in (fine, coarse)]
    assert radii[1] == pytest.approx(radii[0], rel=0.02)


def test_a_hairpin_round_a_point_keeps_its_radius(lay):
    """180° about an inner edge of 1 m: the outside of the track is the widest way round."""
    reference = lay.through(lay.road((80, 0), (6 * np.pi, 6), (80, 0)))
    middle = 80 + 3 * np.pi
    placed = lay.course(
        reference,
        lay.corner(
            "1",
            "left",
            lay.cone(reference, "in", "right", middle - 20, -5.0),
            lay.cone(reference, "apex", "right", middle, -5.0),
            lay.cone(reference, "out", "right", middle + 20, -5.0),
        ),
        half_m=5.0,
    )
    assert tightest(solve_marker_line(placed), placed) == pytest.approx(10.5, abs=0.15)


def test_headings_and_radii_are_those_of_the_points(stadium):
    """What is written to a file is x and y: a line whose headings said more would not be read again."""
    line = solve_marker_line(stadium)
    again = StationLine.through(line.x_m, line.y_m, True)
    for corner in stadium.corners:
        only = replace(stadium, corners=(corner,))
        assert tightest(again, only) == pytest.approx(tightest(line, only), rel=3e-3)


def test_wherever_stations_begin_the_line_is_as_open():
    """The bundled course with its lines begun a fourteenth of a lap further on."""
    track = read_track(sample_event() / "track.geojson")
    turned = {}
    for role, line in track.lines("centre", *EDGE_ROLES).items():
        order = np.roll(np.arange(len(line.lon_lat) - 1), -(len(line.lon_lat) // 14))
        order = np.append(order, order[0])
        height = None if line.height_m is None else line.height_m[order]
        turned[role] = replace(line, lon_lat=line.lon_lat[order], height_m=height)
    bends = []
    for drawn in (track, replace(track, **turned)):
        course = place(drawn)
        line = PlacedLine.on(course.reference, solve_marker_line(course))
        held = [line.held(corner, corner.turn_in_m, corner.exit_m) for corner in course.corners]
        bends.append(sum(stretches.curvature_1pm.max() for stretches in held))
    assert bends[0] == pytest.approx(bends[1], rel=1e-3)
