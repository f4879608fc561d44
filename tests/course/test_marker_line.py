"""The marker line: cones met, edges kept, radius as large as can be, faults named."""

from dataclasses import replace

import numpy as np
import pytest

from lapkit.course.corridor import CONE_ROOM_M, EDGE_ROOM_M, window
from lapkit.course.course import Corner, Course, CourseMarker
from lapkit.course.line_faults import conflict
from lapkit.course.line_problem import pose
from lapkit.course.line_solver import ROLL_OVER_ROOT_M
from lapkit.course.marker_line import ridden_marker_line, solve_marker_line
from lapkit.course.place import place
from lapkit.course.plane import Plane
from lapkit.course.stations import StationLine
from lapkit.course.track_file import read_track
from lapkit.course.types import GeoLine, MarkerKind, Track, Turn
from lapkit.errors import TrackError

HALF_M = 6.0
KINDS = {"in": MarkerKind.TURN_IN, "out": MarkerKind.EXIT, "sight": MarkerKind.SIGHT}


def road(*parts, step_m=1.0):
    """Points along arcs and straights given as (length m, radius m; left positive, 0 straight)."""
    heading, points = 0.0, [np.zeros((1, 2))]
    for length, radius in parts:
        steps = max(round(length / step_m), 1)
        bend = length / steps / radius if radius else 0.0
        at = heading + bend * (np.arange(steps) + 0.5)
        chord = 2.0 * radius * np.sin(0.5 * bend) if radius else length / steps
        walk = np.cumsum(chord * np.stack([np.cos(at), np.sin(at)], axis=-1), axis=0)
        points.append(points[-1][-1] + walk)
        heading += bend * steps
    return np.concatenate(points)


def cone(reference, name, side, station_m, offset_m, within_m=1.0):
    """A marker beside the reference; its kind follows from the first word of its name."""
    x, y = reference.offset_points(station_m, offset_m)
    kind = KINDS.get(name.split()[0], MarkerKind.APEX)
    return CourseMarker(
        name, kind, Turn(side), float(x), float(y), station_m, offset_m, 0.0, within_m
    )


def corner(name, turn, *cones):
    """A corner from its first cone to its last."""
    apexes = tuple(c.station_m for c in cones if c.kind is MarkerKind.APEX)
    return Corner(name, Turn(turn), cones[0].station_m, apexes, cones[-1].station_m, cones)


def course(reference, *corners, half_m=HALF_M):
    """A course of even width; without edges when ``half_m`` is None."""
    edges = {}
    if half_m is not None:
        edges = {
            "edge_station_m": np.array([0.0, reference.length_m]),
            "left_offset_m": np.full(2, half_m),
            "right_offset_m": np.full(2, -half_m),
        }
    return Course(Plane(0.0, 0.0), reference, np.zeros((2, 2)), corners, **edges)


def through(points, closed=False):
    return StationLine.through(points[:, 0], points[:, 1], closed)


def square_corner(*extra, half_m=HALF_M, step_m=1.0):
    """A left-hander of 90° and 30 m radius between straights, with turn-in, apex and exit cones."""
    reference = through(road((150, 0), (30 * np.pi / 2, 30), (150, 0), step_m=step_m))
    middle = 150 + 15 * np.pi / 2
    cones = [
        cone(reference, "in", "right", middle - 55, -HALF_M),
        cone(reference, "apex", "left", middle, HALF_M),
        *(cone(reference, *e) for e in extra),
        cone(reference, "out", "right", middle + 55, -HALF_M),
    ]
    ordered = sorted(cones, key=lambda c: c.station_m)
    return course(reference, corner("1", "left", *ordered), half_m=half_m)


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


@pytest.fixture
def stadium(features, write):
    """The invented stadium as a placed course: two left-hand bends with three cones each."""
    return place(read_track(write(features)))


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


def test_a_second_apex_is_met_and_costs_radius():
    single = square_corner()
    double = square_corner(("apex 2", "left", 150 + 15 * np.pi / 2 + 20, HALF_M))
    lines = [solve_marker_line(c) for c in (single, double)]
    assert_meets_cones(lines[1], double)
    assert tightest(lines[1], double) < 0.97 * tightest(lines[0], single)


def linked_corners():
    """A left-hander into a right-hander of 45 m, with 20 m of straight between them."""
    reference = through(road((120, 0), (50, 45), (20, 0), (50, -45), (120, 0)))
    return course(
        reference,
        corner(
            "1",
            "left",
            cone(reference, "in", "right", 100, -HALF_M),
            cone(reference, "apex", "left", 147, HALF_M),
            cone(reference, "out", "left", 178, 2.0, 4.0),
        ),
        corner(
            "2",
            "right",
            cone(reference, "in", "left", 182, 2.0, 4.0),
            cone(reference, "apex", "right", 213, -HALF_M),
            cone(reference, "out", "left", 260, HALF_M),
        ),
    )


def test_linked_corners_are_one_flowing_line():
    s = linked_corners()
    line = solve_marker_line(s)
    assert_meets_cones(line, s)
    assert_inside_edges(line, s)
    held = np.diff(line.heading_at(np.arange(90.0, 270.0, 10.0))) / 10.0
    assert held.max() == pytest.approx(-held.min(), rel=0.1)
    assert 1.0 / held.max() > 60.0


def test_a_machine_can_be_rolled_over_from_corner_to_corner():
    """From full curvature one way to full curvature the other takes the way that rolling takes."""
    s = linked_corners()
    line = solve_marker_line(s)
    apexes = [line.project(m.x_m, m.y_m)[0] for c in s.corners for m in c.markers[1:2]]
    at = np.arange(apexes[0], apexes[1], 0.25)
    curvature = np.interp(at, line.station_m, line.curvature_1pm)
    assert np.all(np.diff(curvature) < 2e-4)
    most = np.max(np.abs(curvature))
    turning = at[np.abs(curvature) < 0.9 * most]
    assert turning[-1] - turning[0] > 1.6 * ROLL_OVER_ROOT_M / np.sqrt(most)


def test_corners_of_one_hand_are_not_held_apart(stadium):
    cones = [window(stadium, c, m) for c in stadium.corners for m in c.markers]
    assert pose(stadium, cones).flicks == ()
    cones = [window(linked_corners(), c, m) for c in linked_corners().corners for m in c.markers]
    ((first, last, sign),) = pose(linked_corners(), cones).flicks
    assert 147 / 2.5 <= first < last <= 213 / 2.5 and sign == 1


def test_no_line_beside_it_turns_less():
    """Of the lines that keep the largest curvature, none nearby has less squared curvature."""
    placed = square_corner()
    cones = [window(placed, c, m) for c in placed.corners for m in c.markers]
    problem = pose(placed, cones)
    line = solve_marker_line(placed)
    move = np.zeros(len(problem.station_m))
    for _ in range(3):
        move = move - line.project(*problem.points(move).T)[1]
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


def test_an_open_course_has_an_open_line():
    line = solve_marker_line(square_corner())
    assert not line.closed
    assert line.length_m == pytest.approx(150 + 15 * np.pi + 150, rel=0.05)


def test_a_course_without_corners_is_cut_as_wide_as_the_edges_let():
    t = np.linspace(0, 2 * np.pi, 400, endpoint=False)
    circle = through(60 * np.stack([np.cos(t), np.sin(t)], axis=-1), closed=True)
    line = solve_marker_line(course(circle))
    assert np.max(line.curvature_1pm) == pytest.approx(1 / (60 + HALF_M - EDGE_ROOM_M), rel=2e-3)


def test_the_width_stands_in_for_edges():
    wide = square_corner(half_m=None)
    nowhere = GeoLine(np.zeros((2, 2)))
    track = Track("track.geojson", "", centre=nowhere, centre_width_m=2 * HALF_M)
    drawn = tightest(solve_marker_line(square_corner()), square_corner())
    for placed in (wide, replace(wide, track=track)):
        assert tightest(solve_marker_line(placed), placed) == pytest.approx(drawn, rel=1e-3)


def test_without_edges_a_cone_further_out_widens_the_track_there():
    reference = square_corner().reference
    middle = 150 + 15 * np.pi / 2
    placed = course(
        reference,
        corner(
            "1",
            "left",
            cone(reference, "in", "right", middle - 55, -9.0),
            cone(reference, "apex", "left", middle, HALF_M),
            cone(reference, "out", "right", middle + 55, -9.0),
        ),
        half_m=None,
    )
    assert_meets_cones(solve_marker_line(placed), placed)


def test_a_cone_on_the_verge_is_passed_along_the_edge():
    placed = square_corner(("apex 2", "left", 150 + 15 * np.pi / 2 + 5, HALF_M + 1.5))
    assert_inside_edges(solve_marker_line(placed), placed)


def test_a_sight_cone_does_not_pull_the_line():
    plain = square_corner()
    sighted = square_corner(("sight", "left", 150 + 15 * np.pi / 2 + 30, HALF_M + 20.0))
    radii = [tightest(solve_marker_line(c), c) for c in (plain, sighted)]
    assert radii[1] == pytest.approx(radii[0], rel=1e-3)


def test_a_coarse_reference_does_no_harm():
    """The radius hangs on the edges and cones; the reference only counts the stations."""
    fine, coarse = square_corner(), square_corner(step_m=12.0)
    radii = [tightest(solve_marker_line(c), c) for c in (fine, coarse)]
    assert radii[1] == pytest.approx(radii[0], rel=0.02)


def test_a_hairpin_round_a_point_keeps_its_radius():
    """180° about an inner edge of 1 m: the outside of the track is the widest way round."""
    reference = through(road((80, 0), (6 * np.pi, 6), (80, 0)))
    middle = 80 + 3 * np.pi
    placed = course(
        reference,
        corner(
            "1",
            "left",
            cone(reference, "in", "right", middle - 20, -5.0),
            cone(reference, "apex", "right", middle, -5.0),
            cone(reference, "out", "right", middle + 20, -5.0),
        ),
        half_m=5.0,
    )
    assert tightest(solve_marker_line(placed), placed) == pytest.approx(10.5, abs=0.15)


@pytest.mark.parametrize(
    ("extra", "named", "words"),
    [
        (("far", "left", 180.0, HALF_M + 9.0), "'far'", "9.0 m outside"),
        (("wrong side", "right", 180.0, HALF_M), "'wrong side'", "no line can leave"),
        (("strict", "left", 180.0, HALF_M, 0.3), "'strict'", "within 0.3 m"),
        (("across", "right", 174.0, -HALF_M), "'across'", "no line passes both"),
        (("chicane", "right", 181.0, -HALF_M), "'chicane'", "stands in the way"),
    ],
)
def test_a_cone_that_cannot_be_met_is_named(extra, named, words):
    placed = square_corner(
        ("apex 2", "left", 174.0, HALF_M), extra, ("apex 3", "left", 188.0, HALF_M)
    )
    with pytest.raises(TrackError) as caught:
        solve_marker_line(placed)
    message = str(caught.value)
    assert named in message and words in message and "corner '1'" in message


@pytest.mark.parametrize("lone", [True, False])
def test_a_cone_nearer_to_a_bends_centre_than_a_line_can_come_is_named(lone):
    """A hairpin of 4 m about a cone set on its inner edge, 5.8 m in from the middle of the road."""
    reference = through(road((80, 0), (4 * np.pi, 4), (80, 0)))
    middle = 80 + 2 * np.pi
    apex = cone(reference, "apex", "left", middle, 5.8)
    others = (cone(reference, "in", "right", middle - 30, -5.0),
              cone(reference, "out", "right", middle + 30, -5.0))  # fmt: skip
    hairpin = corner("1", "left", others[0], apex, others[1])
    if lone:
        hairpin = replace(hairpin, markers=(apex,))
    with pytest.raises(TrackError, match="no line can reach this cone") as caught:
        solve_marker_line(course(reference, hairpin))
    assert caught.value.where == "corner '1', marker 'apex'"


def test_a_programme_that_a_lone_cone_leaves_unsolved_is_a_fault_of_the_track():
    placed = square_corner()
    lone = window(placed, placed.corners[0], placed.corners[0].markers[0])
    assert conflict([lone]).where == lone.where
    assert isinstance(conflict([]), TrackError)


def test_a_track_too_narrow_to_turn_in_names_the_place():
    reference = through(road((60, 0), (2.5 * np.pi, 2.5), (60, 0), step_m=0.5))
    placed = course(reference, half_m=1.0)
    with pytest.raises(TrackError, match="between the edges the line would have to"):
        solve_marker_line(placed)


def lap(placed, offset_m, start_m=0.0, length_m=None):
    """A lap at an offset that may depend on the station, as station and offset arrays."""
    length = placed.reference.length_m if length_m is None else length_m
    station = start_m + np.arange(0.0, length, 2.3)
    return station, np.broadcast_to(offset_m, len(station)).astype(float)


def test_ridden_line_is_the_mean_of_the_laps(stadium):
    line = ridden_marker_line(stadium, [lap(stadium, o) for o in (-1.0, 0.5, 2.0)])
    _, offset = stadium.reference.follow(line.x_m, line.y_m)
    assert line.closed
    assert np.max(np.abs(offset - 0.5)) < 0.05


def test_laps_may_begin_anywhere_and_be_cut_short(stadium):
    length = stadium.reference.length_m
    laps = [
        lap(stadium, 1.0, start_m=3.4 * length),
        lap(stadium, 2.0, start_m=0.2 * length, length_m=0.5 * length),
    ]
    line = ridden_marker_line(stadium, laps)
    at = stadium.reference.at(np.array([0.45, 0.9]) * length)
    _, beside = line.project(*at)
    assert -beside == pytest.approx([1.5, 1.0], abs=0.05)


def test_noise_of_the_laps_is_smoothed(stadium):
    rng = np.random.default_rng(5)
    station, offset = lap(stadium, 0.0)
    noisy = [(station, offset + rng.normal(0, 0.1, len(station))) for _ in range(4)]
    line = ridden_marker_line(stadium, noisy)
    turned = np.diff(line.heading_at(np.arange(0.0, line.length_m, 10.0))) / 10.0
    assert np.max(np.abs(turned)) < 1.15 / 40.0


def test_ridden_line_needs_laps_that_cover_the_course(stadium):
    with pytest.raises(TrackError, match="none of the laps"):
        ridden_marker_line(stadium, [])
    with pytest.raises(TrackError, match=r"leave out 4\d\d m"):
        ridden_marker_line(stadium, [lap(stadium, 0.0, length_m=stadium.reference.length_m / 2)])


def test_ridden_line_of_an_open_course():
    placed = square_corner()
    line = ridden_marker_line(placed, [lap(placed, 1.0), lap(placed, 2.0)])
    assert not line.closed
    assert np.max(np.abs(placed.reference.follow(line.x_m, line.y_m)[1] - 1.5)) < 0.1
