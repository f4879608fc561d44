"""What ``lapkit laps`` says on the terminal: laps, whose they are, and the corners of a course that was found."""

import re
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from lapkit.reporter.terminal_laps import laps_text
from lapkit.simulate.courses import built_in
from lapkit.units import Units

LAPS = ["rider", "session", "lap", "kind", "time_s", "time_sd_s", "distance_m", "note"]
LOGS = ["rider", "session", "file", "no_lap"]


@pytest.fixture(scope="module")
def course():
    return built_in("sample")


def told(course, laps, logs):
    tables = {"laps": pd.DataFrame(laps, columns=LAPS), "logs": pd.DataFrame(logs, columns=LOGS)}
    return laps_text(course, tables).splitlines()


def test_a_lap_stands_under_its_run_with_time_interval_and_distance(course):
    run, head, lap = told(
        course,
        [("Bo", "2", 3, "timed", 83.456, 0.01, 2100.0, "")],
        [("Bo", "2", "bo.gpx", "")],
    )
    assert run == "Bo, run 2 (bo.gpx)"
    assert head.split() == ["lap", "kind", "time", "±", "distance", "note"]
    assert lap.split() == ["3", "timed", "1:23.46", "0.02", "2100", "m"]


def test_what_is_not_known_of_a_lap_is_left_empty(course):
    *_, lap = told(
        course,
        [("Bo", "2", 0, "out", np.nan, np.nan, 900.0, None)],
        [("Bo", "2", "bo.gpx", "")],
    )
    assert lap.split() == ["0", "out", "900", "m"]


def test_a_log_known_by_its_name_alone_is_a_run_only_where_it_holds_several(course):
    laps = [("a.gpx", str(i), 1, "timed", 80.0, 0.01, 2100.0, "") for i in (1, 2)]
    logs = [("a.gpx", str(i), "a.gpx", "") for i in (1, 2)]
    assert told(course, laps[:1], logs[:1])[0] == "a.gpx"
    lines = told(course, laps, logs)
    assert [line for line in lines if line.startswith("a.gpx")] == ["a.gpx, run 1", "a.gpx, run 2"]


def test_why_no_lap_was_timed_stands_under_the_run(course):
    lines = told(
        course,
        [("Bo", "1", 0, "broken", np.nan, np.nan, 900.0, "")],
        [("Bo", "1", "bo.gpx", "it never crosses the start line")],
    )
    assert lines[1] == "  It never crosses the start line."


def test_a_log_without_radii_says_so_once(course):
    corners = pd.DataFrame({"corner": [c.name for c in course.corners], "radius_min_m": np.nan})
    nothing = {"laps": pd.DataFrame(columns=["rider", "session"]), "logs": pd.DataFrame()}
    text = laps_text(replace(course, found=True), {**nothing, "corners": corners})
    assert text.count("radius") == 1
    assert "These logs cannot carry the radius of any of them." in text


def test_laps_are_told_in_feet_when_asked(course):
    corners = {"corner": [course.corners[0].name], "radius_min_m": [30.48]}
    corners |= {"radius_min_lo_m": [27.432], "radius_min_hi_m": [33.528]}
    note = "61 m longer than the usual lap"
    lap = ("Bo", "1", 1, "broken", 80.0, 0.01, 3048.0, note)
    head = ["rider", "session", "lap", "kind", "time_s", "time_sd_s", "distance_m", "note"]
    logs = pd.DataFrame(
        [("Bo", "1", "bo.gpx", "good", "")], columns=["rider", "session", "file", "verdict", "note"]
    )
    tables = {
        "laps": pd.DataFrame([lap], columns=head),
        "logs": logs,
        "corners": pd.DataFrame(corners),
    }
    text = laps_text(replace(course, found=True), tables, Units.US)
    assert "10000 ft 200 ft longer than the usual lap" in text
    assert "tightest radius about 100 ± 10 ft, 1 lap" in text
    assert not re.search(r"\d m\b", text)
    assert "3048 m  61 m longer" in laps_text(replace(course, found=True), tables)
