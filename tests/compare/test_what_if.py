from dataclasses import replace

import numpy as np
import pytest

from lapkit.compare.results import RunOf
from lapkit.compare.run import measure_run
from lapkit.compare.standard import standards
from lapkit.compare.what_if import what_if
from lapkit.units import GRAVITY_MPS2

LINE_M = 62.0  # radius of the round course's marker line (conftest.py)
RIDDEN_M = 58.0  # radius of the laps
CORNER_DEG = 120.0  # from turn-in to exit of its corner


@pytest.fixture
def ridden(circle_path, round_course):
    path = circle_path(radius_m=RIDDEN_M)
    result = measure_run(path, path.split(), round_course, RunOf("A", "1"))
    return path, result, standards(round_course)["Long"]


def test_on_the_marker_line_a_wider_circle_would_have_carried_more(ridden):
    path, result, standard = ridden
    found = what_if(result.tables["corners"], result.traces, standard)
    wide = np.degrees(np.arctan(path.speed_mps**2 / (LINE_M * GRAVITY_MPS2)))
    assert found.lean_saved_deg.value == pytest.approx(path.lean_deg - wide, abs=0.01)
    assert found.exit_lean_saved_deg.value == pytest.approx(path.lean_deg - wide, abs=0.01)
    # At the same lean v² = g R tan φ: faster by the root of the radii (derived), but not above the speed
    # at which he came, and with no drive shown he can gain none: the corner's own speed it stays.
    assert found.slowest_gain_mps.value == pytest.approx(0.0, abs=0.02)


def test_with_drive_shown_the_gain_is_what_the_circle_allows(ridden):
    path, result, standard = ridden
    laps = result.tables["corners"].assign(entry_speed_mps=40.0, drive_max_mps2=3.0)
    found = what_if(laps, result.traces, standard)
    gain = path.speed_mps * (np.sqrt(LINE_M / RIDDEN_M) - 1.0)
    assert found.slowest_gain_mps.value == pytest.approx(gain, abs=0.05)
    # The wider way is longer by the ratio of the radii and its speed higher by the root: it costs time (derived).
    angle = np.radians(CORNER_DEG)
    seconds = angle / path.speed_mps * (RIDDEN_M - LINE_M / np.sqrt(LINE_M / RIDDEN_M))
    assert found.seconds.value == pytest.approx(seconds, abs=0.06)
    assert found.seconds.lo <= found.seconds.value <= found.seconds.hi


def test_poor_laps_and_other_corners_are_passed_over(ridden):
    _, result, standard = ridden
    laps = result.tables["corners"].copy()
    laps.loc[laps["lap"] == 2, "lean_max_deg"] = np.nan
    assert what_if(laps, result.traces, standard) is not None
    assert what_if(laps[laps["lap"] == 1], result.traces, standard) is None
    assert what_if(laps, (), standard) is None


def test_without_a_marker_line_there_is_nothing_to_compare(ridden, round_course):
    _, result, _ = ridden
    bare = standards(replace(round_course, marker_line=None))["Long"]
    assert what_if(result.tables["corners"], result.traces, bare) is None
