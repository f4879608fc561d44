"""Laps thinned for drawing, and the table of every fix."""

from dataclasses import replace

import numpy as np
import pytest

from lapkit.compare.passes import measure_passes
from lapkit.compare.results import RunOf
from lapkit.compare.run import measure_run
from lapkit.compare.sweep import Sweep, rides_through
from lapkit.compare.traces import COLUMNS, DRAWN_AROUND_M, corner_traces

PUBLISHED = [
    "rider",
    "session",
    "lap",
    "t_s",
    "lat",
    "lon",
    "x_m",
    "y_m",
    "station_m",
    "offset_m",
    "speed_mps",
    "curvature_1pm",
    "curvature_sd_1pm",
    "lean_deg",
    "lean_sd_deg",
    "accel_mps2",
    "height_m",
]


@pytest.fixture
def path(circle_path):
    rows = np.concatenate([[0.0], np.random.default_rng(3).normal(0.0, 0.5, 40)])
    return circle_path(radius_m=60.5, wider_m=rows)


def test_a_corner_trace_runs_a_little_beyond_the_corner(path, round_course):
    result = measure_run(path, path.split(), round_course, RunOf("A", "1"))
    trace, corner = result.traces[0], round_course.corners[0]
    assert corner.turn_in_m - DRAWN_AROUND_M <= trace.station_m[0] < corner.turn_in_m - 15.0
    assert corner.exit_m + 15.0 < trace.station_m[-1] <= corner.exit_m + DRAWN_AROUND_M
    np.testing.assert_allclose(np.hypot(trace.x_m, trace.y_m), path.tyre_radius_m, atol=1e-6)
    np.testing.assert_allclose(trace.wide_of_line_m, path.tyre_radius_m - 62.0, atol=3e-3)
    np.testing.assert_allclose(trace.curvature_1pm, 1 / 60.5)
    np.testing.assert_allclose(trace.lean_deg, path.lean_deg)
    # A wider draw leans further too at the same turning: its tyres move out a little more.
    assert trace.offset_sd_m.mean() == pytest.approx(np.std(path.wider_m[1:], ddof=1), rel=0.02)
    with pytest.raises(ValueError, match="read-only"):
        trace.x_m[0] = 0.0


def test_a_trace_without_a_marker_line_is_nowhere_wide_of_it(path, round_course):
    bare = replace(round_course, marker_line=None)
    trace = measure_run(path, path.split(), bare, RunOf("A", "1")).traces[0]
    assert np.isnan(trace.wide_of_line_m).all()


def test_a_pass_that_is_nowhere_near_the_corner_has_no_trace(path, round_course):
    corner, laps, sweep = round_course.corners[0], path.split(), Sweep.of(path, round_course)
    found = rides_through(sweep, laps, corner, round_course)
    passes = measure_passes(path, round_course, [found], sweep)
    station = passes.station_m.copy()
    station[:, passes.grid.first[1] : passes.grid.last[1] + 1] += 500.0
    strayed = passes.laps[1].number
    kept = [lap.number for lap in passes.laps if lap.kind == "timed"]
    assert strayed in kept
    traces = corner_traces(replace(passes, station_m=station), "A", "1")
    assert [t.lap for t in traces] == [number for number in kept if number != strayed]


def test_the_trace_table_has_a_line_a_fix(path, round_course):
    laps = path.split()
    result = measure_run(path, laps, round_course, RunOf("A", "1"), trace=True)
    table = result.tables["trace"]
    assert list(COLUMNS) == PUBLISHED
    assert list(table.columns) == PUBLISHED
    assert len(table) == len(path.fix_time_s)
    lap = table.query("lap == 2")
    assert lap["t_s"].between(0.0, path.lap_s).all()
    np.testing.assert_allclose(np.hypot(lap["x_m"], lap["y_m"]), 60.5, atol=1e-6)
    x, _y = round_course.plane.to_xy(lap["lat"].to_numpy(), lap["lon"].to_numpy())
    np.testing.assert_allclose(x, lap["x_m"], atol=1e-6)
    assert lap["station_m"].between(0.0, round_course.reference.length_m).all()
    np.testing.assert_allclose(lap["offset_m"], 60.0 - path.tyre_radius_m, atol=3e-3)
    np.testing.assert_allclose(lap["lean_deg"], path.lean_deg)
    np.testing.assert_allclose(lap["accel_mps2"], 0.0, atol=1e-9)
    assert (lap["lean_sd_deg"] > 0).all()
    # As logged: a metre higher every 10 s.
    began = path.split()[2].start_s
    np.testing.assert_allclose(
        lap["height_m"], 400.0 + 0.1 * (lap["t_s"] + began - path.start_s), atol=1e-6
    )


def test_the_trace_table_is_made_only_when_asked_for(path, round_course):
    assert "trace" not in measure_run(path, path.split(), round_course, RunOf("A", "1")).tables
