"""A line beside the reference: where it passes a station, and the radius it holds."""

import numpy as np
import pytest

from lapkit.course.course import Corner
from lapkit.course.placed_line import HeldStretches, PlacedLine
from lapkit.course.stations import StationLine
from lapkit.course.types import Turn

RADIUS_M = 60.0


def ring(radius_m):
    angle = np.linspace(0.0, 2.0 * np.pi, 240, endpoint=False)
    return StationLine.through(radius_m * np.cos(angle), radius_m * np.sin(angle), True)


@pytest.fixture(scope="module")
def reference():
    return ring(RADIUS_M)


@pytest.fixture(scope="module")
def outside(reference):
    """Five metres outside the reference, which is a left-hander all round."""
    return PlacedLine.on(reference, ring(RADIUS_M + 5.0))


@pytest.fixture(scope="module")
def part(reference):
    """A quarter of it, beside stations 50 to 150."""
    x, y = reference.offset_points(np.linspace(50.0, 150.0, 60), -5.0)
    return PlacedLine.on(reference, StationLine.through(x, y, False))


def test_metres_along_the_line_grow_with_its_radius_lap_after_lap(outside, reference):
    longer = (RADIUS_M + 5.0) / RADIUS_M
    begin = outside.along(30.0)
    for way in (40.0, 300.0, 40.0 + reference.length_m, -reference.length_m):
        assert outside.along(30.0 + way) - begin == pytest.approx(longer * way, abs=0.01)


def test_a_line_in_part_is_beside_only_what_it_passes(part, reference):
    at = np.array([40.0, 60.0, 140.0, 160.0])
    assert part.beside(at).tolist() == [False, True, True, False]
    assert part.beside(at + reference.length_m).tolist() == [False, True, True, False]
    assert part.passes(60.0, 140.0)
    assert not part.passes(60.0, 160.0) and not part.passes(40.0, 140.0)


def test_a_closed_line_passes_everything(outside):
    assert outside.passes(300.0, 500.0) and np.all(outside.beside(np.array([0.0, 370.0])))


@pytest.mark.parametrize(("turn", "radius_m"), [(Turn.LEFT, 65.0), (Turn.RIGHT, np.inf)])
def test_the_radius_held_is_that_of_the_line_where_it_turns_the_corners_way(
    outside, turn, radius_m
):
    corner = Corner("1", turn, 20.0, (60.0,), 100.0)
    held = outside.held(corner, 60.0, 100.0)
    assert held.tightest()[0] == pytest.approx(radius_m, rel=1e-3)
    # From the middle of the first ten metres to that of the last, counted from turn-in.
    longer = (RADIUS_M + 5.0) / RADIUS_M
    assert held.middle_m[[0, -1]] == pytest.approx(
        [40.0 * longer + 5.0, 80.0 * longer - 5.0], abs=0.02
    )
    assert held.station_m[[0, -1]] == pytest.approx(
        [60.0 + 5.0 / longer, 100.0 - 5.0 / longer], abs=0.02
    )


def test_a_phase_shorter_than_ten_metres_is_one_stretch(outside):
    corner = Corner("1", Turn.LEFT, 20.0, (60.0,), 66.0)
    held = outside.held(corner, 60.0, 66.0)
    assert held.station_m == pytest.approx([63.0])


def test_of_stretches_equally_tight_the_middle_one_is_named():
    held = HeldStretches(
        np.arange(5.0), np.arange(5.0), np.array([0.01, 0.02, 0.02, 0.019999, 0.005])
    )
    assert held.tightest() == pytest.approx((50.0, 2.0))
