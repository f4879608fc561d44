"""A track file made ready: its line in it, its table, its sheets."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from lapkit.course import place, read_track
from lapkit.course.line_table import columns
from lapkit.course.problem import warning
from lapkit.errors import OutputError
from lapkit.sample import sample_event
from lapkit.track_sheets import PAGE, PDF, with_marker_line, write_sheets
from lapkit.units import Units


@pytest.fixture(scope="module")
def track():
    """The sample's track file, and of its corners only the first."""
    whole = read_track(sample_event() / "track.geojson")
    first = whole.corners[0].name
    return replace(
        whole,
        marker_line=None,
        corners=whole.corners[:1],
        markers=tuple(m for m in whole.markers if m.corner == first),
        seams=(),
        hazards=(),
    )


@pytest.fixture(scope="module")
def solved(track):
    return with_marker_line(track, None, Units.US)


def test_a_solved_line_is_put_into_the_track_as_it_was_solved(track, solved):
    assert track.marker_line is None and solved.course.marker_line_from == "solved"
    again = place(solved.track)
    assert again.marker_line_from == "given"
    x, y = again.marker_line.at(np.arange(0.0, again.marker_line.length_m, 5.0))
    assert np.abs(solved.course.marker_line.project(x, y)[1]).max() < 0.02


def test_a_line_that_the_file_holds_stays_as_it_is(solved):
    again = with_marker_line(solved.track, None, Units.METRIC)
    assert again.course.marker_line_from == "given"
    assert again.track is solved.track


def test_the_table_has_the_speeds_of_the_file_and_those_of_the_reader(solved):
    assert set(columns()) < set(solved.table)
    assert "lean_at_56.327_kmh_deg" in solved.table  # 35 mph


def test_sheets_are_written_with_every_warning_and_the_table_in_si(solved, tmp_path):
    of_file = warning("a code", "track.geojson", "it is 3 m long", "Mend it.")
    of_line = warning("a code", "corner 1", "its line is 6 m off", "Move it.")
    write_sheets(replace(solved, problems=(of_line,)), [of_file], tmp_path / "sheets", Units.US)
    sheets = tmp_path / "sheets"
    assert {PAGE, PDF, "line.csv", "track.geojson"} <= {file.name for file in sheets.iterdir()}
    page = (sheets / PAGE).read_text(encoding="utf-8")
    assert "it is 10 ft long" in page and "its line is 20 ft off" in page
    assert list(pd.read_csv(sheets / "line.csv").columns) == columns()
    assert read_track(sheets / "track.geojson").marker_line is not None


def test_the_folder_of_the_track_file_itself_is_not_replaced(solved):
    with pytest.raises(OutputError):
        write_sheets(solved, [], sample_event(), Units.METRIC)
