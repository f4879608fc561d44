from __future__ import annotations

import filecmp
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from click.testing import CliRunner

from lapkit.cli.simulate import command
from lapkit.course import place, read_track
from lapkit.errors import OutputError, TrackError
from lapkit.importer import read_log
from lapkit.importer.event_folder import read_event_folder
from lapkit.lock import held
from lapkit.simulate.courses import built_in
from lapkit.simulate.event import write_event
from lapkit.simulate.invented_runs import Outline, invented_runs
from lapkit.simulate.receiver import Receiver
from lapkit.simulate.style import Habit, RiderStyle

TABLES = ("laps", "corners", "markers", "seams")


def made(folder, seed=3, **more):
    runs = invented_runs(Outline(2, 2, 1, seed), Receiver(rate_hz=5.0))
    write_event(built_in("twisty"), runs, folder, **more)
    return folder


@pytest.fixture(scope="module")
def event(tmp_path_factory):
    return made(tmp_path_factory.mktemp("made") / "event", base_seed=3)


def test_the_folder_is_an_event_folder(event):
    entries = read_event_folder(event).entries
    assert len(entries) == 4
    assert {e.session for e in entries} == {"1", "2"}
    for entry in entries:
        assert entry.fault == ""
        log = read_log(entry.path)
        assert log.has_velocity
        assert log.rate_hz == pytest.approx(5.0, rel=1e-3)
    assert read_track(event / "track.geojson").hold_points


def test_the_truth_lies_beside_it(event):
    truth = {name: pd.read_csv(event / f"truth_{name}.csv") for name in TABLES}
    for name, table in truth.items():
        assert list(table.columns[:3]) == ["rider", "session", "lap"], name
        assert not table.isna().any().any(), name
    laps = truth["laps"]
    assert len(laps) == 4 * 3
    assert (
        laps.groupby(["rider", "session"]).kind.agg(list).map(tuple) == ("out", "timed", "in")
    ).all()
    # Positions logged in a timed lap lie about its lap's length of road: the clocks agree.
    first = laps[laps.kind == "timed"].iloc[0]
    log = read_log(read_event_folder(event).entries[0].path)
    inside = (log.time_s > first.start_s) & (log.time_s < first.start_s + first.time_s)
    assert np.sum(log.speed_mps[inside]) / 5.0 == pytest.approx(first.distance_m, rel=0.02)


def test_what_every_rider_does_lies_beside_it(tmp_path):
    early, lapse = Habit(early_turn_in_m=8.0), Habit(tighten_exit=0.3)
    (run,) = invented_runs(Outline(1, 1, 1, 3), Receiver(rate_hz=5.0))
    style = RiderStyle(drift_wide_m=0.2, habit_at={"Yard": early}, lapse_at={("Barn", 1): lapse})
    runs = [replace(run, style=style)]
    write_event(built_in("twisty"), runs, tmp_path / "event")
    told = pd.read_csv(
        tmp_path / "event" / "truth_habits.csv", dtype={"lap": str}, keep_default_na=False
    )
    assert told[["corner", "lap"]].values.tolist() == [["", ""], ["Yard", ""], ["Barn", "1"]]
    assert told.early_turn_in_m.tolist() == [0.0, 8.0, 0.0]
    assert told.tighten_exit.tolist() == [0.0, 0.0, 0.3]
    assert set(told.drift_wide_m) == {0.2}


def test_the_base_log_shares_the_riders_offset(event):
    track = read_track(event / "track.geojson")
    course = place(track)
    base = read_log(event / "base.csv.gz")
    x, y = course.plane.to_xy(base.lat_deg, base.lon_deg)
    off = np.stack([x, y], axis=1) - course.base_points[0]
    entry = read_event_folder(event).entries[0]
    log = read_log(entry.path)
    stood = log.time_s < log.time_s[0] + 40.0
    lx, ly = course.plane.to_xy(log.lat_deg[stood], log.lon_deg[stood])
    rider = np.stack([lx, ly], axis=1).mean(axis=0) - course.hold_points[0]
    then = np.abs(base.time_s - log.time_s[0] - 20.0) < 20.0
    # Wander and white noise are each receiver's own.
    assert np.hypot(*(off[then].mean(axis=0) - rider)) < 0.4
    assert np.hypot(*off.std(axis=0)) > 0.5


def test_the_same_seed_gives_the_same_event(event, tmp_path):
    again = made(tmp_path / "again", base_seed=3)
    names = sorted(str(p.relative_to(event)) for p in event.rglob("*") if p.is_file())
    assert names == sorted(str(p.relative_to(again)) for p in again.rglob("*") if p.is_file())
    same, different, odd = filecmp.cmpfiles(event, again, names, shallow=False)
    assert (different, odd) == ([], [])
    assert len(same) == 4 + 5 + 3


def test_a_folder_in_use_is_left_alone_and_nothing_is_left_half_written(tmp_path, monkeypatch):
    used = tmp_path / "used"
    used.mkdir()
    (used / "notes.txt").write_text("mine")
    with pytest.raises(OutputError, match="something in this folder"):
        made(used)
    assert [p.name for p in used.iterdir()] == ["notes.txt"]

    def stop(done, total):
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        made(tmp_path / "stopped", progress=stop)
    assert sorted(p.name for p in tmp_path.iterdir()) == ["used"]


def test_a_course_without_a_track_file_makes_no_event(tmp_path):
    runs = invented_runs(Outline(1, 1, 1, 3), Receiver(rate_hz=5.0))
    with pytest.raises(TrackError, match="no track file for an event folder"):
        write_event(replace(built_in("twisty"), track=None), runs, tmp_path / "event")
    assert not (tmp_path / "event").exists()


def test_the_command_writes_an_event_folder_with_its_logs(tmp_path):
    out = tmp_path / "event"
    given = ["twisty", "--out", str(out), "--riders", "1", "--sessions", "1", "--laps", "1"]
    result = CliRunner().invoke(
        command, [*given, "--rate", "1", "--no-velocity", "--format", "nmea"]
    )
    assert result.exit_code == 0, result.output
    assert result.output.endswith(f"Next: lapkit event {out} --out DIR\n")
    (entry,) = read_event_folder(out).entries
    assert entry.file.endswith(".nmea.gz")
    log = read_log(entry.path)
    assert not log.has_velocity
    assert log.rate_hz == pytest.approx(1.0, abs=0.01)
    assert CliRunner().invoke(command, [*given, "--rate", "100"]).exit_code == 2


def test_a_full_disk_names_the_folder_asked_for(tmp_path, room_for):
    with room_for(0), pytest.raises(OutputError) as told:
        made(tmp_path / "event")
    assert told.value.where == str(tmp_path / "event")
    assert ".lapkit-" not in str(told.value)
    assert not list(tmp_path.iterdir())


def test_a_folder_of_a_like_name_is_left_alone(tmp_path):
    (tmp_path / "event.part").mkdir()
    (tmp_path / "event.part" / "notes.txt").write_text("mine")
    made(tmp_path / "event")
    assert (tmp_path / "event.part" / "notes.txt").read_text() == "mine"


def test_what_a_killed_run_left_is_cleared_away_and_two_runs_at_once_are_not_mixed(tmp_path):
    (tmp_path / ".event.lapkit-new" / "logs").mkdir(parents=True)
    with held(tmp_path / ".event.lapkit-lock"), pytest.raises(OutputError, match="another run"):
        made(tmp_path / "event")
    made(tmp_path / "event")
    assert [path.name for path in tmp_path.iterdir()] == ["event"]


def test_another_day_is_another_event_of_the_season(tmp_path):
    out = tmp_path / "later"
    asked = ["twisty", "--out", str(out), "--riders", "1", "--sessions", "2", "--laps", "1"]
    # Nine in the morning by the sun over the course.
    assert CliRunner().invoke(command, [*asked, "--date", "2031-07-12"]).exit_code == 0
    began = [read_log(entry.path).time_s[0] for entry in read_event_folder(out).entries]
    days = [str(np.datetime64(int(s), "s")) for s in began]
    assert days == ["2031-07-12T11:00:00", "2031-07-12T12:00:00"]
    assert CliRunner().invoke(command, [*asked, "--date", "soon"]).exit_code == 2
