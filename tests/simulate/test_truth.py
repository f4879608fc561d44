from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from lapkit.course.stations import StationLine
from lapkit.simulate.dense import Dense, crossings_s
from lapkit.simulate.ride import ride
from lapkit.simulate.truth import true_laps, true_passes, truth_tables

G = 9.80665
H = 0.6


@pytest.fixture(scope="module")
def tables(circle):
    return {name: t[t.lap == 2] for name, t in truth_tables(circle).items()}


@pytest.fixture(scope="module")
def steady():
    """Radius of the mass path, its speed and its lean: tyres on 60 m at the speed for 35° there.

    derived: the mass runs H sin φ inside the tyres, is slower by the ratio of the radii, and
    tan φ = v² / (g R) holds for it.
    """
    tyre_speed = np.sqrt(G * 60.0 * np.tan(np.radians(35.0)))
    lean = np.radians(35.0)
    for _ in range(50):
        radius = 60.0 - H * np.sin(lean)
        speed = tyre_speed * radius / 60.0
        lean = np.arctan(speed**2 / (G * radius))
    return radius, speed, lean


def test_laps_of_a_circle_have_their_closed_form(circle, tables, steady):
    radius, speed, _ = steady
    row = tables["laps"].iloc[0]
    assert row.kind == "timed"
    assert row.time_s == pytest.approx(2.0 * np.pi * radius / speed, rel=1e-4)
    assert row.distance_m == pytest.approx(2.0 * np.pi * radius, rel=1e-4)
    assert [lap.kind for lap in true_laps(circle)] == ["out", "timed", "timed", "timed", "in"]
    assert truth_tables(circle)["laps"].time_s.sum() == pytest.approx(circle.end_s)


def test_crossings_lie_on_the_start_line(circle):
    left, right = circle.course.start_line
    for time in crossings_s(circle):
        x, y = circle.mass(time)
        across = left - right
        off = (x - right[0]) * across[1] - (y - right[1]) * across[0]
        assert abs(off) / np.hypot(*across) < 1e-5


def test_the_corner_of_a_circle(tables, steady):
    radius, speed, lean = steady
    row = tables["corners"].iloc[0]
    assert row.radius_min_m == pytest.approx(radius, rel=2e-4)
    assert row.exit_radius_min_m == pytest.approx(radius, rel=2e-4)
    assert row.line_exit_radius_min_m == pytest.approx(60.0, rel=1e-3)
    assert row.lean_max_deg == pytest.approx(np.degrees(lean), abs=0.01)
    assert row.grip_max == pytest.approx(np.tan(lean - np.radians(2.0)), rel=1e-3)
    for name in ("entry_speed_mps", "slowest_mps", "exit_speed_mps"):
        assert row[name] == pytest.approx(speed, rel=2e-4)
    assert row.time_s == pytest.approx(np.pi * radius / speed, rel=2e-4)
    assert 5.0 <= row.radius_min_at_m <= np.pi * radius - 5.0


def test_the_markers_and_seams_of_a_circle(tables, steady):
    radius, speed, lean = steady
    markers = tables["markers"].set_index("marker")
    # Every cone stands 5 m beside the tyres, on the side where it should.
    assert markers.gap_m.to_numpy() == pytest.approx([5.0] * 3, abs=0.005)
    assert markers.wide_of_line_m.to_numpy() == pytest.approx([0.0] * 3, abs=0.005)
    assert (markers.lane == 2).all()
    assert markers.radius_m.to_numpy() == pytest.approx([radius] * 3, rel=2e-4)
    assert markers.speed_mps.to_numpy() == pytest.approx([speed] * 3, rel=2e-4)
    assert markers.lean_deg.to_numpy() == pytest.approx([np.degrees(lean)] * 3, abs=0.01)
    assert markers.lean_road_deg.to_numpy() == pytest.approx([np.degrees(lean) - 2.0] * 3, abs=0.01)
    share = tables["seams"].set_index("seam").inside_share
    assert share["in"] == 0.0
    assert share["out"] == 1.0


def test_every_lap_has_every_corner_once(rough):
    tables = truth_tables(rough)
    corners = {c.name for c in rough.course.corners}
    for lap, rows in tables["corners"].groupby("lap"):
        assert sorted(rows.corner) == sorted(corners), lap
    markers = sum(len(c.markers) for c in rough.course.corners)
    assert (tables["markers"].groupby("lap").size() == markers).all()
    assert (tables["seams"].groupby("lap").size() == 2 * len(corners)).all()


def test_windows_agree_with_a_plain_search(rough):
    """Slide a 10 m window over the dense path, sample by sample."""
    dense = Dense.of(rough)
    found = next(p for p in true_passes(dense) if p.lap.lap == 1 and p.corner.name == "Anvil")
    limits = [found.before_m + s for s in (found.corner.turn_in_m, found.corner.exit_m)]
    first, last = (np.argmax(dense.station_m >= s) for s in limits)
    best = np.inf
    for i in range(first, last):
        j = np.searchsorted(dense.distance_m, dense.distance_m[i] + 10.0)
        if j > last:
            break
        turned = abs(dense.heading_rad[j] - dense.heading_rad[i])
        best = min(best, (dense.distance_m[j] - dense.distance_m[i]) / turned)
    table = truth_tables(rough)["corners"]
    row = table[(table.lap == 1) & (table.corner == "Anvil")].iloc[0]
    assert row.radius_min_m == pytest.approx(best, rel=0.01)


def test_where_the_course_crosses_itself_the_line_is_read_on_its_own_leg(circle):
    """Legs cross at right angles where the exit cone stands: the nearest point of the line lies on the other one."""
    t = np.linspace(0.0, 2.0 * np.pi, 600, endpoint=False)
    x = 180.0 * np.cos(t) / (1.0 + np.sin(t) ** 2)
    eight = StationLine.through(x, x * np.sin(t), True)
    crossing_m = 0.25 * eight.length_m
    turn_in, apex, leave = crossing_m - 180.0, crossing_m - 120.0, crossing_m
    (bowl,) = circle.course.corners
    cone = replace(bowl.markers[-1], station_m=leave)
    corner = replace(
        bowl,
        turn_in_m=turn_in,
        apexes_m=(apex,),
        exit_m=leave,
        markers=(cone,),
        seams=(),
    )
    hold = np.stack(eight.offset_points(np.array([700.0]), np.array([-18.0])), axis=1)
    start = np.stack(eight.offset_points(np.full(2, 600.0), np.array([6.0, -6.0])), axis=1)
    course = replace(
        circle.course,
        reference=eight,
        marker_line=eight,
        corners=(corner,),
        start_line=start,
        hold_points=hold,
    )
    tables = truth_tables(ride(course, circle.style, laps=1))
    apex_m = 1.0 / float(eight.curvature_at(apex))
    assert tables["corners"].line_exit_radius_min_m[0] == pytest.approx(apex_m, rel=0.1)
    assert tables["markers"].wide_of_line_m[0] == pytest.approx(0.0, abs=0.3)
