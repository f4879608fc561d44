from dataclasses import replace
from types import SimpleNamespace

import pandas as pd

from lapkit.compare.results import Unusable
from lapkit.reporter.event_page import event_page
from lapkit.reporter.log_words import log_words, not_used, verdict_words, without_lap
from lapkit.reporter.terminal import done_text
from lapkit.units import Units


def test_log_quality_is_told_in_the_reader_s_units(event):
    row = event.tables["logs"].assign(note="At 76 km/h; steps of 2 m").iloc[0]
    assert "mph" in log_words(row, Units.US, event.course)
    assert "km/h" not in log_words(row, Units.US, event.course)
    assert "2 m" in log_words(row, Units.METRIC, event.course)


def test_why_a_log_was_not_used_is_told_in_the_reader_s_units(event, tmp_path):
    far = Unusable("Cy", "1", "cy 5 m.csv", "it never comes nearer than 610 m to the course")
    odd = replace(event, unusable=(far,))
    for said in (
        not_used(far, Units.US),
        event_page(odd, units=Units.US, links={}),
        done_text(odd, tmp_path, [], Units.US),
    ):
        assert "than 2001 ft to the course" in said.replace("\N{NO-BREAK SPACE}", " ")
        assert "cy 5 m.csv" in said.replace("\N{NO-BREAK SPACE}", " ")
    assert "than 610 m to" in done_text(odd, tmp_path, [])


def test_seams_are_spoken_of_where_the_course_has_some(event, found_event):
    row = event.tables["logs"].assign(offset_from="none").iloc[0]
    assert "so the side of a seam that laps ran on is mostly unclear" in log_words(
        row, Units.METRIC, event.course
    )
    bare = log_words(row, Units.METRIC, found_event.course)
    assert bare.endswith("Nothing tells how far off this receiver was.")


def test_how_well_laps_are_placed_is_said_where_it_is_known(event):
    row = SimpleNamespace(note="Fine.", offset_from="hold_point", position_sd_m=0.5)
    said = log_words(row, Units.METRIC, event.course)
    assert said == ("Fine. The laps are placed by the stops at the hold point, within about 1.0 m.")
    row.position_sd_m = float("nan")
    said = log_words(row, Units.METRIC, event.course)
    assert said == "Fine. The laps are placed by the stops at the hold point."


def test_a_verdict_is_told_with_what_the_log_is_good_for():
    fair = SimpleNamespace(verdict="fair")
    assert verdict_words(fair) == "fair: radius and lean are known less well"
    assert verdict_words(SimpleNamespace(verdict="new")) == "new"
    assert verdict_words(fair, laps_only=True) == "good enough for lap times only"


def test_only_logs_without_a_lap_are_listed_with_why():
    logs = pd.DataFrame(
        [("A", "1", "a.csv", None), ("B", "2", "b.csv", "it never left"), ("C", "1", "c.csv", "")],
        columns=["rider", "session", "file", "no_lap"],
    )
    assert without_lap(logs) == [("B", "2", "b.csv", "it never left")]
    assert without_lap(logs.drop(columns="no_lap")) == []
