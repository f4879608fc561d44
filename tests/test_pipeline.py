import json
import re
import shutil
from dataclasses import replace
from pathlib import Path

import pytest

import lapkit
from lapkit import pipeline
from lapkit.compare.changes import Changed
from lapkit.compare.results import LogResults
from lapkit.course import place, read_track
from lapkit.course.in_degrees import line_in_degrees
from lapkit.course.marker_line import with_line
from lapkit.errors import LapkitError, OptionError
from lapkit.inputs import Given, event_inputs
from lapkit.jobs import course_and_job
from lapkit.library.chain import event
from lapkit.library.event_runs import event_runs
from lapkit.options import Options
from lapkit.pipeline import review
from lapkit.reporter.event_page import event_page
from lapkit.reporter.rider_page import page_facts
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
    monkeypatch.setattr("lapkit.runs.read_logs", lambda path, **_: opened.append(path) or ())
    with pytest.raises(LapkitError):
        event(folder, workers=1)
    assert opened == []


def test_the_reason_is_the_line_s_own(folder):
    with pytest.raises(LapkitError, match="the path leaves the event folder"):
        event(folder, workers=1)


@pytest.fixture(scope="module")
def short(tmp_path_factory):
    """The first two minutes of a rider's log in the sample event: it holds no lap."""
    folder = tmp_path_factory.mktemp("short")
    lines = (sample_event() / "logs/iska-1.csv").read_text().splitlines(keepends=True)
    (folder / "iska-1.csv").write_text("".join(lines[:1200]))
    shutil.copy(sample_event() / "track.geojson", folder)
    (folder / "riders.csv").write_text("rider,session,file\nIska,1,iska-1.csv\n")
    return folder


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


def test_a_review_of_a_log_from_elsewhere_ends_with_an_error(short, tmp_path):
    north = re.sub(
        r"(?<=, )4[01]\.\d+(?=[,\]])",
        lambda lat: f"{float(lat[0]) + 1.0:.8f}",
        (short / "track.geojson").read_text(),
    )
    (tmp_path / "track.geojson").write_text(north)
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


def test_a_run_in_another_s_log_counts_for_a_rider_reviewed_before(monkeypatch):
    """A file may name several riders, one of them a rider all of whose own logs came before."""
    inputs = event_inputs(sample_event())
    first, other = inputs.entries[:2]
    second = next(e for e in inputs.entries[2:] if e.rider == first.rider)
    inputs = replace(inputs, entries=(first, other))
    course, measure = course_and_job(inputs.entries, inputs.given, Options())
    runs = {entry: measure(entry).runs for entry in (first, second, other)}
    told = {
        first: LogResults(runs[first], []),
        other: LogResults(runs[other] + runs[second], []),
    }
    monkeypatch.setattr(pipeline, "course_and_job", lambda *_: (course, told.get))
    one, two = pipeline.event(inputs, workers=1).riders
    assert (one.rider, two.rider) == (first.rider, other.rider)
    assert [run.session for run in one.runs] == [first.session, second.session]
    assert len(one.changes) == len(one.changed) > 0
    assert one.changes.columns.tolist() == list(Changed._fields)


def test_a_marker_line_in_few_digits_is_told_on_the_pages_unless_the_coach_rode_another(
    short, tmp_path
):
    text = (short / "track.geojson").read_text()
    course = with_line(place(read_track(short / "track.geojson")))
    line = line_in_degrees(course.plane, course.marker_line, 1.5).lon_lat.round(5).tolist()
    feature = {
        "type": "Feature",
        "properties": {"role": "marker_line"},
        "geometry": {"type": "LineString", "coordinates": line},
    }
    document = json.loads(text)
    document["features"].append(feature)
    track = tmp_path / "track.geojson"
    track.write_text(json.dumps(document))
    log = sample_event() / "logs/iska-1.csv"
    told = "The track file, marker_line: it is written in steps of 1.1 m"
    assert any(note.startswith(told) for note in review([short / log.name], Given(track)).notes)
    ridden = review([short / log.name], Given(track, log))
    assert not any("written in steps" in note for note in ridden.notes)


def test_heights_that_no_road_has_are_told_on_the_pages(short, tmp_path):
    document = json.loads((short / "track.geojson").read_text())
    (centre,) = (f for f in document["features"] if f["properties"]["role"] == "centre")
    centre["geometry"]["coordinates"][200][2] += 30.0
    track = tmp_path / "track.geojson"
    track.write_text(json.dumps(document))
    (note,) = review([short / "iska-1.csv"], Given(track)).notes
    assert note.startswith("The track file, centre, 9") and "the height changes by" in note


def test_who_changes_bike_and_group_is_told_by_both_runs(short):
    lines = ["rider,session,file,group,bike", "Iska,1,iska-1.csv,Beginners,red one"]
    (short / "riders.csv").write_text("\n".join([*lines, "Iska,2,iska-1.csv,Fast,blue one", ""]))
    done = event(short, workers=1)
    (rider,) = done.riders
    assert (rider.group, rider.bikes) == ("Fast", ("red one", "blue one"))
    assert {"Fast", "red one, then blue one"} <= set(page_facts(done, rider, Units.METRIC))


@pytest.mark.parametrize(("tells_when", "order"), [(True, ["2", "1"]), (False, ["1", "2"])])
def test_runs_come_as_they_were_ridden_however_they_are_listed(short, tmp_path, tells_when, order):
    """Where a log does not tell when, the lines of riders.csv do."""
    lines = (short / "iska-1.csv").read_text().splitlines()
    (tmp_path / "late.csv").write_text("\n".join(lines))
    early = [line.replace("T09:", "T08:") for line in lines]
    if not tells_when:
        cells = [line.split(",", 1)[1] for line in lines]
        early = [f"Time (s),{cells[0]}", *(f"{0.1 * i:.1f},{c}" for i, c in enumerate(cells[1:]))]
    (tmp_path / "early.csv").write_text("\n".join(early))
    shutil.copy(short / "track.geojson", tmp_path)
    table = "rider,session,file,bike\nIska,1,late.csv,red\nIska,2,early.csv,blue\n"
    (tmp_path / "riders.csv").write_text(table)
    (rider,) = event(tmp_path, workers=1).riders
    assert [run.session for run in rider.runs] == order
    assert rider.bikes == tuple({"1": "red", "2": "blue"}[session] for session in order)


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
    entries = list(pipeline._entries([Path(name) for name in names], "", {}))
    assert {entry.rider for entry in entries} == {rider}
    assert [entry.session for entry in entries] == [str(i + 1) for i in range(len(names))]
