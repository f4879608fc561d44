"""Runs of another day than the rest of the event are pointed out."""

import pandas as pd
import pytest

from lapkit.compare.other_day import of_another_day
from lapkit.compare.results import RunResult


def run(rider, session, *starts):
    laps = pd.DataFrame({"start_utc": list(starts), "time_s": [90.0] * len(starts)})
    return RunResult(rider, session, {"laps": laps}, ())


def day(date, hours=(9, 11, 16)):
    return [run("Ada", str(hour), f"{date}T{hour:02}:00:00.000Z") for hour in hours]


def test_a_log_of_the_day_before_is_told_with_both_dates():
    stray = run("Bo", "2", "2031-06-13T10:00:00.000Z", "2031-06-13T10:01:30.000Z")
    (said,) = of_another_day([*day("2031-06-14"), stray], 0.0)
    assert said.text.startswith(
        "Bo, run 2 was ridden on 13 June 2031, the others on 14 June 2031. If that log "
    )
    assert said.riders == ("Bo",)
    (said,) = of_another_day([run("Bo", "2", "2032-01-01T10:00:00.000Z"), *day("2031-06-14")], 0.0)
    assert "on 1 January 2032, the others on 14 June 2031" in said.text


def test_both_dates_are_those_of_the_place():
    """In Sydney a morning's run begins on UTC's day before."""
    stray = run("Bo", "2", "2031-06-12T23:00:00.000Z")
    (said,) = of_another_day(
        [*day("2031-06-13", hours=(22, 23)), *[stray], *day("2031-06-14", (1, 3))], 151.0
    )
    assert "Bo, run 2 was ridden on 13 June 2031, the others on 14 June 2031." in said.text


@pytest.mark.parametrize(
    "runs",
    [
        # A second day of the same event, and one that rained off early.
        [*day("2031-06-14"), *day("2031-06-15")],
        [*day("2031-06-14"), *day("2031-06-15", hours=(9, 10))],
        # West of Greenwich UTC's midnight falls into the afternoon.
        [*day("2031-06-14", hours=(16, 19, 22)), run("Bo", "4", "2031-06-15T00:30:00.000Z")],
        # Without a date there is no day.
        [*day("2031-06-14"), run("Bo", "1", ""), run("Bo", "2", None), run("Cy", "1")],
        [run("Bo", "1", "")],
    ],
)
def test_runs_of_one_day_of_several_days_or_without_a_date_are_not_remarked_on(runs):
    assert not list(of_another_day(runs, -75.0))
