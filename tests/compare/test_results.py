"""What measuring a run gives, and the table of logs with those that could not be used."""

import pandas as pd
import pytest

from lapkit.compare.results import RunResult, Unusable, with_unusable


@pytest.fixture
def run():
    laps = pd.DataFrame({"lap": [0, 1, 2, 3], "kind": ["out", "timed", "broken", "timed"]})
    names = ("corners", "markers", "seams")
    tables = {"laps": laps, **{name: pd.DataFrame({"of": [name]}) for name in names}}
    return RunResult("Bo\x1b", "am", tables, ())


def test_each_table_is_an_attribute(run):
    assert run.laps is run.tables["laps"]
    for name in ("corners", "markers", "seams"):
        assert getattr(run, name)["of"].tolist() == [name]


def test_timed_laps_are_those_from_line_to_line(run):
    assert run.timed_laps == {1, 3}


def test_a_run_is_shown_short_and_without_control_characters(run):
    assert repr(run) == "<RunResult of run am of Bo�: laps, corners, markers, seams>"


def test_a_log_that_could_not_be_used_has_a_row_without_numbers():
    logs = pd.DataFrame(
        {"rider": ["Bo"], "session": ["am"], "file": ["a.gpx"], "sha256": ["ab"], "rate_hz": [10.0],
         "has_velocity": [True], "wild_fixes": [3], "verdict": ["good"], "note": [""]}
    )  # fmt: skip
    table = with_unusable(logs, [Unusable("Cy", "pm", "b.gpx", "It is empty.")])
    assert table["file"].tolist() == ["a.gpx", "b.gpx"]
    row = table.iloc[1]
    assert (row["verdict"], row["note"], row["sha256"]) == ("unusable", "It is empty.", "")
    assert pd.isna(row["rate_hz"]) and pd.isna(row["has_velocity"]) and pd.isna(row["wild_fixes"])
    assert table["wild_fixes"].dtype == "Int64" and table["wild_fixes"].iloc[0] == 3


def test_without_such_a_log_the_table_stays_as_it_is():
    logs = pd.DataFrame({"rider": ["Bo"]})
    assert with_unusable(logs, []) is logs
