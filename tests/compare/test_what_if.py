"""What the marker line would have saved and given, on circles of known radii."""

from dataclasses import replace

import numpy as np
import pytest

from lapkit.compare.judged_laps import CornerLaps, Lines
from lapkit.compare.results import RunOf
from lapkit.compare.run import measure_run
from lapkit.compare.standard import standards
from lapkit.compare.what_if import what_if
from lapkit.course.stations import StationLine
from lapkit.lean import speed_at_lean_mps
from lapkit.path.summary import Summary
from lapkit.units import GRAVITY_MPS2

LINE_M = 62.0  # radius of the round course's marker line (conftest.py)
RIDDEN_M = 58.0  # radius of the laps
CORNER_DEG = 120.0  # from turn-in to exit of its corner


@pytest.fixture
def ridden(circle_path, round_course):
    """The path, its laps in the one corner with their traces, and the corner's standard."""
    path = circle_path(radius_m=RIDDEN_M)
    result = measure_run(path, path.split(), round_course, RunOf("A", "1"))
    of_lap = {trace.lap: trace for trace in result.traces}
    traces = [of_lap.get(lap) for lap in result.tables["corners"]["lap"]]
    laps = CornerLaps.read(Lines([result.corners]))
    return path, laps, traces, standards(round_course)["Long"]


def test_on_the_marker_line_a_wider_circle_would_have_carried_more(ridden):
    path, laps, traces, standard = ridden
    found = what_if(laps, traces, standard)
    wide = np.degrees(np.arctan(path.speed_mps**2 / (LINE_M * GRAVITY_MPS2)))
    assert found.lean_saved_deg.value == pytest.approx(path.lean_deg - wide, abs=0.01)
    assert found.exit_lean_saved_deg.value == pytest.approx(path.lean_deg - wide, abs=0.01)
    # At the same lean v² = g R tan φ: faster by the root of the radii (derived), but not above the speed
    # at which he came, and with no drive shown he can gain none: the corner's own speed it stays.
    assert found.slowest_gain_mps.value == pytest.approx(0.0, abs=0.02)


def test_with_drive_shown_the_gain_is_what_the_circle_allows(ridden):
    path, laps, traces, standard = ridden
    count = len(traces)
    laps = replace(laps, entry_speed_mps=np.full(count, 40.0), drive_max_mps2=np.full(count, 3.0))
    found = what_if(laps, traces, standard)
    gain = path.speed_mps * (np.sqrt(LINE_M / RIDDEN_M) - 1.0)
    assert found.slowest_gain_mps.value == pytest.approx(gain, abs=0.05)
    # The wider way is longer by the ratio of the radii and its speed higher by the root: it costs time (derived).
    angle = np.radians(CORNER_DEG)
    seconds = angle / path.speed_mps * (RIDDEN_M - LINE_M / np.sqrt(LINE_M / RIDDEN_M))
    assert found.seconds.value == pytest.approx(seconds, abs=0.06)
    assert found.seconds.lo <= found.seconds.value <= found.seconds.hi


@pytest.mark.parametrize("vertical_1pm", [0.0, 1 / 300])
def test_the_speed_gained_is_that_of_the_slowest_points_also_in_a_dip(bent_path, vertical_1pm):
    # Both turn by as much about the same middle: he to 30 m radius, the line to 42.
    tight = bent_path([0.0, 60.0, 100.0, 110.0, 150.0, 240.0], [0.0, 0.0, 1 / 30, 1 / 30, 0.0, 0.0])
    wide = bent_path([0.0, 60.0, 80.0, 130.0, 150.0, 240.0], [0.0, 0.0, 1 / 42, 1 / 42, 0.0, 0.0])
    line = StationLine.through(*wide.place(np.arange(0.0, 240.0, 0.5)).T, False)
    course = tight.course(50.0, (105.0,), 160.0, line=line)
    result = measure_run(tight, tight.lap(), course, RunOf("A", "1"))
    laps = CornerLaps.read(Lines([result.corners])).of(np.array([0, 0]))
    quick = {"entry_speed_mps": 30.0, "drive_max_mps2": 3.0, "brake_max_mps2": 9.0}
    laps = replace(laps, **{name: np.full(2, value) for name, value in quick.items()})
    standard = standards(course)["Bend"]
    road = np.full_like(standard.line.grade, vertical_1pm)
    dip = replace(standard, line=replace(standard.line, vertical_curvature_1pm=road))
    found = what_if(laps, result.traces * 2, dip)
    lean = laps.lean_max_deg.value[0]
    of_radii = speed_at_lean_mps([42.0, 30.0], lean, vertical_1pm)
    assert found.slowest_gain_mps.value == pytest.approx(of_radii[0] - of_radii[1], rel=0.03)


def test_poor_laps_and_laps_without_a_trace_are_passed_over(ridden):
    _, laps, traces, standard = ridden
    lean = laps.lean_max_deg.value.copy()
    lean[2] = np.nan
    rest = [i for i in range(len(traces)) if i != 2]
    without = what_if(laps.of(np.array(rest)), [traces[i] for i in rest], standard)
    assert without is not None
    assert (
        what_if(replace(laps, lean_max_deg=Summary(lean, lean, lean)), traces, standard) == without
    )
    for i in range(len(traces)):
        assert what_if(laps.of(np.array([i])), traces[i : i + 1], standard) is None
    assert what_if(laps, [None] * len(traces), standard) is None


def test_without_a_marker_line_there_is_nothing_to_compare(ridden, round_course):
    _, laps, traces, _ = ridden
    bare = standards(replace(round_course, marker_line=None))["Long"]
    assert what_if(laps, traces, bare) is None
