"""The shipped sample event is what its generator makes."""

from __future__ import annotations

import importlib.util
import io
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from lapkit.course import place, read_track, write_track
from lapkit.course.checks import check_track
from lapkit.course.marker_line import with_line
from lapkit.course.walk import track_of_walk
from lapkit.course.walk_file import read_walk
from lapkit.importer import read_log
from lapkit.importer.event_folder import read_event_folder
from lapkit.simulate.courses import LAYOUTS
from lapkit.simulate.event import habits
from lapkit.simulate.layout_track import track_of
from lapkit.simulate.receiver import observe
from lapkit.simulate.ride import ride
from lapkit.simulate.truth import truth_tables

FOLDER = Path(__file__).parents[2] / "sample_data"


@pytest.fixture(scope="module")
def make():
    spec = importlib.util.spec_from_file_location("sample_make", FOLDER / "make.py")
    make = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(make)
    return make


@pytest.fixture(scope="module")
def runs(make):
    return make.sample_runs()


@pytest.fixture(scope="module")
def course():
    return with_line(place(read_track(FOLDER / "track.geojson")))


def test_five_riders_two_runs_each_under_six_megabytes(runs):
    entries = read_event_folder(FOLDER).entries
    assert len(entries) == len(runs) == 10
    assert len({e.rider for e in entries}) == 5
    assert not any(e.fault for e in entries)
    assert sum(p.stat().st_size for p in FOLDER.rglob("*") if p.is_file()) < 6_000_000
    velocity = {e.rider: read_log(e.path).has_velocity for e in entries if e.session == "1"}
    assert velocity == {"Tove": True, "Marlo": True, "Iska": True, "Bren": False, "Odel": True}


def test_its_track_file_is_what_its_walk_gives(make, tmp_path):
    walked = track_of_walk(read_walk(FOLDER / "walk.gpx"))
    assert walked.unread == () and check_track(walked.track) == ()
    write_track(walked.track, tmp_path / "track.geojson")
    made, shipped = read_track(tmp_path / "track.geojson"), read_track(FOLDER / "track.geojson")
    assert made.corners == shipped.corners and made.members == shipped.members
    for name in ("centre", "left_edge", "right_edge"):
        one, other = getattr(made, name).lon_lat, getattr(shipped, name).lon_lat
        assert np.allclose(one, other, atol=1e-7)
    again = make.walk_of(place(track_of(LAYOUTS["sample"])), seed=make.WALK_SEED)
    marks = [(w.name, w.latitude, w.longitude) for w in again.waypoints]
    kept = read_walk(FOLDER / "walk.gpx").waypoints
    assert [m[0] for m in marks] == [w.name for w in kept]
    assert np.allclose([m[1:] for m in marks], [(w.lat_deg, w.lon_deg) for w in kept], atol=2e-7)


def test_its_cones_are_within_a_metre_of_the_invented_ones():
    true, walked = place(track_of(LAYOUTS["sample"])), read_track(FOLDER / "track.geojson")
    x, y = true.plane.to_xy([m.lat for m in walked.markers], [m.lon for m in walked.markers])
    errors = []
    for cone, east, north in zip(walked.markers, x, y, strict=True):
        invented = next(m for m in true.corner(cone.corner).markers if m.name == cone.name)
        errors.append(np.hypot(east - invented.x_m, north - invented.y_m))
        assert cone.properties["visits"] == 3
    assert 0.3 < np.sqrt(np.mean(np.square(errors)) / 2.0) < 1.0


def test_a_run_made_again_is_the_shipped_one(runs, course):
    run = next(r for r in runs if r.rider == "Bren")
    ridden = ride(course, run.style, laps=run.laps, seed=run.seed, epoch_s=run.start_s)
    made, shipped = observe(ridden, run.receiver, run.seed), read_log(FOLDER / run.file)
    assert len(made) == len(shipped)
    # Within a centimetre, so that another version of numpy or scipy is allowed its last digits.
    assert np.abs(made.lat_deg - shipped.lat_deg).max() < 2e-7
    assert np.abs(made.lon_deg - shipped.lon_deg).max() < 2e-7
    truth = pd.read_csv(FOLDER / "truth_corners.csv")
    mine = truth[(truth.rider == run.rider) & (truth.session == int(run.session))]
    again = truth_tables(ridden)["corners"]
    assert np.allclose(mine.lean_max_deg, again.lean_max_deg, atol=0.01)


def test_it_says_what_its_riders_were_told_to_do(runs):
    shipped = pd.read_csv(FOLDER / "truth_habits.csv", dtype=str)
    made = pd.read_csv(io.StringIO(habits(runs).to_csv(index=False)), dtype=str)
    pd.testing.assert_frame_equal(shipped, made)


def test_the_riders_do_what_the_readme_says():
    corners = pd.read_csv(FOLDER / "truth_corners.csv")
    seams = pd.read_csv(FOLDER / "truth_seams.csv")
    timed = corners[corners.kind == "timed"].set_index(["rider", "session", "corner"])
    ratio = timed.exit_radius_ratio.groupby(level=[0, 1, 2]).median()
    for corner in ("Larch", "Ravens Drop", "Tannery"):
        assert ratio["Iska", 1, corner] < 0.85 < 0.9 < ratio["Iska", 2, corner]
    assert ratio["Tove"].min() > 0.9
    first = seams[(seams.kind == "timed") & (seams.seam == "seam 1")]
    inside = first.groupby("rider").inside_share
    assert inside.min()["Marlo"] > 0.5
    assert inside.mean().drop("Marlo").max() < 0.4
