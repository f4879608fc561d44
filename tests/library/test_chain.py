"""The whole chain asked for by names of files: a review, an event, and their results written."""

import shutil

import pandas as pd
import pytest

import lapkit
from lapkit.measuring.reviews import TABLES
from lapkit.reporter.contents import Contents, What
from lapkit.reporter.output import whole_folder


def test_the_same_numbers_as_the_event_gives(run, folder):
    reviewed = lapkit.review(
        str(folder / "logs" / "iska-1.csv"), track=str(folder / "track.geojson"), rider="Iska"
    )
    pd.testing.assert_frame_equal(reviewed.tables["corners"], run.corners)
    pd.testing.assert_frame_equal(reviewed.tables["logs"], run.table("logs"))
    assert set(reviewed.tables) >= set(TABLES)


def test_a_review_of_no_log_is_refused():
    with pytest.raises(lapkit.OptionError, match="no log to review"):
        lapkit.review([])


def test_a_mistyped_rider_gets_the_nearest(folder):
    reviewed = lapkit.review(folder / "logs" / "tove-1.gpx.gz", rider="Tove")
    assert reviewed.rider("Tove").rider == "Tove"
    with pytest.raises(lapkit.OptionError, match=r"no rider 'tovi'\. Did you mean 'Tove'"):
        reviewed.rider("tovi")


def test_a_rider_who_is_not_in_the_list_of_riders_gets_the_nearest(folder):
    log, riders = folder / "logs" / "tove-1.gpx.gz", folder / "riders.csv"
    with pytest.raises(lapkit.OptionError, match="no rider 'Isca'") as caught:
        lapkit.review(log, rider="Isca", riders=riders)
    assert "Did you mean 'Iska'?" in str(caught.value)


def test_results_are_written_with_their_page(folder, tmp_path):
    reviewed = lapkit.review(folder / "logs" / "tove-1.gpx.gz", rider="Tove")
    pages = lapkit.write_results(reviewed, tmp_path / "out")
    assert [p.name for p in pages] == ["rider-tove.html"]
    assert (tmp_path / "out" / "results.json").is_file()


def test_results_do_not_take_the_place_of_what_they_were_measured_from(folder, tmp_path):
    """The folder of corner sheets is lapkit's own, so its files would be cleared away."""
    with whole_folder(tmp_path / "sheets", (), Contents(What.SHEETS)) as sheets:
        shutil.copy(folder / "track.geojson", sheets)
    track = tmp_path / "sheets" / "track.geojson"
    reviewed = lapkit.review(folder / "logs" / "tove-1.gpx.gz", track=track, rider="Tove")
    with pytest.raises(lapkit.OutputError, match="would replace the input"):
        lapkit.write_results(reviewed, tmp_path / "sheets")
    assert track.is_file()


def test_event_takes_a_name_and_tells_its_progress(folder, tmp_path):
    (tmp_path / "track.geojson").write_bytes((folder / "track.geojson").read_bytes())
    (tmp_path / "a.csv").write_bytes((folder / "logs" / "iska-2.csv").read_bytes())
    (tmp_path / "riders.csv").write_text("rider,session,file\nIska,2,a.csv\n", encoding="utf-8")
    heard = []
    day = lapkit.event(str(tmp_path), progress=lambda done, whole: heard.append((done, whole)))
    assert heard == [(1, 1)]
    assert day.tables["laps"]["rider"].unique().tolist() == ["Iska"]
