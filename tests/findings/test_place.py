"""Where at a corner a judgement points."""

import pytest

from lapkit.findings.evidence import gather
from lapkit.findings.place import Place


@pytest.fixture
def birch(run, course):
    ride = run().corner("Birch", lean_max_at_m=25.0, exit_tightest_after_apex_m=12.0)
    ride.corner("Birch", [1], lean_max_at_m=1.0, exit_tightest_after_apex_m=30.0)
    return next(e for e in gather([ride.result()], course) if e.corner.name == "Birch")


def test_a_cone_is_where_it_stands_and_a_seam_is_looked_at_half_way_through_the_exit(birch):
    corner = birch.corner
    assert Place.of_cone(corner.markers[1]) == Place(corner.markers[1].station_m, "apex")
    assert Place.of_seam(corner.seams[0], corner) == Place(corner.last_apex_m + 15.0, "first seam")


def test_the_middling_lap_says_where_it_is_tightest_and_where_it_leans_most(birch):
    corner = birch.corner
    assert Place.of_tightest_exit(birch) == Place(corner.last_apex_m + 12.0)
    assert Place.of_largest_lean(birch) == Place(corner.turn_in_m + 25.0)


def test_camber_is_the_road_s_there(course):
    quarry = next(c for c in course.corners if c.name == "Quarry")
    assert Place(quarry.last_apex_m).camber_deg(quarry) == pytest.approx(-3.0)
