"""``lapkit track``: a track file checked, solved and printed."""

import re
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from lapkit.course import place, read_track, write_track
from lapkit.errors import OutputError, TrackError
from lapkit.sample import sample_event
from lapkit.simulate.courses import LAYOUTS
from lapkit.simulate.layout_track import track_of


def test_from_a_walk_to_sheets_in_two_commands(walk_file, tmp_path, run):
    track = tmp_path / "track.geojson"
    walked = run("walk", walk_file, "--out", track)
    assert walked.exit_code == 0
    assert "corner Needle, right: turn-in (3 visits, spread" in walked.stdout
    assert "not read: waypoint 'toilets'" in walked.stderr and "error:" not in walked.stderr
    done = run("track", track, "--out", tmp_path / "sheets")
    assert done.exit_code == 0 and "Marker line solved" in done.stdout
    written = read_track(tmp_path / "sheets" / "track.geojson")
    assert written.marker_line is not None and len(written.corners) == 7
    table = pd.read_csv(tmp_path / "sheets" / "line.csv")
    assert list(table.columns[:3]) == ["corner", "line", "radius_min_m"]
    numbers = re.findall(
        r"\d+\.\d+", (tmp_path / "sheets" / "line.csv").read_text(encoding="utf-8")
    )
    assert max(len(each.replace(".", "").lstrip("0")) for each in numbers) == 6
    page = (tmp_path / "sheets" / "corner-sheets.html").read_text(encoding="utf-8")
    assert page.count("Geometry, not advice") == 7 and "Cobbler" in page
    assert (tmp_path / "sheets" / "corner-sheets.pdf").stat().st_size > 20_000
    again = run("track", tmp_path / "sheets" / "track.geojson")
    assert "Marker line given; radii held over 10 m" in again.stdout
    given = tmp_path / "sheets" / "track.geojson"
    *_, then = again.stdout.splitlines()
    assert then == f"Next, for sheets to print: lapkit track {given} --out sheets"
    feet = run("track", given, "--units", "us", "--out", tmp_path / "us").stdout
    page = (tmp_path / "us" / "corner-sheets.html").read_text(encoding="utf-8")
    assert "Lean that a steady speed, mph, asks for" in page
    assert '<th scope="col">35</th>' in page and '<th scope="col">37</th>' not in page
    assert list(pd.read_csv(tmp_path / "us" / "line.csv").columns) == list(table.columns)
    assert "radii held over 33 ft" in feet
    row = table.query("corner == 'Needle' and line == 'marker'").iloc[0]
    told = re.search(r"Needle +marker line +(\d+) ft ", feet)
    assert float(told[1]) == pytest.approx(row["radius_min_m"] / 0.3048, rel=0.02)


def test_a_cone_that_closes_the_marker_line_is_told_and_does_not_stop(tmp_path, run):
    track = track_of(LAYOUTS["twisty"])
    file = tmp_path / "track.geojson"
    write_track(track, file)
    assert "the marker line is down to" not in run("track", file).stderr
    course = place(track)
    gable = course.corner("Gable")
    out = gable.markers[-1]
    # The exit cone stands just after the apex, at the other edge.
    at = np.array([gable.last_apex_m + 9.0])
    edge = 0.85 * course.edges_at(at)[0 if out.side == "left" else 1]
    (x, y), heading = course.reference.at(at), course.reference.heading_at(at)
    lat, lon = course.plane.to_lat_lon(x - edge * np.sin(heading), y + edge * np.cos(heading))
    moved = tuple(
        replace(m, lat=float(lat[0]), lon=float(lon[0]))
        if (m.corner, m.name) == ("Gable", out.name)
        else m
        for m in track.markers
    )
    write_track(replace(track, markers=moved), file)
    done = run("track", file, "--out", tmp_path / "sheets")
    assert done.exit_code == 0
    assert "corner 'Gable': " in done.stderr and "the marker line is down to" in done.stderr
    page = (tmp_path / "sheets" / "corner-sheets.html").read_text(encoding="utf-8")
    assert "the marker line is down to" in page
    feet = run("track", file, "--out", tmp_path / "feet", "--units", "us")
    page = (tmp_path / "feet" / "corner-sheets.html").read_text(encoding="utf-8")
    for told in (feet.stderr, page):
        assert re.search(r"the marker line is down to [\d.]+ ft\b", told)


def test_the_coachs_own_laps_are_the_marker_line(tmp_path, run):
    """A lap ridden two metres left of the centre all round, three times, at 10 Hz."""
    # Without edges nothing but the log says where he was.
    track = replace(track_of(LAYOUTS["twisty"]), left_edge=None, right_edge=None)
    course = place(track)
    write_track(track, tmp_path / "track.geojson")
    second = np.arange(0.0, 3.3 * course.reference.length_m / 15.0, 0.1)
    x, y = course.reference.offset_points(15.0 * second, np.full(len(second), 2.0))
    lat, lon = course.plane.to_lat_lon(x, y)
    log = pd.DataFrame({"time": 1.8e9 + second, "lat": lat.round(8), "lon": lon.round(8)})
    log.to_csv(tmp_path / "coach.csv", index=False)
    done = run("track", tmp_path / "track.geojson", "--line", tmp_path / "coach.csv", "--out",
               tmp_path / "sheets")  # fmt: skip
    assert "Marker line ridden" in done.stdout
    made = place(read_track(tmp_path / "sheets" / "track.geojson"))
    _, beside = made.reference.follow(made.marker_line.x_m, made.marker_line.y_m)
    assert np.median(np.abs(beside - 2.0)) < 0.3
    # Of a receiver whose headers nobody knows, he says which column is which.
    log.set_axis(["c1", "c2", "c3"], axis=1).to_csv(tmp_path / "unnamed.csv", index=False)
    said = ["--line", tmp_path / "unnamed.csv", "--columns", "time=c1,latitude=c2,longitude=c3"]
    named = run("track", tmp_path / "track.geojson", *said)
    assert "Marker line ridden" in named.stdout
    assert "--columns time=c1,latitude=c2,longitude=c3 --out sheets" in named.stdout


def test_without_a_corner_no_sheets_are_promised(tmp_path, run):
    track = read_track(sample_event() / "track.geojson")
    bare = tmp_path / "bare.geojson"
    write_track(replace(track, corners=(), markers=(), seams=(), hazards=()), bare)
    told = run("track", bare, "--out", tmp_path / "sheets").stdout
    assert "no sheets to print" in told
    named = re.findall(r"corner-sheets\.\w+", told)
    assert named == [p.name for p in (tmp_path / "sheets").glob("corner-sheets.*")]


def test_errors_of_a_track_file_stop(walk_file, tmp_path, run):
    track = tmp_path / "track.geojson"
    run("walk", walk_file, "--out", track)
    text = track.read_text(encoding="utf-8").replace('"turn": "right"', '"turn": "left"')
    track.write_text(text, encoding="utf-8")
    with pytest.raises(TrackError, match=r"the track file has \d+ errors"):
        run("track", track, "--out", tmp_path / "sheets")
    assert not (tmp_path / "sheets").exists()


def test_a_folder_that_cannot_be_made(walk_file, tmp_path, run):
    track = tmp_path / "track.geojson"
    run("walk", walk_file, "--out", track)
    (tmp_path / "file").write_text("")
    with pytest.raises(OutputError, match="not a folder"):
        run("track", track, "--out", tmp_path / "file")


@pytest.mark.parametrize("most_bytes", [0, 20_000])
def test_a_full_disk_names_the_folder_asked_for(walk_file, tmp_path, room_for, most_bytes, run):
    """Too little for the track file, and too little for what comes after it."""
    track = tmp_path / "track.geojson"
    run("walk", walk_file, "--out", track)
    with room_for(most_bytes), pytest.raises(OutputError) as told:
        run("track", track, "--out", tmp_path / "sheets")
    assert told.value.where == str(tmp_path / "sheets")
    assert ".lapkit" not in str(told.value)
    assert sorted(p.name for p in tmp_path.iterdir()) == ["track.geojson"]


def test_a_track_file_that_is_not_there(tmp_path, run):
    with pytest.raises(TrackError, match="no such file"):
        run("track", tmp_path / "none")
