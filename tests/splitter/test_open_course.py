"""Where a ride of an open course begins and ends."""

from types import SimpleNamespace

import numpy as np
import pytest

from lapkit.course.stations import StationLine
from lapkit.splitter.fixes import Fixes
from lapkit.splitter.laps import _finish_line, _Ridden, _rides_of_an_open_course


@pytest.mark.parametrize(
    ("length_m", "starts_s"),
    [(210.0, [10.0, 50.0]), (310.0, [5.0, 40.0])],
    ids=["he came back and began again", "the course passes its own start line"],
)
def test_of_several_starts_of_an_open_course_that_counts_from_which_its_length_was_ridden(
    length_m, starts_s
):
    ridden = _Ridden(
        None, SimpleNamespace(distance_at=lambda t: 20.0 * t), Fixes(np.arange(0.0, 100.0), 1.0)
    )
    starts, ends = np.array([[5.0], [10.0], [40.0], [50.0]]), np.array([[20.0], [21.0], [60.0]])
    laps = _rides_of_an_open_course(ridden, starts, ends, length_m)
    assert [lap.number for lap in laps] == [1, 2]
    assert [(lap.start_s, lap.end_s) for lap in laps] == list(
        zip(starts_s, [20.0, 60.0], strict=True)
    )


def test_the_finish_of_an_open_course_is_a_metre_before_its_end_and_wider_than_the_start():
    x = np.linspace(0.0, 100.0, 101)
    start = np.array([[0.0, 5.0], [0.0, -7.0]])
    climb = SimpleNamespace(
        start_line=start, reference=StationLine.through(x, np.zeros(101), False)
    )
    # Half of the start line's twelve metres, and six more.
    assert _finish_line(climb) == pytest.approx(np.array([[99.0, 12.0], [99.0, -12.0]]), abs=1e-6)
