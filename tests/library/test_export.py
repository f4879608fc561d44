"""Runs written as files for other programs."""

from dataclasses import replace

import gpxpy
import numpy as np
import pandas as pd
import pytest

import lapkit


@pytest.fixture(scope="module")
def written(run, tmp_path_factory):
    out = tmp_path_factory.mktemp("export") / "out"
    files = lapkit.export([run, replace(run, session="2")], out, parquet=True, trace=True)
    return out, [f.name for f in files]


def test_export_writes_every_file_it_names(written):
    out, names = written
    assert {p.name for p in out.iterdir() if not p.name.startswith(".")} == set(names)
    assert {"laps.csv", "corners.parquet", "trace.csv.gz", "laps.gpx", "cones.geojson"} <= set(
        names
    )


def test_exported_tables_hold_both_runs(written, run):
    out, _ = written
    csv = pd.read_csv(out / "corners.csv")
    parquet = pd.read_parquet(out / "corners.parquet")
    assert len(csv) == len(parquet) == 2 * len(run.corners)
    assert list(csv.columns) == list(run.corners.columns)
    np.testing.assert_allclose(
        csv["radius_min_m"][: len(run.corners)], run.corners["radius_min_m"], atol=6e-4
    )


def test_exported_gpx_has_a_track_a_lap_with_times(written, run):
    out, _ = written
    read = gpxpy.parse((out / "laps.gpx").read_text(encoding="utf-8"))
    assert len(read.tracks) == 2 * len(run.laps)
    third = read.tracks[3]
    points = third.segments[0].points
    lap = run.lap(3)
    assert points[0].time.timestamp() == pytest.approx(lap.start_s, abs=2e-3)
    assert points[-1].time.timestamp() == pytest.approx(lap.end_s, abs=2e-3)
    assert third.length_2d() == pytest.approx(lap.distance_m, rel=5e-3)


def test_a_log_without_a_calendar_is_exported_without_times(run, tmp_path):
    clockless = replace(run, log=replace(run.log, has_clock=False))
    lapkit.write_gpx(clockless, tmp_path / "laps.gpx")
    read = gpxpy.parse((tmp_path / "laps.gpx").read_text(encoding="utf-8"))
    assert read.tracks[1].segments[0].points[0].time is None


@pytest.mark.parametrize("place", ["file/laps", "."])
def test_a_file_that_cannot_be_written_is_an_error_of_the_family(run, tmp_path, monkeypatch, place):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "file").write_text("mine", encoding="utf-8")
    with pytest.raises(lapkit.OutputError, match="cannot be written"):
        lapkit.write_gpx(run, place)
    with pytest.raises(lapkit.OutputError, match="cannot be written"):
        lapkit.write_geojson(lapkit.laps_layer(run), place)
    assert [p.name for p in tmp_path.iterdir()] == ["file"]


def test_exporting_nothing_says_so(tmp_path):
    with pytest.raises(lapkit.OptionError, match="no run to write"):
        lapkit.export([], tmp_path / "out")
