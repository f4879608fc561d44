import pandas as pd
import pytest

import lapkit


@pytest.fixture
def event_folder(folder, tmp_path):
    """A good log, one that is none, and one that is missing."""
    (tmp_path / "track.geojson").write_bytes((folder / "track.geojson").read_bytes())
    (tmp_path / "good.csv").write_bytes((folder / "logs" / "iska-2.csv").read_bytes())
    (tmp_path / "bad.csv").write_text("nothing\n", encoding="utf-8")
    (tmp_path / "riders.csv").write_text(
        "rider,session,file,antenna_height_m\nIska,2,good.csv,0.75\nBren,1,bad.csv,\nTove,1,gone.gpx,\n",
        encoding="utf-8",
    )
    return tmp_path


def test_runs_come_one_by_one_with_the_heights_of_the_list(event_folder):
    first = next(lapkit.event_runs(event_folder))
    assert (first.rider, first.session) == ("Iska", "2")
    assert first.path.heights.antenna_m == 0.75
    assert not first.course.found


def test_what_cannot_be_used_is_told_or_raised(event_folder):
    told = []
    runs = list(lapkit.event_runs(event_folder, on_unusable=told.append))
    assert [run.rider for run in runs] == ["Iska"]
    assert [unusable.rider for unusable in told] == ["Bren", "Tove"]
    assert all(unusable.reason for unusable in told)
    with pytest.raises(lapkit.LogError, match=r"bad\.csv"):
        list(lapkit.event_runs(event_folder))


def test_where_a_log_stops_the_runs_it_is_said_how_to_go_on_without_it(event_folder):
    (event_folder / "riders.csv").write_text(
        "rider,session,file\nTove,1,gone.gpx\nIska,2,good.csv\n", encoding="utf-8"
    )
    with pytest.raises(lapkit.LapkitError, match=r"gone\.gpx") as stopped:
        next(lapkit.event_runs(event_folder))
    assert str(stopped.value).endswith(
        "To go on without such logs, call event_runs with on_unusable=print."
    )
    assert next(lapkit.event_runs(event_folder, on_unusable=print)).rider == "Iska"


def test_runs_of_an_event_are_exported_together(event_folder, tmp_path):
    (event_folder / "riders.csv").write_text(
        "rider,session,file\nIska,2,good.csv\n", encoding="utf-8"
    )
    files = lapkit.export(lapkit.event_runs(event_folder), tmp_path / "out")
    assert "laps.geojson" in {f.name for f in files}


def test_the_same_runs_as_the_event_measures(event_folder):
    (event_folder / "riders.csv").write_text(
        "rider,session,file\nIska,2,good.csv\n", encoding="utf-8"
    )
    day = lapkit.event(event_folder)
    runs = list(lapkit.event_runs(event_folder))
    told = [(run.rider, run.session) for run in day.riders[0].runs]
    assert [(run.rider, run.session) for run in runs] == told
    assert day.tables["corners"]["radius_min_m"].tolist() == pytest.approx(
        runs[0].corners["radius_min_m"].tolist(), nan_ok=True
    )


def test_a_run_of_no_use_costs_that_run_alone(event_folder):
    """Two riders in one file, the first of whom only rolled out of the pit."""
    log = pd.read_csv(event_folder / "good.csv", dtype=str)
    short, whole = log.iloc[600:700].assign(rider="Odel"), log.assign(rider="Iska")
    pd.concat([short, whole]).to_csv(event_folder / "good.csv", index=False)
    riders = "rider,session,file\nboth,1,good.csv\n"
    (event_folder / "riders.csv").write_text(riders, encoding="utf-8")
    told = []
    runs = list(lapkit.event_runs(event_folder, on_unusable=told.append))
    assert [run.rider for run in runs] == ["Iska"]
    assert [(one.rider, one.reason.partition(" only")[0]) for one in told] == [
        ("Odel", "it moved for 9 s")
    ]


def test_runs_of_one_rider_in_several_files_of_riders_have_names_of_their_own(event_folder):
    """Exported under one name, their laps would be taken for those of one run."""
    for name in ("one.csv", "two.csv"):
        log = pd.read_csv(event_folder / "good.csv", dtype=str)
        parts = [log.assign(rider=rider) for rider in ("Iska", "Odel")]
        pd.concat(parts).to_csv(event_folder / name, index=False)
    riders = "rider,session,file\nIska,1,one.csv\nall,1,two.csv\n"
    (event_folder / "riders.csv").write_text(riders, encoding="utf-8")
    named = [(run.rider, run.session) for run in lapkit.event_runs(event_folder)]
    assert named == [("Iska", "1"), ("Iska", "1 (2)"), ("Odel", "1")]
