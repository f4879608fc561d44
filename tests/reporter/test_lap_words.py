import pandas as pd
import pytest

from lapkit.reporter.lap_words import lap_count, lap_rows
from lapkit.units import Units


def test_laps_are_counted_run_by_run(event):
    laps = event.riders[0].runs[0].tables["laps"]
    timed = (laps["kind"] == "timed").sum()
    assert lap_count(laps) == f"Timed from line to line: {timed} in run 1."
    no_lap = laps.assign(kind="broken", session="2")
    said = lap_count(pd.concat([laps, no_lap]))
    assert said == f"Timed from line to line: {timed} in run 1 and none in run 2."


LAP = {
    "session": "2", "lap": 3, "time_s": 71.234, "time_sd_s": 0.01, "kind": "timed",
    "start_utc": "2031-06-14T09:05:07Z", "missing_s": 0.0, "note": None,
}  # fmt: skip


def row(**cells):
    return lap_rows(pd.DataFrame([LAP | cells]), Units.US)[0]


def test_a_lap_has_its_time_its_kind_and_when_it_began():
    assert row() == ("2", "3", "1:11.23", "timed", "09:05:07", "")
    assert row(kind="in", start_utc=None, time_s=float("nan"))[2:5] == ("–", "in-lap", "–")


@pytest.mark.parametrize(
    ("note", "missing_s", "told"),
    [
        (None, 0.4, ""),
        (None, 0.5, "0.5 s of it not logged"),
        ("cut by 10 m", 0.0, "cut by 33 ft"),
        ("cut by 10 m", 1.25, "cut by 33 ft; 1.2 s of it not logged"),
    ],
)
def test_what_was_not_logged_stands_behind_the_note(note, missing_s, told):
    assert row(note=note, missing_s=missing_s)[5] == told
