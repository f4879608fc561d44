"""line.csv: radii of the marker line and its neighbours, and what they ask for at a speed."""

from dataclasses import replace

import numpy as np
import pytest

from lapkit.course.course import Profile
from lapkit.course.line_table import LEANS_DEG, SPEEDS_KMH, ladder_kmh, line_table
from lapkit.course.marker_line import solve_marker_line
from lapkit.course.neighbour_lines import NeighbourLines, lane_width_m
from lapkit.course.place import place
from lapkit.course.stations import StationLine
from lapkit.course.track_file import read_track
from lapkit.errors import TrackError
from lapkit.lean import balance_lean_deg
from lapkit.units import Units


@pytest.fixture
def stadium(features, write):
    """The invented stadium, its line solved: lanes of 4 m, camber 2° to the inside."""
    course = place(read_track(write(features)))
    return replace(course, marker_line=solve_marker_line(course), marker_line_from="solved")


def on_circle(course, offset_m):
    """The same course with a marker line at an even offset: bends of 40 m less the offset."""
    station = course.reference.station_m[:-1]
    x, y = course.reference.offset_points(station, offset_m)
    return replace(course, marker_line=StationLine.through(x, y, True))


def row(course, line="marker", corner="1"):
    table = line_table(course).set_index(["corner", "line"])
    return table.loc[(corner, line)]


def test_columns_and_rows_are_the_published_ones(stadium):
    table = line_table(stadium)
    assert list(table.columns) == [
        *("corner", "line", "radius_min_m", "radius_min_at_m"),
        *("exit_radius_min_m", "exit_radius_at_m", "length_m"),
        *("lean_at_40_kmh_deg", "lean_at_60_kmh_deg", "lean_at_80_kmh_deg"),
        *("lean_at_100_kmh_deg", "lean_at_120_kmh_deg"),
        *("kmh_at_20_deg", "kmh_at_30_deg", "kmh_at_40_deg", "kmh_at_45_deg"),
    ]
    assert list(zip(table["corner"], table["line"], strict=True)) == [
        (corner, line) for corner in ("1", "2") for line in ("marker", "one lane in", "inside")
    ]
    assert table.notna().all(axis=None)


def test_who_reads_miles_has_speeds_in_round_ones(stadium):
    ladder = ladder_kmh(Units.US)
    assert [kmh / 1.609344 for kmh in ladder] == pytest.approx([25, 35, 45, 60, 75])
    leans = line_table(stadium, ladder).filter(like="lean_at_")
    assert list(leans.columns)[:2] == ["lean_at_40.2336_kmh_deg", "lean_at_56.327_kmh_deg"]
    # A little faster than 40 km/h, a little further over.
    slower = line_table(stadium)["lean_at_40_kmh_deg"]
    assert (leans["lean_at_40.2336_kmh_deg"] > slower).all()
    assert (leans["lean_at_40.2336_kmh_deg"] < slower + 0.5).all()


def test_an_even_line_has_its_own_radius_and_length(stadium):
    """At 3 m outside the reference the bend is 43 m; turn-in 10 m before it, exit 15 m after."""
    cells = row(on_circle(stadium, -3.0))
    assert cells["radius_min_m"] == pytest.approx(43.0, rel=5e-3)
    assert cells["exit_radius_min_m"] == pytest.approx(43.0, rel=5e-3)
    assert cells["length_m"] == pytest.approx(10.0 + np.pi * 43.0 + 15.0, abs=0.2)
    assert 10.0 < cells["radius_min_at_m"] < 10.0 + np.pi * 43.0
    assert cells["exit_radius_at_m"] > 10.0 + 0.55 * np.pi * 43.0


def test_corner_across_the_start_of_stations_measures_the_same(stadium):
    """Stations that begin inside the second bend change nothing but the count."""
    station = stadium.corners[1].turn_in_m + 30.0 + stadium.reference.station_m[:-1]
    turned = StationLine.through(*stadium.reference.at(station), True)
    shift = stadium.reference.length_m - stadium.corners[1].turn_in_m - 30.0

    def moved(corner):
        wrapped = (corner.turn_in_m + shift) % turned.length_m
        by = wrapped - corner.turn_in_m
        seam = corner.seams[0]
        seam = replace(seam, station_m=seam.station_m + by)
        markers = tuple(replace(m, station_m=m.station_m + by) for m in corner.markers)
        apexes = tuple(a + by for a in corner.apexes_m)
        return replace(
            corner,
            turn_in_m=wrapped,
            apexes_m=apexes,
            exit_m=corner.exit_m + by,
            markers=markers,
            seams=(seam, *corner.seams[1:]),
        )

    again = replace(stadium, reference=turned, corners=tuple(map(moved, stadium.corners)))
    for line in ("marker", "one lane in", "inside"):
        before, after = row(stadium, line, "2"), row(again, line, "2")
        names = ["radius_min_m", "exit_radius_min_m", "length_m"]
        assert after[names].to_numpy(float) == pytest.approx(
            before[names].to_numpy(float), rel=5e-3
        )


def test_running_further_in_costs_radius(stadium):
    marker, lane, inside = (row(stadium, line) for line in ("marker", "one lane in", "inside"))
    assert lane["radius_min_m"] < marker["radius_min_m"] - 2.0
    assert inside["exit_radius_min_m"] < marker["exit_radius_min_m"] - 2.0
    assert lane["lean_at_80_kmh_deg"] > marker["lean_at_80_kmh_deg"]
    assert lane["kmh_at_40_deg"] < marker["kmh_at_40_deg"]


def test_neighbours_keep_to_their_restriction(stadium):
    corner = stadium.corners[0]
    assert lane_width_m(stadium, corner) == pytest.approx(4.0, abs=0.1)
    neighbours = NeighbourLines.of(stadium)
    ends = stadium.reference.at(np.array([corner.turn_in_m, corner.exit_m]))
    marker = -stadium.marker_line.project(*ends)[1]
    lane = -neighbours.one_lane_in(corner).project(*ends)[1]
    assert np.all(lane - marker > 3.9)

    inside = neighbours.inside_seam(corner)
    station, offset = stadium.reference.follow(inside.x_m, inside.y_m)
    exit_phase = (station > corner.last_apex_m + 1) & (station < corner.exit_m - 1)
    assert np.all(offset[exit_phase] > corner.seams[0].offset_at(station[exit_phase]) + 0.3)

    x, y = stadium.marker_line.at(corner.turn_in_m - 95.0)
    assert abs(inside.project(x, y)[1]) < 0.5


def test_lean_counts_camber_and_speed_inverts_it(stadium):
    flat = tuple(
        replace(c, markers=tuple(replace(m, camber_deg=0.0) for m in c.markers))
        for c in stadium.corners
    )
    course = on_circle(stadium, 0.0)
    level, banked = row(replace(course, corners=flat)), row(course)
    for kmh in map(int, SPEEDS_KMH):
        name = f"lean_at_{kmh}_kmh_deg"
        expected = float(balance_lean_deg(kmh / 3.6, 1.0 / level["radius_min_m"]))
        assert level[name] == pytest.approx(expected, abs=1e-6)
        assert banked[name] == pytest.approx(level[name] - 2.0, abs=1e-6)
    for lean in LEANS_DEG:
        speed = banked[f"kmh_at_{lean}_deg"] / 3.6
        back = float(balance_lean_deg(speed, 1.0 / banked["radius_min_m"])) - 2.0
        assert back == pytest.approx(lean, abs=1e-6)


def test_crest_asks_for_more_lean_than_a_dip(stadium):
    course = on_circle(stadium, 0.0)
    station = np.array([0.0, 100.0])
    leans, speeds = [], []
    for vertical in (-1 / 300.0, 0.0, 1 / 300.0):
        profile = Profile(station, np.full(2, -0.05), np.full(2, vertical), 1000.0)
        cells = row(replace(course, profile=profile))
        leans.append(cells["lean_at_80_kmh_deg"])
        speeds.append(cells["kmh_at_40_deg"])
        radius, camber = cells["radius_min_m"], 2.0
        lean = balance_lean_deg(cells["kmh_at_40_deg"] / 3.6, 1 / radius, vertical, -0.05)
        # The line lies on the reference to a millimetre: the crest under it is the profile's to 1e-5.
        assert float(lean) - camber == pytest.approx(40.0, abs=1e-4)
    assert leans[0] > leans[1] > leans[2]
    assert speeds[0] < speeds[1] < speeds[2]


def test_without_seams_there_is_no_inside_line(stadium):
    corners = tuple(replace(c, seams=()) for c in stadium.corners)
    course = replace(stadium, corners=corners)
    assert row(course, "inside").isna().all()
    assert lane_width_m(course, course.corners[0]) == pytest.approx(4.0)


def test_a_line_that_cannot_be_ridden_leaves_its_cells_empty(stadium, monkeypatch):
    def refuse(self, corner):
        raise TrackError(f"no such line in corner {corner.name}")

    monkeypatch.setattr(NeighbourLines, "one_lane_in", refuse)
    table = line_table(stadium).set_index("line")
    assert table.loc["one lane in"].drop(columns="corner").isna().all(axis=None)
    assert table.loc[["marker", "inside"]].notna().all(axis=None)


def drawn_in_part(course, from_m, to_m):
    """The same course with only that part of its marker line, given as stations of the line."""
    at = np.arange(from_m, to_m, 2.0)
    return replace(course, marker_line=StationLine.through(*course.marker_line.at(at), False))


def test_where_the_marker_line_was_not_drawn_cells_are_empty(stadium):
    """Drawn from before the first corner to after it; the second and half the lap have none."""
    first = stadium.corners[0]
    part = drawn_in_part(stadium, first.turn_in_m - 40.0, first.exit_m + 40.0)
    table, whole = line_table(part).set_index("corner"), line_table(stadium).set_index("corner")
    assert table.loc["2"].drop(columns="line").isna().all(axis=None)
    names = ["radius_min_m", "exit_radius_min_m", "length_m"]
    found, expected = (t.loc["1"][names].to_numpy(float) for t in (table, whole))
    assert found == pytest.approx(expected, rel=0.02)


def test_a_line_that_breaks_off_within_a_corner_does_not_pass_it(stadium):
    """All round from behind the apex of the second corner to before it."""
    second = stadium.corners[1]
    middle = 0.5 * (second.turn_in_m + second.exit_m)
    part = drawn_in_part(stadium, middle + 20.0, middle - 20.0 + stadium.marker_line.length_m)
    table = line_table(part).set_index("corner")
    assert table.loc["2"].drop(columns="line").isna().all(axis=None)
    assert table.loc["1"].notna().all(axis=None)


def test_a_course_without_marker_line_is_an_error(stadium):
    with pytest.raises(TrackError, match="no marker line"):
        line_table(replace(stadium, marker_line=None))
