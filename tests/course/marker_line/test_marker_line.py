"""The marker line as the mean of the coach's laps."""

import numpy as np
import pytest

from lapkit.course.marker_line import ridden_marker_line
from lapkit.errors import TrackError

HALF_M = 6.0


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


def test_ridden_line_of_an_open_course(lay):
    placed = lay.square_corner()
    line = ridden_marker_line(placed, [lap(placed, 1.0), lap(placed, 2.0)])
    assert not line.closed
    assert np.max(np.abs(placed.reference.follow(line.x_m, line.y_m)[1] - 1.5)) < 0.1
