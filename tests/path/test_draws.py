"""What follows from an ensemble of paths by arithmetic, on a circle and a straight known in closed form."""

import numpy as np
import pytest

from lapkit.path.draws import PathDraws
from lapkit.units import GRAVITY_MPS2

TIME_S = np.arange(0.0, 30.0, 0.05)
RADII_M = np.array([[40.0], [41.0], [38.0]])
SPEED_MPS = 16.0


def draws(x, y, vx, vy, ax, ay, lean_tangent, com_height_m=0.6):
    rows = (np.broadcast_to(v, (3, len(TIME_S))).copy() for v in (x, y, vx, vy, ax, ay))
    lean = np.broadcast_to(lean_tangent, (3, len(TIME_S))).copy()
    return PathDraws(TIME_S.copy(), *rows, lean, np.full((3, 1), com_height_m))


def circle(side=1.0, drive_mps2=0.0):
    """Three circles ridden from the east, to the left or (−1) the right, under drive."""
    speed = SPEED_MPS + drive_mps2 * TIME_S
    way = SPEED_MPS * TIME_S + 0.5 * drive_mps2 * TIME_S**2
    angle = side * way / RADII_M
    out, ahead = np.exp(1j * angle), side * 1j * np.exp(1j * angle)
    at, v = RADII_M * out, speed * ahead
    a = drive_mps2 * ahead - speed**2 / RADII_M * out
    tangent = side * speed**2 / RADII_M / GRAVITY_MPS2
    return draws(at.real, at.imag, v.real, v.imag, a.real, a.imag, tangent)


@pytest.mark.parametrize("side", [1.0, -1.0])
def test_on_a_circle_curvature_heading_and_lean_are_known(side):
    paths = circle(side)
    np.testing.assert_allclose(paths.speed_mps, SPEED_MPS)
    np.testing.assert_allclose(paths.curvature_1pm, side / RADII_M * np.ones_like(paths.x_m))
    np.testing.assert_allclose(
        paths.heading_rad, side * (0.5 * np.pi + SPEED_MPS * TIME_S / RADII_M), atol=1e-9
    )
    np.testing.assert_allclose(paths.accel_mps2, 0.0, atol=1e-9)
    expected = np.degrees(np.arctan(side * SPEED_MPS**2 / RADII_M / GRAVITY_MPS2))
    np.testing.assert_allclose(paths.lean_deg, expected * np.ones_like(paths.x_m))


@pytest.mark.parametrize("side", [1.0, -1.0])
def test_tyres_run_outside_by_the_height_times_the_sine_of_lean(side):
    paths = circle(side)
    x, y = paths.tyre_xy_m
    sine = np.sin(np.radians(np.abs(paths.lean_deg)))
    np.testing.assert_allclose(np.hypot(x, y), RADII_M + 0.6 * sine)
    np.testing.assert_allclose(np.arctan2(y, x), np.arctan2(paths.y_m, paths.x_m), atol=1e-12)


def test_drive_along_the_circle_is_told_from_turning():
    paths = circle(drive_mps2=0.7)
    np.testing.assert_allclose(paths.accel_mps2, 0.7)
    np.testing.assert_allclose(paths.curvature_1pm, 1.0 / RADII_M * np.ones_like(paths.x_m))
    # Speed grows evenly, so the trapezium of each step is exact.
    np.testing.assert_allclose(
        paths.distance_m, np.tile(SPEED_MPS * TIME_S + 0.35 * TIME_S**2, (3, 1)), atol=1e-9
    )


def test_standing_still_it_neither_turns_nor_drives_nor_divides_by_nothing():
    still = draws(3.0, 4.0, 0.0, 0.0, 0.2, -0.1, 0.0)
    for values in (still.curvature_1pm, still.accel_mps2, still.distance_m):
        np.testing.assert_array_equal(values, 0.0)
    x, y = still.tyre_xy_m
    assert np.all(x == 3.0) and np.all(y == 4.0)


def test_slower_than_half_a_metre_a_second_what_is_divided_by_speed_fades():
    """At 0.1 m/s the cross product is divided by 0.5³, so that no turn of a standing rider is sharp."""
    creeping = draws(0.0, 0.0, 0.1, 0.0, 0.3, 0.2, 0.5)
    np.testing.assert_allclose(creeping.curvature_1pm, 0.1 * 0.2 / 0.125)
    np.testing.assert_allclose(creeping.accel_mps2, 0.1 * 0.3 / 0.5)
    sine = 0.5 / np.sqrt(1.25)
    np.testing.assert_allclose(creeping.tyre_xy_m[1], -0.6 * sine * 0.1 / 0.5)


@pytest.mark.parametrize("name", ["time_s", "vx_mps", "com_height_m"])
def test_what_was_given_cannot_be_changed_afterwards(name):
    paths = circle()
    with pytest.raises(ValueError, match="read-only"):
        getattr(paths, name)[0] = 1.0


def test_a_notebook_shows_how_many_and_not_every_number():
    assert repr(circle()) == "<PathDraws: the estimate and 2 draws at 600 times>"
