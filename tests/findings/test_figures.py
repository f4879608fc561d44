"""The figures of a judgement, as sentences have them."""

from dataclasses import replace

import numpy as np
import pytest

from lapkit.findings import Code
from lapkit.findings.evidence import gather
from lapkit.findings.figures import figures, lanes
from lapkit.findings.judgement import Drift, Observed, judge, of_all_laps
from lapkit.findings.place import Place
from lapkit.units import Units


@pytest.fixture
def weir(run, course):
    ride = run(laps=3, scatter_m=0.0, sd_m=0.2)
    for lap, wide_m in ((1, 1.6), (2, 1.8), (3, 2.6)):
        ride.moved("Weir", "apex", wide_m, laps=[lap])
    ride.corner("Weir", exit_radius_min_m=40.0, exit_tightest_after_apex_m=12.4)
    return next(e for e in gather([ride.result()], course) if e.corner.name == "Weir")


def judgement(e, code, size, place):
    laps = np.full(e.count, size) if np.ndim(size) == 0 else np.array(size)
    return judge(code, e, place, Observed(p=np.ones(e.count), size=laps))


def test_the_size_is_the_median_lap_s_with_half_of_its_interval(weir):
    of_apex = judgement(weir, Code.APEX_MISSED, [1.6, 1.8, 2.6], Place.of_cone(weir.marker("apex")))
    said = figures(of_apex, Units.METRIC)
    # The interval reaches 2.03 standard deviations of 0.2 m to either side.
    assert (said["size"], said["aside"]) == ("1.8 m", ", give or take 0.4,")
    assert said["doubt"] == ", give or take 0.4"
    assert said["cone"] == "apex cone"
    assert figures(of_apex, Units.US)["size"] == "6 ft"


@pytest.mark.parametrize(
    ("by_m", "size", "doubt"),
    [(0.3, "less than 0.7 m", ""), (0.5, "0.5 m", ", give or take 0.4")],
)
def test_a_side_that_was_sure_is_not_taken_back_by_the_doubt_of_its_size(weir, by_m, size, doubt):
    wrong = judgement(weir, Code.CONE_WRONG_SIDE, by_m, Place.of_cone(weir.marker("apex")))
    said = figures(wrong, Units.METRIC)
    assert (said["size"], said["doubt"]) == (size, doubt)


def test_radii_stand_beside_the_marker_line_s(weir):
    said = figures(judgement(weir, Code.EXIT_TIGHTENED, 0.2, Place(0.0)), Units.METRIC)
    assert (said["radius"], said["line_radius"], said["after_apex"]) == ("40 m", "50 m", "12 m")
    assert said["radius_aside"] == ", give or take 1,"
    # How much of the radius is missing has no interval of its own.
    assert (said["doubt"], said["aside"]) == ("", "")


def test_a_lean_is_told_in_degrees(weir):
    said = figures(judgement(weir, Code.LEAN_ADDED, 4.2, Place(0.0)), Units.US)
    assert said["size"] == "4°"


def test_another_lane_is_the_one_ridden_most_among_the_laps_that_show_it(weir):
    weir.cones["apex"].lane[:] = [1.0, 3.0, 3.0]
    lane = judgement(weir, Code.WRONG_LANE, 1.0, Place.of_cone(weir.marker("apex")))
    assert lanes(lane) == {"lane": "3", "lane_set": "2"}
    assert lanes(lane).items() <= figures(lane, Units.METRIC).items()


def test_a_drift_says_where_it_ends_and_at_how_many_corners(weir):
    drift = of_all_laps(Code.DRIFTS_WIDE, weir, Place(0.0, "apex"), 1.5, 0.99)
    said = figures(replace(drift, drift=Drift(2.2, 3, 4, everywhere=True)), Units.METRIC)
    assert (said["end"], said["at_corners"]) == ("2.2 m", "at 3 of 4 corners")
    over = of_all_laps(Code.DRIFTS_OVER, weir, Place(0.0), 4.0, 0.99)
    said = figures(replace(over, drift=Drift(5.1, 4, 4, everywhere=True)), Units.METRIC)
    assert (said["end"], said["at_corners"]) == ("5°", "at all 4 corners")
