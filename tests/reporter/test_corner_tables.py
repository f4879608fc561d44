from dataclasses import replace

import pytest

from lapkit.reporter.corner_tables import cones_table, lanes_table, laps_table
from lapkit.reporter.display import EMPTY, Measured
from lapkit.reporter.laps_at_corner import Bend, ConePass, LapAtCorner
from lapkit.reporter.rider_at_corner import RiderAtCorner
from lapkit.units import Units

NAN = float("nan")
CONE = ConePass(Measured(0.8, 0.5, 1.1), Measured(-1.2, -1.5, -0.9), lane=2.0, p_lane=0.95)


def at(course, lap, units=Units.METRIC):
    return RiderAtCorner(course, course.corners[0], 0, (), (), [lap], units)


@pytest.fixture
def lap(course):
    """A lap past every cone of the first corner, inside its first seam."""
    corner = course.corners[0]
    first, *others = [seam.name for seam in corner.seams]
    return LapAtCorner(
        session="2",
        lap=5,
        time_s=7.456,
        entry_speed_mps=30.0,
        slowest_mps=20.0,
        exit_speed_mps=25.0,
        quality="fair",
        whole=Bend(Measured(41.0, 39.0, 43.0), Measured(44.0, 43.0, 45.0), 40.0),
        exit=Bend(Measured(51.0, 50.0, 52.0), Measured(34.0, 33.0, 35.0), 30.0),
        line_exit_radius_min_m=60.0,
        exit_radius_ratio=0.85,
        cones={marker.name: CONE for marker in corner.markers},
        seam_calls={first: "inside"} | dict.fromkeys(others, "outside"),
    )


def test_the_gap_to_every_cone_stands_under_its_name_and_the_line_s_own(course, lap):
    here = at(course, lap)
    table = cones_table(here)
    names = [marker.name for marker in here.corner.markers]
    assert table.head[:2] == ("Run", "Lap")
    for head, of_cone in zip(table.head[2:], here.standard.markers, strict=True):
        assert head.startswith(f"{of_cone.marker.name}, m (the line {of_cone.line_gap_m:.1f}")
    assert table.rows == (("2", "5", *["0.8 ± 0.3"] * len(names)),)


def test_a_cone_that_a_lap_has_no_number_for_is_a_dash(course, lap):
    assert cones_table(at(course, replace(lap, cones={}))).rows[0][2:] == (EMPTY,) * len(
        course.corners[0].markers
    )


def test_without_cones_there_is_no_table_of_gaps(course, lap):
    here = at(course, lap)
    assert cones_table(replace(here, corner=replace(here.corner, markers=()))) == ((), (), ())


def test_of_many_cones_a_small_screen_shows_the_last_three(course, lap):
    here = at(course, lap)
    names = [marker.name for marker in here.corner.markers]
    assert len(names) == 3
    assert cones_table(here).main == ()
    more = next(c for c in course.corners if len(c.markers) > 3)
    table = cones_table(replace(here, corner=more))
    assert table.main == table.head[-3:]


def cells(table):
    """Head → cell of a table's only row."""
    (row,) = table.rows
    return dict(zip(table.head, row, strict=True))


def test_lanes_and_distances_from_the_line_stand_cone_by_cone(course, lap):
    here = at(course, lap)
    found = cells(lanes_table(here))
    for marker in here.corner.markers:
        assert found[f"{marker.name}: from the line, m"] == "1.2 ± 0.3 inside"
        assert found[f"{marker.name}: lane"] == "2"


@pytest.mark.parametrize(
    ("call", "told"),
    [
        ("inside", "inside, as the line is"),
        ("outside", "outside, the line is inside"),
        ("unclear", "unclear"),
    ],
)
def test_where_the_line_runs_inside_a_seam_that_is_said_beside_the_call(
    course, lap, monkeypatch, call, told
):
    here = at(course, replace(lap, seam_calls={course.corners[0].seams[0].name: call}))
    head = f"exit: {here.corner.seams[0].name}"
    assert cells(lanes_table(here))[head] == call
    inside = replace(here.standard, seams_to_mind=())
    monkeypatch.setattr(RiderAtCorner, "standard", inside)
    assert cells(lanes_table(here))[head] == told


def test_a_small_screen_shows_the_exit_first(course, lap):
    here = at(course, lap)
    cone, seam = here.corner.markers[-1].name, here.corner.seams[0].name
    assert lanes_table(here).main == (
        f"{cone}: from the line, m", f"{cone}: lane", f"exit: {seam}",
    )  # fmt: skip


def test_a_seam_is_called_over_its_column_as_in_sentences(course, lap):
    here = at(course, lap)
    seams = tuple(
        replace(seam, name=f"seam {n}") for n, seam in enumerate(here.corner.seams, start=1)
    )
    told = lanes_table(replace(here, corner=replace(here.corner, seams=seams)))
    assert "exit: first seam" in told.head and "exit: seam 1" not in told.head


def test_without_a_marker_line_no_column_needs_one(course, lap):
    bare = replace(
        lap,
        cones={n: replace(c, wide_of_line_m=Measured(NAN)) for n, c in lap.cones.items()},
        line_exit_radius_min_m=NAN,
    )
    assert not any("from the line" in head for head in lanes_table(at(course, bare)).head)
    assert not any("line" in head for head in laps_table(at(course, bare)).head)


def test_without_line_and_seams_there_is_no_table_of_lanes(course, lap):
    here = at(course, replace(lap, cones={}))
    assert lanes_table(replace(here, corner=replace(here.corner, seams=()))) == ((), (), ())


def test_each_number_of_a_lap_stands_under_its_head(course, lap):
    turn = course.corners[0].turn
    assert cells(laps_table(at(course, lap))) == {
        "Run": "2",
        "Lap": "5",
        "tightest radius, m": "41 ± 2",
        f"largest lean, {turn}": "44° ± 1°",
        "the line’s lean at this speed": "40°",
        "exit: radius, m": "51 ± 1",
        f"exit: largest lean, {turn}": "34° ± 1°",
        "exit: the line’s lean at this speed": "30°",
        "exit: share of the line’s radius": "85 %",
        "in, km/h": "108",
        "slowest, km/h": "72",
        "out, km/h": "90",
        "seconds": "7.46",
        "data": "fair",
    }


def test_a_small_screen_shows_the_exit_s_radius_and_lean(course, lap):
    table = laps_table(at(course, lap, Units.US))
    assert table.main == (
        "exit: radius, ft",
        f"exit: largest lean, {course.corners[0].turn}",
        "exit: the line’s lean at this speed",
    )
