"""What a worker is sent to measure a log with."""

import gc
import pickle
from pathlib import Path

import pandas as pd
import pytest

from lapkit import course_source
from lapkit.importer.event_folder import read_event_folder
from lapkit.inputs import Given
from lapkit.jobs import course_and_job
from lapkit.options import Options
from lapkit.runs import measure_entry
from lapkit.workers import load, own_processes

SAMPLE = Path(__file__).parents[1] / "sample_data"


@pytest.fixture(scope="module")
def entries():
    return read_event_folder(SAMPLE)


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


def test_what_a_worker_has_loaded_is_left_out_of_the_search_for_cycles():
    with own_processes(1) as pool:
        assert pool.submit(gc.get_freeze_count).result() == 0
    with own_processes(1, load, ("lapkit.jobs",)) as pool:
        assert pool.submit(gc.get_freeze_count).result() > 10_000
