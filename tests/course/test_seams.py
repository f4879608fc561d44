"""Which seams serve a corner, and in which order they are counted."""

from types import SimpleNamespace

import numpy as np
import pytest

from lapkit.course.seams import PlacedSeam, seams_of
from lapkit.course.stations import StationLine
from lapkit.course.types import Turn

LENGTH_M = 400.0


@pytest.fixture(scope="module")
def ring():
    angle = np.linspace(0.0, 2.0 * np.pi, 720, endpoint=False)
    radius = LENGTH_M / (2.0 * np.pi)
    return StationLine.through(radius * np.cos(angle), radius * np.sin(angle), True)


@pytest.fixture(scope="module")
def straight():
    return StationLine.through([0.0, 200.0, 400.0], [0.0, 0.0, 0.0], False)


def corner(turn_in_m=150.0, apex_m=180.0, exit_m=220.0, turn=Turn.LEFT, name="Bowl"):
    inner = SimpleNamespace(name=name, turn=turn)
    return SimpleNamespace(
        corner=inner, turn_in_m=turn_in_m, apexes_m=(apex_m - 10.0, apex_m), exit_m=exit_m
    )


def seam(start_m, stop_m, offset_m=1.0, name="seam", corner=""):
    """Every metre; the offset grows by a millimetre each, so that places are told apart."""
    station = np.arange(start_m, stop_m + 0.5)
    return PlacedSeam(name, corner, station, offset_m + 0.001 * (station - start_m))


def names(found):
    return [s.name for s in found]


@pytest.mark.parametrize(("turn", "order"), [(Turn.LEFT, "acb"), (Turn.RIGHT, "bca")])
def test_seams_are_counted_from_the_inside_of_the_corner_outward(ring, turn, order):
    seams = (seam(100, 300, 3.0, "a"), seam(100, 300, -3.0, "b"), seam(100, 300, 0.5, "c"))
    assert names(seams_of(corner(turn=turn), seams, ring)) == list(order)


def test_they_are_ordered_by_where_they_run_in_the_exit_phase(ring):
    """Before the apex the one lies inside the other, behind it outside."""
    station = np.array([100.0, 170.0, 190.0, 270.0])
    crossing = PlacedSeam("crossing", "", station, np.array([4.0, 4.0, -2.0, -2.0]))
    assert names(seams_of(corner(), (crossing, seam(100, 300, 0.0)), ring)) == ["seam", "crossing"]


def test_a_seam_is_kept_sixty_metres_before_turn_in_and_after_the_exit(ring):
    (found,) = seams_of(corner(), (seam(20, 380),), ring)
    assert (found.station_m[0], found.station_m[-1]) == (90.0, 280.0)
    np.testing.assert_allclose(found.offset_m, 1.0 + 0.001 * (found.station_m - 20.0))
    with pytest.raises(ValueError, match="read-only"):
        found.offset_m[0] = 0.0


@pytest.mark.parametrize(("stop_m", "serves"), [(200, False), (201, True)])
def test_one_that_names_no_corner_serves_it_along_more_than_half_of_the_exit(ring, stop_m, serves):
    # From the last apex at 180 to the exit at 220 is forty metres.
    assert bool(seams_of(corner(), (seam(120, stop_m),), ring)) == serves


@pytest.mark.parametrize(("start_m", "serves"), [(199, True), (200, False)])
def test_it_may_begin_within_the_exit(ring, start_m, serves):
    assert bool(seams_of(corner(), (seam(start_m, 350),), ring)) == serves


@pytest.mark.parametrize(("named", "serves"), [("Bowl", True), ("Hairpin", False)])
def test_one_that_names_a_corner_serves_that_one_however_short(ring, named, serves):
    assert bool(seams_of(corner(), (seam(178, 190, corner=named),), ring)) == serves


def test_one_that_names_the_corner_but_does_not_come_near_serves_nothing(ring, straight):
    for line in (ring, straight):
        assert seams_of(corner(), (seam(300, 350, corner="Bowl"),), line) == ()


@pytest.mark.parametrize("lap", [-2, -1, 0, 1, 3])
def test_stations_are_those_of_the_corner_s_own_lap(ring, lap):
    (found,) = seams_of(corner(), (seam(160 + lap * LENGTH_M, 230 + lap * LENGTH_M),), ring)
    np.testing.assert_allclose(found.station_m[[0, -1]], [160.0, 230.0], atol=2e-3 * (1 + abs(lap)))


def test_a_corner_across_the_start_of_stations_has_its_seam_unwrapped(ring):
    across = corner(turn_in_m=370.0, apex_m=390.0, exit_m=430.0)
    (found,) = seams_of(across, (seam(0, 70),), ring)
    assert found.station_m[0] == pytest.approx(400.0, abs=2e-3)
    assert found.station_m[-1] == pytest.approx(470.0, abs=2e-3)


def test_one_that_goes_all_the_way_round_goes_on_where_it_began(ring):
    across = corner(turn_in_m=370.0, apex_m=390.0, exit_m=430.0)
    (found,) = seams_of(across, (seam(0, 399),), ring)
    assert found.station_m[0] == pytest.approx(310.0, abs=1.1)
    assert found.station_m[-1] == pytest.approx(490.0, abs=1.1)
    assert np.all(np.diff(found.station_m) > 0.0)
    assert found.offset_at(350.0) == pytest.approx(1.350, abs=2e-3)
    assert found.offset_at(450.0) == pytest.approx(1.050, abs=2e-3)


def test_on_an_open_course_it_stays_where_it_runs(straight):
    assert seams_of(corner(), (seam(-300, -100),), straight) == ()
    (found,) = seams_of(corner(), (seam(120, 260),), straight)
    assert (found.station_m[0], found.station_m[-1]) == (120.0, 260.0)
