"""The coach's own laps recorded on a walk: their mean, with the curvature that he rode."""

import numpy as np
import pytest

from lapkit.course.plane import Plane
from lapkit.course.stations import StationLine
from lapkit.course.walk_average import averaged
from lapkit.course.walk_lines import Pass
from lapkit.course.walk_ridden import ridden_line

PLANE = Plane(50.0, 8.0)
RADIUS_M = 60.0


@pytest.fixture(scope="module")
def reference():
    """A ring as it was walked: every 20 m it swings 0.4 m to either side."""
    angle = np.linspace(0.0, 2.0 * np.pi, 300, endpoint=False)
    radius = RADIUS_M + 0.4 * np.sin(19.0 * angle)
    return StationLine.through(radius * np.cos(angle), radius * np.sin(angle), True)


def lap(from_rad, to_rad, inside_m=2.0, height_m=np.nan):
    """A place every metre and a half, so far inside the ring."""
    radius = RADIUS_M - inside_m
    step = np.copysign(1.5 / radius, to_rad - from_rad)
    angle = np.arange(from_rad, to_rad, step)
    return Pass(radius * np.cos(angle), radius * np.sin(angle), np.full(len(angle), height_m))


def ridden(reference, *passes):
    line = ridden_line(PLANE, reference, passes, averaged(reference, passes))
    x, y = PLANE.to_xy(line.lon_lat[:, 1], line.lon_lat[:, 0])
    return line, np.hypot(x, y)


def test_a_lap_keeps_its_own_curvature_and_not_that_of_the_walk(reference):
    line, radius = ridden(reference, lap(0.0, 4.2 * np.pi))
    assert radius == pytest.approx(RADIUS_M - 2.0, abs=0.02)
    assert np.array_equal(line.lon_lat[0], line.lon_lat[-1])


def test_laps_of_several_recordings_are_averaged_whichever_way_they_were_recorded(reference):
    _, radius = ridden(reference, lap(0.0, 2.1 * np.pi, 1.0), lap(2.1 * np.pi, 0.0, 3.0))
    assert radius == pytest.approx(RADIUS_M - 2.0, abs=0.1)


def test_a_part_of_a_lap_is_a_part_of_a_line(reference):
    line, radius = ridden(reference, lap(0.5, 2.5))
    # At the ends half of what is averaged is missing.
    assert radius[5:-5] == pytest.approx(RADIUS_M - 2.0, abs=0.05)
    x, y = PLANE.to_xy(line.lon_lat[:, 1], line.lon_lat[:, 0])
    ends = np.arctan2(y, x)[[0, -1]]
    assert ends == pytest.approx([0.5, 2.5], abs=0.1)


def test_heights_come_with_the_line(reference):
    line, _ = ridden(reference, lap(0.0, 2.1 * np.pi, height_m=12.0))
    assert line.height_m == pytest.approx(12.0)
    assert ridden(reference, lap(0.0, 2.1 * np.pi))[0].height_m is None
