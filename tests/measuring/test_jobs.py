"""What a worker is sent to measure a log with, and in which order results come, kept ones among them."""

import gc
import pickle
from pathlib import Path

import pandas as pd
import pytest

from lapkit.compare.results import LogResults, Unusable
from lapkit.errors import LogError
from lapkit.importer.event_folder import read_event_folder
from lapkit.measuring import course_source
from lapkit.measuring.inputs import Given
from lapkit.measuring.jobs import course_and_job, results_in_order
from lapkit.measuring.options import Options
from lapkit.measuring.packed import Keep
from lapkit.measuring.runs import measure_entry
from lapkit.measuring.workers import load, own_processes

SAMPLE = Path(__file__).parents[2] / "sample_data"


@pytest.fixture(scope="module")
def entries():
    return read_event_folder(SAMPLE).entries


def test_a_worker_is_handed_the_course_and_places_none(entries, monkeypatch):
    course, job = course_and_job(entries, Given(SAMPLE / "track.geojson"), Options())
    assert course.marker_line_from == "solved"
    job = pickle.loads(pickle.dumps(job))
    placed_there, _ = measure_entry(entries[0], course, Options())

    def fail(*_):
        raise AssertionError("placed again")

    monkeypatch.setattr(course_source, "read_track", fail)
    monkeypatch.setattr(course_source, "place", fail)
    measured, unusable = job(entries[0])
    assert not unusable
    assert measured[0].tables.keys() == placed_there[0].tables.keys()
    for name, table in placed_there[0].tables.items():
        pd.testing.assert_frame_equal(measured[0].tables[name], table, check_exact=True)


@pytest.mark.parametrize("what", ["line", "base"])
def test_the_limit_on_the_size_of_logs_holds_for_the_coach_s_and_the_base_log_too(entries, what):
    given = Given(SAMPLE / "track.geojson", **{what: SAMPLE / "logs/iska-1.csv"})
    with pytest.raises(LogError, match="larger than 0 MB after unpacking"):
        course_and_job(entries, given, Options(max_bytes=100_000))


@pytest.mark.parametrize("what", ["line", "base"])
def test_columns_asked_for_are_looked_for_in_the_coach_s_and_the_base_log_too(
    entries, tmp_path, monkeypatch, what
):
    """His receiver may be like his riders'; where it is not, his log's own headers count."""
    monkeypatch.setattr("lapkit.measuring.jobs.base_error", lambda _, log: len(log))
    plain = SAMPLE / "logs/iska-1.csv"
    odd = tmp_path / "odd.csv"
    odd.write_text(plain.read_text(encoding="utf-8").replace("Latitude (deg)", "y", 1))
    track, options = SAMPLE / "track.geojson", Options(columns=(("latitude", "y"),))
    for log in (odd, plain):
        course, _ = course_and_job(entries, Given(track, **{what: log}), options)
        assert course.marker_line_from == ("ridden" if what == "line" else "solved")
    with pytest.raises(LogError, match="no header row names a latitude"):
        course_and_job(entries, Given(track, **{what: odd}), Options())


def test_what_a_worker_has_loaded_is_left_out_of_the_search_for_cycles():
    with own_processes(1) as pool:
        assert pool.submit(gc.get_freeze_count).result() == 0
    with own_processes(1, load, ("lapkit.measuring.jobs",)) as pool:
        assert pool.submit(gc.get_freeze_count).result() > 10_000


def record_of(entry):
    """What a worker would send back of a log that cannot be used."""
    return LogResults([], [Unusable(entry.rider, entry.session, entry.file, "too short")])


def test_kept_results_are_taken_over_in_their_place_and_only_the_rest_is_measured(
    entries, tmp_path
):
    three, keys = entries[:3], ["one", "two", "three"]
    first = Keep(tmp_path / "first", tmp_path / "nothing")
    expected = [record_of(entry) for entry in three]
    assert list(results_in_order(three, keys, None, record_of, first)) == expected
    (tmp_path / "first" / "two").unlink()
    measured = []

    def measure(entry):
        measured.append(entry)
        return record_of(entry)

    second = Keep(tmp_path / "second", tmp_path / "first")
    assert list(results_in_order(three, keys, None, measure, second)) == expected
    assert measured == [three[1]]
    assert {path.name for path in (tmp_path / "second").iterdir()} == set(keys)


def test_without_a_place_to_keep_them_all_are_measured(entries):
    found = list(results_in_order(entries[:2], ["a", "b"], None, record_of, None))
    assert found == [record_of(entry) for entry in entries[:2]]
