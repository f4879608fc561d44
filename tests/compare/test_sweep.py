"""Which laps rode a corner whole, found on a coarse sweep."""

import numpy as np
import pytest

from lapkit.compare.sweep import Sweep, rides_through


def test_every_lap_that_rides_the_corner_whole_is_found(circle_path, round_course):
    path = circle_path(laps=4.0)
    sweep = Sweep.of(path, round_course)
    corner = round_course.corners[0]
    found = rides_through(sweep, path.split(), corner, round_course)
    # 20° before the line and four laps: the corner (60° to 180°) is ridden in laps 1 to 4.
    assert [lap.number for lap in found.laps] == [1, 2, 3, 4]
    assert found.before_m == pytest.approx(np.arange(1, 5) * round_course.reference.length_m)
