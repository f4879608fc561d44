"""An event's runs put together: riders with their runs in order, and sentences about the whole."""

import json
import re
import shutil
from dataclasses import replace

import pytest

from lapkit import pipeline
from lapkit.compare.changes import Changed
from lapkit.compare.results import LogResults
from lapkit.course import place, read_track
from lapkit.course.in_degrees import line_in_degrees
from lapkit.course.marker_line import with_line
from lapkit.errors import EventError
from lapkit.findings import Kind
from lapkit.library.chain import event
from lapkit.measuring.inputs import Given, event_inputs
from lapkit.measuring.jobs import course_and_job
from lapkit.measuring.options import Options
from lapkit.pipeline import review
from lapkit.reporter.event_page import event_page
from lapkit.reporter.rider_page import page_facts, rider_page
from lapkit.sample import sample_event
from lapkit.units import Units


@pytest.fixture
def two_riders():
    """Inputs with a run of each of two riders; that of the first, another one of his that is not in them, the second's."""
    inputs = event_inputs(sample_event())
    first, other = inputs.entries[:2]
    second = next(e for e in inputs.entries[2:] if e.rider == first.rider)
    return replace(inputs, entries=(first, other)), first, second, other


def test_a_run_in_another_s_log_counts_for_a_rider_reviewed_before(monkeypatch, two_riders):
    """A file may name several riders, one of them a rider all of whose own logs came before."""
    inputs, first, second, other = two_riders
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


def test_a_run_of_a_name_that_its_rider_has_already_gets_another_and_that_is_told(
    monkeypatch, two_riders
):
    """A file of several riders may hold a run 1 of one who has a run 1 of his own: the season would refuse two of them."""
    inputs, first, second, other = two_riders
    course, measure = course_and_job(inputs.entries, inputs.given, Options())
    (again,) = measure(replace(second, session=first.session)).runs
    told = {first: measure(first), other: LogResults([*measure(other).runs, again], [])}
    monkeypatch.setattr(pipeline, "course_and_job", lambda *_: (course, told.get))
    done = pipeline.event(inputs, workers=1)
    rider = done.riders[0]
    assert [run.session for run in rider.runs] == ["1", "1 (2)"]
    for table in rider.runs[1].tables.values():
        assert set(table["session"]) == {"1 (2)"}
    assert {trace.session for trace in rider.runs[1].traces} == {"1 (2)"}
    (remark,) = [text for text in rider.remarks if "1 (2)" in text]
    assert (
        remark == f"{first.rider} has more than one run 1; that in {other.file} is run 1 (2) here."
    )


def test_who_does_what_all_do_reads_of_the_cones_where_he_is_blamed(monkeypatch):
    inputs = event_inputs(sample_event())
    course, measure = course_and_job(inputs.entries, inputs.given, Options())
    marlo = inputs.entries[1]
    (run,) = measure(marlo).runs
    entries = tuple(replace(marlo, rider=name) for name in ("A", "B", "C", "D"))
    told = {each: LogResults([replace(run, rider=each.rider)], []) for each in entries}
    monkeypatch.setattr(pipeline, "course_and_job", lambda *_: (course, told.get))
    done = pipeline.event(replace(inputs, entries=entries), workers=1)
    for one in done.riders:
        work, *others = one.findings
        assert work.kind is Kind.WORK and work.doubt and not any(f.doubt for f in others)
    assert any("do the same at" in note for note in done.notes)


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
    read = review([short / log.name], Given(track))
    assert any(note.startswith(told) for note in read.notes)
    # What is about the course stands on everybody's page.
    assert read.riders[0].remarks == read.notes
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


def test_a_track_file_without_heights_is_told_on_the_pages(short, tmp_path):
    document = json.loads((short / "track.geojson").read_text())
    for feature in document["features"]:
        if (feature["geometry"] or {}).get("type") == "LineString":
            line = feature["geometry"]
            line["coordinates"] = [position[:2] for position in line["coordinates"]]
    track = tmp_path / "track.geojson"
    track.write_text(json.dumps(document))
    (note,) = review([short / "iska-1.csv"], Given(track)).notes
    assert note.startswith("The track file has no heights")


@pytest.mark.parametrize(("wrong", "more"), [(1, ""), (4, "1 more error"), (5, "2 more errors")])
def test_errors_of_the_track_file_are_told_and_many_are_counted(short, tmp_path, wrong, more):
    document = json.loads((short / "track.geojson").read_text())
    cones = [f for f in document["features"] if f["properties"]["role"] == "marker"]
    for cone in cones[:wrong]:
        cone["properties"]["camber_deg"] = 60.0
    track = tmp_path / "track.geojson"
    track.write_text(json.dumps(document))
    notes = review([short / "iska-1.csv"], Given(track)).notes
    told = [note for note in notes if "a camber of 60 degrees" in note]
    assert len(told) == min(wrong, 3)
    assert told[0].startswith("The track file, corner 'Larch', marker 'turn-in': a camber")
    assert [note.split(",")[0] for note in notes if "more error" in note] == (
        [f"The track file has {more}"] if more else []
    )


def test_who_changes_bike_and_group_is_told_by_both_runs(short):
    lines = ["rider,session,file,group,bike,note", "Iska,1,iska-1.csv,Beginners,red one,be kind"]
    (short / "riders.csv").write_text("\n".join([*lines, "Iska,2,iska-1.csv,Fast,blue one,", ""]))
    done = event(short, workers=1)
    (rider,) = done.riders
    assert (rider.group, rider.bikes) == ("Fast", ("red one", "blue one"))
    assert rider.note == "be kind"
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


def test_one_reason_of_many_logs_is_told_once(short, north, tmp_path):
    north(short / "track.geojson", tmp_path / "track.geojson")
    lines = []
    for name in "abcde":
        shutil.copy(short / "iska-1.csv", tmp_path / f"{name}.csv")
        lines.append(f"{name},1,{name}.csv")
    (tmp_path / "riders.csv").write_text("\n".join(["rider,session,file", *lines, "Bo,1,none.csv"]))
    with pytest.raises(EventError) as caught:
        event(tmp_path, workers=1)
    said = str(caught.value)
    assert "(a.csv, b.csv, c.csv and 2 more: it never comes nearer than" in said
    assert said.count("never comes nearer") == 1
    assert "; none.csv: no such file" in said
    lines = [*lines[:4], "Bo,1,none.csv"]
    (tmp_path / "riders.csv").write_text("\n".join(["rider,session,file", *lines]))
    with pytest.raises(EventError, match=r"a\.csv, b\.csv, c\.csv and d\.csv: it never"):
        event(tmp_path, workers=1)


def test_a_name_spelt_wrong_and_a_log_of_another_day_are_told(short):
    log = short / "iska-1.csv"
    day = re.search(r"\d{4}-\d\d-\d\dT", log.read_text())[0]
    (short / "old.csv").write_text(log.read_text().replace(day, "2030-02-03T"))
    lines = ["rider,session,file", "Iska,1,iska-1.csv", "Isaka,2,11.csv", "Tove,1,old.csv"]
    for hour in (11, 12, 13):
        (short / f"{hour}.csv").write_text(log.read_text().replace("T09:", f"T{hour}:"))
    lines += ["Tove,2,12.csv", "Tove,3,13.csv"]
    (short / "riders.csv").write_text("\n".join(lines))
    done = event(short, workers=1)
    alike, other_day = done.notes
    assert alike.startswith("“Iska” and “Isaka” are spelt almost alike")
    assert other_day.startswith("Tove, run 1 was ridden on 3 February 2030, the others on")
    # A page goes home with its rider, and has nothing of others on it.
    remarks = {one.rider: one.remarks for one in done.riders}
    assert remarks == {"Iska": (alike,), "Isaka": (alike,), "Tove": (other_day,)}
    page = rider_page(done, done.rider("Tove"), units=Units.METRIC).html
    assert other_day in page and "almost alike" not in page
    assert done.began.startswith(day)
    assert "14 June 2031" in page_facts(done, done.rider("Tove"), Units.METRIC)
    assert "14 June 2031" in event_page(done, units=Units.METRIC, links={})
