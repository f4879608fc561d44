from dataclasses import replace

import numpy as np
import pytest

from lapkit.reporter.readings import READ_EVERY_M, readings
from lapkit.units import Units


def along(trace, **values):
    """A lap whose values are the same all along."""
    count = len(trace.station_m)
    return replace(trace, **{name: np.full(count, float(value)) for name, value in values.items()})


def at_the_middle(read, key, lap=0):
    values = read["laps"][lap][key]
    return values[len(values) // 2]


def test_values_are_read_in_the_reader_s_units(laps):
    corner, (first, *_) = laps
    trace = along(first, curvature_1pm=0.02, speed_mps=20.0, lean_deg=41.2, wide_of_line_m=-1.26)
    metric = readings(corner, [trace], None, Units.METRIC)
    assert [at_the_middle(metric, key) for key in "rvaw"] == [50, 72, 41, -1.3]
    us = readings(corner, [trace], None, Units.US)
    assert [at_the_middle(us, key) for key in "rvaw"] == [164, 45, 41, -4.1]
    assert (us["length"], us["speed"], us["turn"]) == ("ft", "mph", str(corner.turn))


def test_a_straight_has_the_largest_radius_that_is_shown(laps):
    corner, (first, *_) = laps
    read = readings(corner, [along(first, curvature_1pm=0.0)], None, Units.METRIC)
    assert at_the_middle(read, "r") == 999


def test_a_bend_the_other_way_is_no_straight(laps):
    """Its lean is told with the other side: beside "nearly straight" that made no sense."""
    corner, (first, *_) = laps
    other_way = along(first, curvature_1pm=-0.02, lean_deg=-25.0)
    read = readings(corner, [other_way], None, Units.METRIC)
    assert [at_the_middle(read, key) for key in "ra"] == [50, -25]


def test_where_a_lap_was_not_logged_there_is_nothing_to_read(laps):
    corner, (first, *_) = laps
    half = len(first.station_m) // 2
    arrays = {
        name: value[:half] for name, value in vars(first).items() if isinstance(value, np.ndarray)
    }
    read = readings(corner, [replace(first, **arrays)], None, Units.METRIC)
    values = read["laps"][0]["v"]
    assert values[-1] is None and values[len(values) // 4] is not None


def test_places_are_read_at_even_steps_counted_from_turn_in(laps):
    corner, traces = laps
    read = readings(corner, traces, None, Units.METRIC)
    steps = len(read["laps"][0]["v"]) - 1
    assert read["from"] < 0.0 < read["to"]
    assert (read["to"] - read["from"]) / steps == pytest.approx(READ_EVERY_M, abs=0.5)


def test_laps_stand_run_by_run_and_the_thick_one_is_known_by_its_place(laps):
    corner, traces = laps
    last = traces[-1]
    read = readings(corner, traces, (last.session, last.lap), Units.METRIC)
    assert [(lap["run"], lap["lap"]) for lap in read["laps"]] == [
        (trace.session, trace.lap) for trace in traces
    ]
    assert read["spoken"] == len(traces) - 1
    assert readings(corner, traces, None, Units.METRIC)["spoken"] is None
