"""Logs of one rider that overlap in time, and one ride given for two riders."""

from dataclasses import replace

import pandas as pd

from lapkit.compare.overlap import overlaps, rides_given_twice
from lapkit.compare.results import RunResult


def run(session, start, *times_s):
    starts = pd.Timestamp(start) + pd.to_timedelta(
        pd.Series([0.0, *times_s]).cumsum()[:-1], unit="s"
    )
    laps = pd.DataFrame({"start_utc": starts.astype(str), "time_s": list(times_s)})
    return RunResult("Ada", session, {"laps": laps}, ())


def test_overlapping_logs_of_a_rider_are_reported():
    runs = [run("2", "2031-05-01T09:03:00Z", 90.0), run("1", "2031-05-01T09:00:00Z", 90.0, 100.0)]
    (said,) = overlaps("Ada", runs)
    assert said.text.startswith("Ada: the logs of run 1 and run 2 overlap in time")
    assert said.riders == ("Ada",)


def test_one_ride_given_for_two_riders_is_told():
    ada, other = run("1", "2031-05-01T09:00:00Z", 90.0), run("1", "2031-05-01T09:00:00Z", 90.1)
    (said,) = rides_given_twice([ada, other, replace(ada, rider="Bo")])
    assert said.text.startswith("Ada, run 1 and Bo, run 1 are one and the same ride.")
    assert said.riders == ("Ada", "Bo")
    assert not list(rides_given_twice([ada, ada, replace(other, rider="Bo")]))


def test_logs_one_after_another_are_not():
    runs = [run("1", "2031-05-01T09:00:00Z", 90.0), run("2", "2031-05-01T09:01:30Z", 90.0)]
    assert not list(overlaps("Ada", runs))
    clockless = RunResult(
        "Ada", "3", {"laps": pd.DataFrame({"start_utc": [""], "time_s": [9.0]})}, ()
    )
    assert not list(overlaps("Ada", [runs[0], clockless]))


def test_a_log_that_covers_several_others_overlaps_each_of_them():
    long = run("1", "2031-05-01T09:00:00Z", *[90.0] * 20)
    short = [run(name, f"2031-05-01T09:{at}:00Z", 90.0) for name, at in (("2", "05"), ("3", "15"))]
    said = list(overlaps("Ada", [*short, long]))
    assert [each.text.split(" overlap")[0] for each in said] == [
        "Ada: the logs of run 1 and run 2",
        "Ada: the logs of run 1 and run 3",
    ]
