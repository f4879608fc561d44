"""The tables of a run: their columns and lines."""

from dataclasses import replace

import numpy as np
import pandas as pd

from lapkit.compare import corners, markers, seams
from lapkit.compare.results import RunOf
from lapkit.compare.run import measure_run
from lapkit.compare.tables import Table, began, blanked, interval_columns, timed_laps
from lapkit.course.course import Course
from lapkit.course.plane import Plane
from lapkit.course.stations import StationLine
from lapkit.path.summary import Summary

CORNERS = [
    "rider",
    "session",
    "lap",
    "corner",
    "turn",
    "time_s",
    "entry_speed_mps",
    "slowest_mps",
    "exit_speed_mps",
    "radius_min_m",
    "radius_min_lo_m",
    "radius_min_hi_m",
    "radius_min_at_m",
    "exit_radius_min_m",
    "exit_radius_min_lo_m",
    "exit_radius_min_hi_m",
    "exit_radius_at_m",
    "line_exit_radius_min_m",
    "exit_radius_ratio",
    "p_tightened",
    "lean_max_deg",
    "lean_max_lo_deg",
    "lean_max_hi_deg",
    "lean_max_at_m",
    "lean_on_line_deg",
    "grip_max",
    "quality",
]


MARKERS = [
    "rider",
    "session",
    "lap",
    "corner",
    "marker",
    "kind",
    "gap_m",
    "gap_lo_m",
    "gap_hi_m",
    "wide_of_line_m",
    "wide_lo_m",
    "wide_hi_m",
    "lane",
    "p_lane",
    "speed_mps",
    "radius_m",
    "lean_deg",
    "lean_lo_deg",
    "lean_hi_deg",
    "lean_road_deg",
]


SEAMS = ["rider", "session", "lap", "corner", "seam", "inside_share", "p_inside", "call"]


LAPS = [
    "rider",
    "session",
    "lap",
    "kind",
    "start_utc",
    "time_s",
    "time_sd_s",
    "distance_m",
    "samples",
    "missing_s",
    "note",
]


def test_tables_have_the_published_columns_first(result):
    for name, expected in (
        ("corners", CORNERS),
        ("markers", MARKERS),
        ("seams", SEAMS),
        ("laps", LAPS),
    ):
        assert list(result.tables[name].columns)[: len(expected)] == expected
    assert tuple(CORNERS) == corners.COLUMNS
    assert tuple(MARKERS) == markers.COLUMNS
    assert tuple(SEAMS) == seams.COLUMNS


def test_a_table_without_a_line_has_the_same_types(result, ridden, round_course):
    without = measure_run(ridden, (), round_course, RunOf("Bea", "2")).tables
    for name, table in result.tables.items():
        assert len(without[name]) == 0
        assert without[name].dtypes.to_dict() == table.dtypes.to_dict()


def test_every_timed_lap_has_a_line_for_everything(result, ridden, round_course):
    timed = [lap.number for lap in ridden.split() if lap.kind == "timed"]
    assert timed == [1, 2, 3]
    for name, each in (("corners", 1), ("markers", 3), ("seams", 2)):
        count = result.tables[name].groupby("lap").size()
        assert all(count[lap] == each for lap in timed)
    keys = result.tables["markers"][["lap", "marker"]].values.tolist()
    assert keys[:3] == [[1, "turn-in"], [1, "apex"], [1, "exit"]]
    assert [t.lap for t in result.traces] == timed


def test_lap_numbers_are_whole_numbers(result):
    for name in ("laps", "corners", "markers", "seams"):
        assert pd.api.types.is_integer_dtype(result.tables[name]["lap"])
    assert result.tables["markers"]["lane"].dtype == "Int64"


def test_a_found_course_has_corners_but_no_cones(ridden, round_course, measured):
    bare = replace(round_course.corners[0], markers=(), seams=())
    course = replace(round_course, corners=(bare,), marker_line=None, found=True)
    tables = measured(ridden, course).tables
    assert tables["corners"]["radius_min_m"].notna().all()
    assert list(tables["markers"].columns)[: len(MARKERS)] == MARKERS
    assert len(tables["markers"]) == len(tables["seams"]) == 0


def test_laps_are_told_as_they_are(result, ridden):
    laps = result.tables["laps"]
    assert laps["kind"].tolist() == ["out", "timed", "timed", "timed", "in"]
    assert laps["start_utc"][0] == "1970-01-01T00:16:40.000Z"
    no_clock = measure_run(
        ridden, ridden.split(), round_course_free(), RunOf("B", "1", has_clock=False)
    )
    assert set(no_clock.tables["laps"]["start_utc"]) == {""}


def round_course_free():
    """A course without a corner."""
    angle = np.linspace(0.0, 2 * np.pi, 800)
    line = StationLine.through(60 * np.cos(angle), 60 * np.sin(angle), True)
    return Course(Plane(47.0, 8.0), line, np.zeros((2, 2)), ())


def test_a_course_without_corners_gives_empty_tables_with_columns(ridden, measured):
    tables = measured(ridden, round_course_free()).tables
    assert list(tables["corners"].columns)[: len(CORNERS)] == CORNERS
    assert len(tables["corners"]) == 0


def test_lines_are_ordered_by_lap_then_as_corners_are_ridden_then_as_added():
    table = Table(["Larch", "Anvil"])
    table.add({"lap": [2, 1], "corner": "Anvil", "marker": "a"}, {"gap_m": np.array([1.0, 2.0])})
    table.add({"lap": [1, 1], "corner": ["Larch", "Anvil"], "marker": ["b", "c"]})
    frame = table.frame(("rider", "session", "lap", "corner", "marker", "gap_m"), "Bo", "am")
    keys = frame[["lap", "corner", "marker"]].values.tolist()
    assert keys == [[1, "Larch", "b"], [1, "Anvil", "a"], [1, "Anvil", "c"], [2, "Anvil", "a"]]
    np.testing.assert_equal(frame["gap_m"].to_numpy(), [np.nan, 2.0, np.nan, 1.0])
    assert set(frame["rider"]) == {"Bo"} and set(frame["session"]) == {"am"}


def test_a_poor_line_keeps_neither_number_nor_call():
    columns = {"gap_m": np.array([1.0, 2.0]), "call": np.array(["inside", "outside"])}
    blank = blanked(columns, np.array([True, False]))
    np.testing.assert_equal(blank["gap_m"], [np.nan, 2.0])
    assert blank["call"].tolist() == ["unclear", "outside"]


def test_an_interval_s_columns_are_named_with_the_unit_last():
    columns = interval_columns("gap", "m", Summary(*(np.array([v]) for v in (1.0, 0.5, 1.5))))
    assert {name: values[0] for name, values in columns.items()} == {
        "gap_m": 1.0, "gap_lo_m": 0.5, "gap_hi_m": 1.5,
    }  # fmt: skip


def test_timed_laps_are_neither_out_nor_in_nor_broken():
    laps = pd.DataFrame({"lap": range(5), "kind": ["out", "timed", "broken", "timed", "in"]})
    assert timed_laps(laps)["lap"].tolist() == [1, 3]


def test_the_first_lap_that_has_a_date_tells_when_laps_began():
    begun = ["2031-06-14T10:00:00Z", "", "2031-06-14T09:00:00Z", None]
    assert began(pd.DataFrame({"start_utc": begun})) == "2031-06-14T09:00:00Z"
    assert began(pd.DataFrame({"start_utc": ["", ""]})) == ""
    assert began(pd.DataFrame({"start_utc": []})) == ""
