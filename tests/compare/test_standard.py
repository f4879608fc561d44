"""What riders are held against at a corner: on a circle known in closed form, and beside the coach's own sheets."""

from dataclasses import replace

import numpy as np
import pytest

from lapkit.compare.standard import standards
from lapkit.course import line_table
from lapkit.course.placed_line import PlacedLine
from lapkit.simulate.courses import built_in


@pytest.fixture
def standard(round_course):
    return standards(round_course)["Long"]


def test_a_marker_has_its_own_line_gap_on_its_proper_side(standard):
    # The line of 62 m passes cones at 65 m, which should stand on the right, and one at 57 m, on the left.
    gaps = {held.marker.name: held.line_gap_m for held in standard.markers}
    assert gaps == pytest.approx({"turn-in": 3.0, "apex": 5.0, "exit": 3.0}, abs=1e-3)
    apex = standard.corner.markers[1]
    assert standard.at(apex).marker is apex


def test_outward_is_away_from_the_middle_of_the_corner(standard):
    for held in standard.markers:
        place = np.array([held.marker.x_m, held.marker.y_m])
        np.testing.assert_allclose(held.outward, place / np.hypot(*place), atol=1e-4)


def test_line_and_seams_have_their_offsets_beside_each_marker(standard):
    for held in standard.markers:
        assert held.line_offset_m == pytest.approx(-2.0, abs=1e-3)
        assert held.seam_offset_m == pytest.approx([1.0, -3.0])


def test_offsets_beside_a_marker_are_means_over_ten_metres_as_a_rider_s_are(round_course):
    """Of a seam that bends away from the apex cone by (x / 5 m)², the mean over 5 m to either side is a third of a metre."""
    corner = round_course.corners[0]
    station = np.linspace(corner.turn_in_m - 30.0, corner.exit_m + 30.0, 4001)
    bends = np.square((station - corner.apexes_m[0]) / 5.0)
    seam = replace(corner.seams[0], station_m=station, offset_m=bends)
    course = replace(round_course, corners=(replace(corner, seams=(seam,)),))
    held = standards(course)["Long"].at(corner.markers[1])
    assert held.seam_offset_m == pytest.approx([1.0 / 3.0], rel=0.02)


def test_a_seam_to_mind_is_one_that_the_line_stays_outside_of(standard):
    # Seams lie at 59 and at 63 m.
    assert [seam.name for seam in standard.seams_to_mind] == ["first seam"]
    assert standard.counted_seam is standard.corner.seams[0]


def test_the_marker_line_is_read_at_stations_and_ends_where_it_ends(standard):
    station = standard.line.station_m
    beyond = np.array([station[0] - 1.0, station[10], station[-1] + 1.0])
    along = standard.along_line(lambda line: line.heading_rad, beyond)
    heading = standard.line.heading_rad
    assert along.tolist() == [heading[0], heading[10], heading[-1]]
    assert np.isnan(standard.line_offset_at(beyond)).tolist() == [True, False, True]


@pytest.mark.parametrize(("exit_phase_m", "judged"), [(14.9, False), (15.1, True)])
def test_exits_are_judged_where_the_way_out_is_long_enough(round_course, exit_phase_m, judged):
    corner = round_course.corners[0]
    short = replace(corner, exit_m=corner.last_apex_m + exit_phase_m)
    course = replace(round_course, corners=(short,))
    standard, bare = (
        standards(each)["Long"] for each in (course, replace(course, marker_line=None))
    )
    assert (standard.judges_exit, standard.exit_too_short) == (judged, not judged)
    assert (bare.judges_exit, bare.exit_too_short) == (False, False)


def test_without_a_marker_line_all_that_comes_of_it_is_unknown(round_course):
    bare = standards(replace(round_course, marker_line=None))["Long"]
    assert bare.line is None
    assert np.isnan([bare.exit_curvature_1pm, bare.exit_radius_m]).all()
    assert np.isnan([held.line_gap_m for held in bare.markers]).all()
    assert np.isnan([held.line_offset_m for held in bare.markers]).all()
    assert np.isnan(bare.line_offset_at(np.zeros(2))).all()
    assert np.isnan(bare.along_line(lambda line: line.slope, np.zeros(2))).all()
    assert bare.seams_to_mind == bare.corner.seams


@pytest.mark.parametrize(
    ("seams", "counted", "inside"), [((0, 1), 0, False), ((1,), None, True), ((), None, False)]
)
def test_a_corner_counts_no_seam_without_one_or_where_the_line_itself_is_inside_of_all(
    round_course, seams, counted, inside
):
    corner = round_course.corners[0]
    fewer = replace(corner, seams=tuple(corner.seams[number] for number in seams))
    standard = standards(replace(round_course, corners=(fewer,)))["Long"]
    assert standard.counted_seam is (None if counted is None else corner.seams[counted])
    assert standard.line_inside is inside


@pytest.mark.parametrize("name", ["sample", "flowing", "twisty"])
def test_the_marker_lines_exit_radius_is_the_one_of_the_coach_s_sheets(name):
    course = built_in(name)
    table = line_table(course).query("line == 'marker'").set_index("corner")["exit_radius_min_m"]
    held = {corner: standard.exit_radius_m for corner, standard in standards(course).items()}
    assert held == table.to_dict()


def test_the_tightest_ten_metres_are_found_wherever_they_begin():
    """Against stretches from every centimetre: none is tighter, and one is as tight."""
    course = built_in("twisty")
    line = course.marker_line
    placed = PlacedLine.on(course.reference, line)
    for corner in course.corners:
        first, last = placed.along(corner.last_apex_m), placed.along(corner.exit_m)
        start = np.arange(first, last - 10.0, 0.01)
        every = corner.turn.sign * (line.heading_at(start + 10.0) - line.heading_at(start)) / 10.0
        most = placed.held(corner, corner.last_apex_m, corner.exit_m).curvature_1pm.max()
        assert every.max() <= most * (1.0 + 1e-9)
        assert every.max() == pytest.approx(most, rel=2e-4)
