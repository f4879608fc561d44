"""Which laps rode a corner whole, found on a coarse sweep."""

from dataclasses import replace

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


@pytest.mark.parametrize(("turn_in_m", "laps"), [(0.5, [2, 3, 4, 5]), (-0.5, [1, 2, 3, 4])])
def test_a_corner_that_begins_beside_the_start_line_belongs_to_the_lap_of_its_turn_in(
    circle_path, round_course, turn_in_m, laps
):
    """The sweep has a point every 4 m, so that the last one before such a turn-in lies before the line as well."""
    length = round_course.reference.length_m
    turn_in_m = float(np.mod(turn_in_m, length))
    exit_m = turn_in_m + 150.0
    corner = replace(round_course.corners[0], turn_in_m=turn_in_m, exit_m=exit_m, markers=())
    path = circle_path(laps=4.7)
    found = rides_through(Sweep.of(path, round_course), path.split(), corner, round_course)
    assert [lap.number for lap in found.laps] == laps
    start = np.array([lap.start_s for lap in found.laps])
    entered_s = start + np.mod(turn_in_m, length) / path.speed_mps
    assert found.begin_m == pytest.approx(
        path.speed_mps * (entered_s - path.start_s) - 30.0, abs=5.0
    )
