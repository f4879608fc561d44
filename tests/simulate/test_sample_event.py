"""The shipped sample event is what its generator makes."""

from __future__ import annotations

import importlib.util
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from lapkit.course import read_track
from lapkit.importer import read_log
from lapkit.importer.event_folder import read_event_folder
from lapkit.simulate.coach import track_of
from lapkit.simulate.courses import LAYOUTS, built_in
from lapkit.simulate.receiver import observe
from lapkit.simulate.ride import ride
from lapkit.simulate.truth import truth_tables

FOLDER = Path(__file__).parents[2] / "sample_data"


@pytest.fixture(scope="module")
def runs():
    spec = importlib.util.spec_from_file_location("sample_make", FOLDER / "make.py")
    make = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(make)
    return make.sample_runs()


def test_five_riders_two_runs_each_under_six_megabytes(runs):
    entries = read_event_folder(FOLDER)
    assert len(entries) == len(runs) == 10
    assert len({e.rider for e in entries}) == 5
    assert not any(e.fault for e in entries)
    assert sum(p.stat().st_size for p in FOLDER.rglob("*") if p.is_file()) < 6_000_000
    velocity = {e.rider: read_log(e.path).has_velocity for e in entries if e.session == "1"}
    assert velocity == {"Tove": True, "Marlo": True, "Iska": True, "Bren": False, "Odel": True}


def test_its_track_file_is_the_layouts():
    track, again = read_track(FOLDER / "track.geojson"), track_of(LAYOUTS["sample"])
    assert track.corners == again.corners
    for name in ("centre", "left_edge", "right_edge"):
        assert np.allclose(getattr(track, name).lon_lat, getattr(again, name).lon_lat, atol=1e-8)


def test_a_run_made_again_is_the_shipped_one(runs):
    run = next(r for r in runs if r.rider == "Bren")
    ridden = ride(built_in("sample"), run.style, laps=run.laps, seed=run.seed, epoch_s=run.start_s)
    made, shipped = observe(ridden, run.receiver, run.seed), read_log(FOLDER / run.file)
    assert len(made) == len(shipped)
    # Within a centimetre, so that another version of numpy or scipy is allowed its last digits.
    assert np.abs(made.lat_deg - shipped.lat_deg).max() < 2e-7
    assert np.abs(made.lon_deg - shipped.lon_deg).max() < 2e-7
    truth = pd.read_csv(FOLDER / "truth_corners.csv")
    mine = truth[(truth.rider == run.rider) & (truth.session == int(run.session))]
    again = truth_tables(ridden)["corners"]
    assert np.allclose(mine.lean_max_deg, again.lean_max_deg, atol=0.01)


def test_the_riders_do_what_the_readme_says():
    corners = pd.read_csv(FOLDER / "truth_corners.csv")
    seams = pd.read_csv(FOLDER / "truth_seams.csv")
    timed = corners[corners.kind == "timed"].set_index(["rider", "session", "corner"])
    ratio = timed.exit_radius_ratio.groupby(level=[0, 1, 2]).median()
    for corner in ("Larch", "Ravens Drop", "Tannery"):
        assert ratio["Iska", 1, corner] < 0.85 < 0.9 < ratio["Iska", 2, corner]
    assert ratio["Tove"].drop("Wharf", level="corner").min() > 0.9
    first = seams[(seams.kind == "timed") & (seams.seam == "first seam")]
    inside = first.groupby("rider").inside_share
    assert inside.min()["Marlo"] > 0.5
    assert inside.mean().drop("Marlo").max() < 0.4
