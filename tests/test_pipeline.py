"""The chain: a rider's debrief and an event, from files to what is told."""

from pathlib import Path

import pandas as pd
import pytest

import lapkit
from lapkit import pipeline
from lapkit.compare.results import LogResults, RunResult
from lapkit.errors import LapkitError, OptionError
from lapkit.importer.riders_file import Entry
from lapkit.library.chain import event
from lapkit.library.event_runs import event_runs
from lapkit.measuring.inputs import Given
from lapkit.measuring.reviews import TABLES
from lapkit.pipeline import review
from lapkit.reporter.event_page import event_page
from lapkit.reporter.terminal import done_text
from lapkit.sample import sample_event
from lapkit.units import Units


@pytest.fixture
def folder(tmp_path):
    """An event folder without a track file whose one line points out of it."""
    (tmp_path / "secret.csv").write_text("time,lat,lon\n1,47.0,8.0\n2,47.0,8.0\n")
    inside = tmp_path / "event"
    inside.mkdir()
    (inside / "riders.csv").write_text("rider,session,file\nAda,1,../secret.csv\n")
    return inside


def test_a_log_outside_the_folder_is_not_opened_to_find_the_course(folder, monkeypatch):
    opened = []
    monkeypatch.setattr(
        "lapkit.measuring.runs.read_logs", lambda path, **_: opened.append(path) or ()
    )
    with pytest.raises(LapkitError):
        event(folder, workers=1)
    assert opened == []


def test_the_reason_is_the_line_s_own(folder):
    with pytest.raises(LapkitError, match="it lies outside the event folder"):
        event(folder, workers=1)


def test_a_log_without_a_lap_is_told_on_the_terminal_and_the_summary(short, tmp_path):
    told = event(short, workers=1)
    (row,) = told.tables["logs"].to_dict("records")
    assert row["verdict"] == "no laps"
    said = (
        "no lap could be timed: the log never crosses the start line before it ends after 2.0 min"
    )
    assert f"Without a lap: Iska, run 1 (iska-1.csv): {said}" in done_text(told, tmp_path, [])
    page = event_page(told, units=Units.METRIC, links={})
    assert said in page
    assert "Every log could be used" not in page


def test_a_review_of_a_log_from_elsewhere_ends_with_an_error(short, north, tmp_path):
    north(short / "track.geojson", tmp_path / "track.geojson")
    with pytest.raises(LapkitError, match=r"never comes nearer than 1[01]\d km .*another course"):
        review([short / "iska-1.csv"], Given(tmp_path / "track.geojson"))


def test_the_coach_s_log_without_a_track_file_is_refused_not_left_unread(folder, tmp_path):
    with pytest.raises(OptionError, match="the coach's line needs a track file"):
        event(folder, line=tmp_path / "coach.csv", workers=1)
    with pytest.raises(OptionError, match="the coach's line needs a track file"):
        next(event_runs(folder, line=tmp_path / "coach.csv"))


@pytest.mark.parametrize("measure", [lapkit.event, lapkit.review])
def test_units_that_do_not_exist_are_refused_before_a_log_is_measured(measure, monkeypatch):
    monkeypatch.setattr(pipeline, "course_and_job", lambda *_: pytest.fail("measured all the same"))
    folder = sample_event()
    given = folder if measure is lapkit.event else folder / "logs" / "iska-1.csv"
    with pytest.raises(OptionError, match="imperial"):
        measure(given, units="imperial")


def test_what_each_input_was_given_as_is_in_the_provenance():
    sample = sample_event()
    track, log = sample / "track.geojson", sample / "logs/iska-1.csv"
    done = review([log], Given(track, sample / "logs/iska-2.csv"))
    options = done.provenance["options"]
    assert (options["track"], options["line"]) == ("track.geojson", "iska-2.csv")
    assert options["base"] is options["riders"] is None
    assert set(done.provenance["inputs"]) == {"track.geojson", "iska-1.csv", "iska-2.csv"}


def test_the_logs_of_a_review_are_one_rider_s_runs_whatever_they_are_called(short, tmp_path):
    second = tmp_path / "afternoon.csv"
    lines = (sample_event() / "logs/iska-2.csv").read_text().splitlines(keepends=True)
    second.write_text("".join(lines[:1200]))
    done = review([short / "iska-1.csv", second], Given(short / "track.geojson"))
    (rider,) = done.riders
    assert (rider.rider, [run.session for run in rider.runs]) == ("iska-1", ["1", "2"])
    named = review([short / "iska-1.csv", second], Given(short / "track.geojson"), rider="Iska")
    assert [r.rider for r in named.riders] == ["Iska"]


@pytest.mark.parametrize(
    ("names", "rider"),
    [
        (["bo-1.gpx.gz"], "bo-1"),
        (["bo-1.gpx.gz", "bo-2.gpx.gz"], "bo"),
        (["bo.csv", "bo-2.csv"], "bo"),
        (["Bo Li 2031-06-14 a.csv", "Bo Li 2031-06-14 b.csv"], "Bo Li"),
        (["2031-06-14.csv", "2031-06-15.csv"], "2031-06-14"),
        (["morning.csv", "noon.csv"], "morning"),
    ],
)
def test_a_rider_who_is_not_named_goes_by_what_his_logs_names_have_in_common(names, rider):
    entries = list(pipeline._entries([Path(name) for name in names], "", []))
    assert {entry.rider for entry in entries} == {rider}
    assert [entry.session for entry in entries] == [str(i + 1) for i in range(len(names))]


LISTED = [
    Entry("Bo", "1", "am/bo.csv", Path("day/am/bo.csv"), bike="red"),
    Entry("Bo", "2", "pm/bo.csv", Path("day/pm/bo.csv"), bike="blue"),
    Entry("Ada", "1", "both.csv", Path("day/both.csv")),
    Entry("Bo", "3", "both.csv", Path("day/both.csv")),
]


@pytest.mark.parametrize(
    ("logs", "rider", "sessions"),
    [
        (["day/am/bo.csv", "day/pm/bo.csv"], "Bo", ["1", "2"]),
        (["elsewhere/bo.csv"], "", ["2"]),
        (["day/both.csv"], "Ada", ["1"]),
        (["day/both.csv"], "Bo", ["3"]),
        (["day/strange.csv"], "Bo", ["1"]),
    ],
)
def test_a_log_is_looked_up_by_its_path_then_by_its_name_and_its_rider(logs, rider, sessions):
    entries = list(pipeline._entries([Path(log) for log in logs], rider, LISTED))
    assert [entry.session for entry in entries] == sessions


@pytest.mark.parametrize(
    ("logs", "rider", "runs"),
    [
        # The second log is his second one, and no line of the table is about it.
        (["day/pm/bo.csv", "day/late.csv"], "", [("Bo", "2"), ("Bo", "2 (2)")]),
        # He rode with the number of another rider.
        (["day/am/bo.csv", "day/ada.csv"], "Bo", [("Bo", "1"), ("Bo", "1 (2)")]),
    ],
)
def test_no_two_runs_of_a_review_have_one_name(logs, rider, runs):
    listed = [*LISTED, Entry("Ada", "1", "ada.csv", Path("day/ada.csv"))]
    entries = list(pipeline._entries([Path(log) for log in logs], rider, listed))
    assert [(entry.rider, entry.session) for entry in entries] == runs
    assert entries[1].remark.startswith(f"Bo has run {runs[0][1]} more than once; ")


def test_laps_of_one_rider_in_several_files_of_riders_are_runs_of_their_own(monkeypatch):
    """Under one name they stood on the terminal as one run."""

    def measured(entry):
        tables = {
            name: pd.DataFrame({"rider": ["Ada"], "session": ["1"], "file": [entry.file]})
            for name in TABLES
        }
        return LogResults([RunResult("Ada", "1", tables, ())], [])

    monkeypatch.setattr(pipeline, "course_and_job", lambda *_: (None, measured))
    _, tables, _ = pipeline.lap_tables([Path("one.csv"), Path("two.csv")])
    assert tables["laps"]["session"].tolist() == ["1", "1 (2)"]
    assert tables["logs"]["file"].tolist() == ["one.csv", "two.csv"]
