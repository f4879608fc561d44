"""What riders are held against agrees with what the coach's own sheets say of the marker line."""

import numpy as np
import pytest

from lapkit.compare.standard import standards
from lapkit.course import line_table
from lapkit.course.placed_line import PlacedLine
from lapkit.simulate.courses import built_in


@pytest.mark.parametrize("name", ["sample", "flowing", "twisty"])
def test_the_marker_lines_exit_radius_is_one_number(name):
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
