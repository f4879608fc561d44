"""What ``lapkit check`` says of a log holds for the commands that measure it."""

import re

import pandas as pd
import pytest
from click.testing import CliRunner

from lapkit.cli import group
from lapkit.errors import LapkitError
from lapkit.sample import sample_event

TRACK = sample_event() / "track.geojson"
TOO_SELDOM = "a fix every 10 s is too seldom to tell a lap"
LAP_TIMES_ONLY = "no timed lap was logged finely enough for radius and lean"


def thinned(path, every, whose="iska-1.csv"):
    """One fix of so many of a bundled log of ten a second."""
    log = pd.read_csv(sample_event() / "logs" / whose, dtype=str)
    log.iloc[::every].to_csv(path, index=False)
    return path


@pytest.fixture(scope="module")
def seldom(tmp_path_factory):
    return thinned(tmp_path_factory.mktemp("logs") / "seldom.csv", 104)


@pytest.fixture(scope="module")
def coarse(tmp_path_factory):
    return thinned(tmp_path_factory.mktemp("logs") / "coarse.csv", 10)


def run(*args):
    return CliRunner().invoke(group, [str(arg) for arg in args])


@pytest.mark.parametrize("track", [(), ("--track", TRACK)], ids=["found", "track"])
@pytest.mark.parametrize("command", ["check", "laps", "review"])
def test_a_log_of_no_use_is_refused_by_every_command(seldom, tmp_path, command, track):
    out = tmp_path / "out"
    given = (*track, "--out", out) if command == "review" else track if command == "laps" else ()
    done = run(command, seldom, *given)
    assert isinstance(done.exception, LapkitError)
    assert done.exception.exit_status == 1
    # Where several logs may have been given, check tells the reason above its last line.
    assert TOO_SELDOM in f"{done.stdout}{done.exception}".casefold()
    assert not out.exists()


def test_a_coach_s_log_of_no_use_makes_no_line(seldom):
    done = run("track", TRACK, "--line", seldom)
    assert isinstance(done.exception, LapkitError)
    assert str(done.exception).startswith(f"{seldom}: {TOO_SELDOM}.")


@pytest.mark.parametrize("command", ["track", "review", "event"])
def test_a_coach_s_log_that_tells_lap_times_only_makes_no_line(coarse, tmp_path, command):
    given = {
        "track": (TRACK,),
        "review": (sample_event() / "logs/iska-1.csv", "--track", TRACK),
        "event": (sample_event(),),
    }
    done = run(command, *given[command], "--line", coarse, "--out", tmp_path / "out")
    assert isinstance(done.exception, LapkitError)
    assert done.exception.exit_status == 1
    assert str(done.exception).startswith(f"{coarse}: the coach's log tells lap times only")
    assert "Log his laps at 5 Hz or more, or leave --line out" in str(done.exception)
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize("track", [(), ("--track", TRACK)], ids=["found", "track"])
def test_a_log_of_no_use_among_others_is_told_and_has_no_numbers(seldom, coarse, tmp_path, track):
    out = tmp_path / "out"
    done = run("review", seldom, coarse, *track, "--rider", "Iska", "--out", out)
    assert done.exit_code == 0, done.exception
    assert f"Not used: Iska, run 1 (seldom.csv): {TOO_SELDOM}" in done.stdout
    logs = pd.read_csv(out / "logs.csv").set_index("file")
    assert logs.loc["seldom.csv", "verdict"] == "unusable"
    assert logs.loc["seldom.csv", "note"] == TOO_SELDOM
    assert logs.loc["seldom.csv", ["rate_hz", "noise_m", "position_sd_m"]].isna().all()
    assert set(pd.read_csv(out / "laps.csv")["session"]) == {2}
    page = (out / "rider-iska.html").read_text(encoding="utf-8")
    assert f"Run 1 (seldom.csv) could not be used: {TOO_SELDOM}." in page


@pytest.mark.parametrize("track", [(), ("--track", TRACK)], ids=["found", "track"])
def test_where_check_finds_lap_times_only_no_radius_and_no_lean_is_told(coarse, tmp_path, track):
    out = tmp_path / "out"
    assert ": laps only, begun 14 June 2031" in run("check", coarse).stdout
    done = run("review", coarse, *track, "--rider", "Iska", "--out", out)
    assert f"Lap times only: Iska, run 1: {LAP_TIMES_ONLY}" in done.stdout
    assert (pd.read_csv(out / "laps.csv").query("kind == 'timed'")["time_s"] > 60.0).all()
    corners = pd.read_csv(out / "corners.csv")
    assert (corners["quality"] == "poor").all() and len(corners)
    told = ["radius_min_m", "exit_radius_min_m", "lean_max_deg", "grip_max"]
    assert not corners[told].notna().to_numpy().any()
    assert (pd.read_csv(out / "seams.csv")["call"] == "unclear").all()
    page = (out / "rider-iska.html").read_text(encoding="utf-8")
    assert "Lap times only" in page and "good enough for lap times only" in page
    assert "pulled straight" in page and "Radius and lean through" not in page


def test_of_laps_alone_no_radius_is_told_where_check_finds_lap_times_only(tmp_path):
    # At one fix a second some passes through the fifth corner that is found have narrow intervals.
    log = thinned(tmp_path / "coarse.csv", 10, "odel-1.csv.gz")
    assert "no radius and no lean from this log, lap times only" in run("check", log).stdout
    told = run("laps", log).stdout
    assert " timed " in told and "corners found" in told
    assert "These logs cannot carry the radius of any of them." in told
    assert "tightest radius" not in told


@pytest.mark.parametrize(
    ("kept_s", "every_s", "verdict"), [(3.0, 4.0, "laps only"), (15.0, 20.0, "fair")]
)
def test_what_check_says_of_a_log_full_of_gaps_is_what_review_does(
    tmp_path, kept_s, every_s, verdict
):
    log = pd.read_csv(sample_event() / "logs/odel-1.csv.gz", dtype=str)
    gappy = tmp_path / "gappy.csv"
    log[(log.index / 10.0) % every_s < kept_s].to_csv(gappy, index=False)
    told = run("check", gappy).stdout
    assert f": {verdict}, begun 14 June 2031" in told
    assert ("no radius and no lean" in told) is (verdict == "laps only")
    run("review", gappy, "--track", TRACK, "--out", tmp_path / "out")
    corners = pd.read_csv(tmp_path / "out/corners.csv").query("0 < lap")
    empty = corners["radius_min_m"].isna().mean()
    if verdict == "laps only":
        assert empty == 1.0
    else:
        (share,) = re.findall(r"About (\d+) % of its corners have one in them", told)
        assert 100.0 * empty == pytest.approx(float(share), abs=20.0)


def test_notes_on_a_log_are_sentences(coarse, tmp_path):
    rows = coarse.read_text(encoding="utf-8").splitlines()
    gappy = tmp_path / "gappy.csv"
    gappy.write_text("\n".join([*rows[:300], *rows[305:]]), encoding="utf-8")
    run("review", gappy, "--track", TRACK, "--out", tmp_path / "out")
    (note,) = pd.read_csv(tmp_path / "out" / "logs.csv")["note"]
    assert note.startswith("1 fix a second over 16.7 min, with speed and heading. At ")
    assert note.endswith(
        " lap times only. Set the receiver to 5 Hz or more. 5.0 s are missing in 1 gap."
    )
    assert ";" not in note
