"""A different line every lap."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import chi2

from lapkit.findings import Kind, find


def faults(found):
    return [f for f in found if f.kind is not Kind.WELL]


def test_a_different_line_every_lap(run, course):
    ride = run(laps=8)
    for lap in range(1, 9):
        for marker in ("turn-in", "apex", "exit"):
            ride.moved("Weir", marker, 1.8 * (-1) ** lap, [lap])
    found = faults(find([ride.result()], course))
    assert "uneven" in [f.code for f in found]


def test_what_most_laps_do_is_no_lapse_however_far_they_lie_apart(run, course):
    ride = run(laps=8)
    for lap in range(1, 9):
        for marker in ("turn-in", "apex", "exit"):
            ride.moved("Weir", marker, 3.2 * (-1) ** lap, [lap])
    assert "uneven" in [f.code for f in faults(find([ride.result()], course))]


def test_laps_without_a_value_at_a_cone_do_not_hide_the_others(run, course):
    ride = run(laps=9, scatter_m=0.0)
    for lap in range(1, 10):
        for marker in ("turn-in", "apex", "exit"):
            ride.moved("Weir", marker, 1.6 * (-1) ** lap, [lap])
    result = ride.result()
    markers = result.tables["markers"]
    markers.loc[markers["lap"] == 9, ["wide_of_line_m", "gap_m"]] = np.nan
    (fault,) = [f for f in find([result], course) if f.code == "uneven"]
    # Of the eight others, four lie as far to one side of the median lap as four to the other.
    assert fault.size == pytest.approx(1.6 * np.sqrt(8 / 7))
    assert fault.p == pytest.approx(chi2(7).cdf(7 * (fault.size / 0.9) ** 2))


def test_a_corner_without_cones_shows_no_line(run, course):
    bare = replace(course, corners=(replace(course.corners[0], markers=()), *course.corners[1:]))
    assert faults(find([run(laps=8).result()], bare)) == []


@pytest.mark.parametrize("laps", [[4], [2, 6]])
def test_a_lapse_or_two_are_no_different_line_every_lap(run, course, laps):
    runs = [
        run(name, laps=7, seed=i).moved("Weir", "exit", -7.0, laps) for i, name in enumerate("12")
    ]
    found = faults(find([ride.result() for ride in runs], course))
    assert [(f.code, f.habit) for f in found] == [("exit_cone_missed", False)]


def test_how_sure_a_different_line_is_follows_from_how_far_the_laps_lie_apart(run, course):
    def told(scatter_m):
        ride = run(laps=9, scatter_m=0.0)
        for lap in range(1, 10):
            for marker in ("turn-in", "apex", "exit"):
                ride.moved("Weir", marker, scatter_m * (lap - 5) / np.std(range(9), ddof=1), [lap])
        return [f for f in find([ride.result()], course) if f.code == "uneven"]

    # 8 s² / σ² is distributed as χ² with 8 degrees of freedom; the limit is 0.9 m.
    assert told(1.10) == []
    (fault,) = told(1.35)
    assert fault.size == pytest.approx(1.35)
    assert fault.p == pytest.approx(chi2(8).cdf(8 * (1.35 / 0.9) ** 2))
    assert told(1.6)[0].p > fault.p
