"""Several logs a rider, several riders a file, and a log that breaks the program."""

from dataclasses import replace

import pandas as pd
import pytest

from lapkit.compare.overlap import overlaps, rides_given_twice
from lapkit.compare.results import RunResult
from lapkit.importer.event_folder import Entry
from lapkit.options import Options
from lapkit.runs import by_rider, measure_entry


class Part:
    def __init__(self, rider):
        self.rider = rider


def run(session, start, *times_s):
    starts = pd.Timestamp(start) + pd.to_timedelta(
        pd.Series([0.0, *times_s]).cumsum()[:-1], unit="s"
    )
    laps = pd.DataFrame({"start_utc": starts.astype(str), "time_s": list(times_s)})
    return RunResult("Ada", session, {"laps": laps}, ())


def test_overlapping_logs_of_a_rider_are_reported():
    runs = [run("2", "2031-05-01T09:03:00Z", 90.0), run("1", "2031-05-01T09:00:00Z", 90.0, 100.0)]
    (said,) = overlaps("Ada", runs)
    assert said.startswith("Ada: the logs of run 1 and run 2 overlap in time")


def test_two_logs_of_one_run_are_called_so():
    runs = [run("1", "2031-05-01T09:03:00Z", 90.0), run("1", "2031-05-01T09:00:00Z", 90.0, 100.0)]
    (said,) = overlaps("Ada", runs)
    assert said.startswith("Ada: two logs of run 1 overlap in time")


def test_one_ride_given_for_two_riders_is_told():
    ada, other = run("1", "2031-05-01T09:00:00Z", 90.0), run("1", "2031-05-01T09:00:00Z", 90.1)
    (said,) = rides_given_twice([ada, other, replace(ada, rider="Bo")])
    assert said.startswith("Ada, run 1 and Bo, run 1 are one and the same ride.")
    assert not list(rides_given_twice([ada, ada, replace(other, rider="Bo")]))


def test_logs_one_after_another_are_not():
    runs = [run("1", "2031-05-01T09:00:00Z", 90.0), run("2", "2031-05-01T09:01:30Z", 90.0)]
    assert not list(overlaps("Ada", runs))
    clockless = RunResult(
        "Ada", "3", {"laps": pd.DataFrame({"start_utc": [""], "time_s": [9.0]})}, ()
    )
    assert not list(overlaps("Ada", [runs[0], clockless]))


def entry(rider, path="none.csv"):
    return Entry(rider, "3", str(path), path)


def test_a_file_that_names_several_riders_is_believed():
    told = [(r, s) for r, s, _ in by_rider([Part("Bo"), Part("Cy"), Part("Bo")], entry("all"))]
    assert told == [("Bo", "3"), ("Cy", "3"), ("Bo", "3 part 2")]


def test_a_line_that_names_one_of_them_is_about_him():
    told = [(r, s) for r, s, _ in by_rider([Part("Bo"), Part("Cy"), Part("Bo")], entry("Bo"))]
    assert told == [("Bo", "3"), ("Bo", "3 part 2")]


def test_a_single_name_in_the_file_does_not_rename_the_rider():
    assert [r for r, _, _ in by_rider([Part("device 7")], entry("Bo"))] == ["Bo"]


def test_a_fault_of_ours_costs_one_log_and_is_said(monkeypatch):
    def broken(*_, **__):
        raise ZeroDivisionError("by zero")

    monkeypatch.setattr("lapkit.runs.read_logs", broken)
    monkeypatch.delenv("LAPKIT_DEBUG", raising=False)
    runs, (unusable,) = measure_entry(entry("Bo"), None, Options())
    assert not runs
    assert unusable.rider == "Bo"
    assert unusable.reason == "a fault in lapkit itself (ZeroDivisionError: by zero)"
    monkeypatch.setenv("LAPKIT_DEBUG", "1")
    with pytest.raises(ZeroDivisionError):
        measure_entry(entry("Bo"), None, Options())
