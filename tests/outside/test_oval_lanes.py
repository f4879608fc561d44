"""Closed curves of known length and curvature through StationLine."""

import numpy as np
import pytest
from scipy.special import ellipe

from lapkit.course.stations import StationLine
from lapkit.curvature import held_curvature

# A 400 m running track. Source: World Athletics track and field facilities manual: radius 36.50 m,
# straight 84.39 m, lane width 1.22 m, measuring line 0.30 m out in lane 1 and 0.20 m in the others
# (read); straight 84.389 m (memory). Lengths recomputed from these (derived).
STRAIGHT_M, KERB_RADIUS_M, LANE_M = 84.389, 36.50, 1.22
LANES_M = [399.999, 407.036, 414.702, 422.367, 430.033, 437.698, 445.364, 453.029]


def kerb(spacing_m):
    """Vertices along the kerb of a 400 m track, counter-clockwise."""
    turn = np.linspace(-np.pi / 2, np.pi / 2, max(int(np.pi * KERB_RADIUS_M / spacing_m), 4) + 1)
    run = np.linspace(-STRAIGHT_M / 2, STRAIGHT_M / 2, int(STRAIGHT_M / spacing_m) + 1)[1:-1]
    x = np.concatenate(
        [STRAIGHT_M / 2 + KERB_RADIUS_M * np.cos(turn), -run,
         -STRAIGHT_M / 2 - KERB_RADIUS_M * np.cos(turn), run]
    )  # fmt: skip
    y = np.concatenate(
        [KERB_RADIUS_M * np.sin(turn), np.full(len(run), KERB_RADIUS_M),
         -KERB_RADIUS_M * np.sin(turn), np.full(len(run), -KERB_RADIUS_M)]
    )  # fmt: skip
    return x, y


@pytest.mark.parametrize(("lane", "length_m"), list(enumerate(LANES_M, start=1)))
def test_lanes_of_a_400_m_track(lane, length_m):
    inside = StationLine.through(*kerb(0.5), True)
    out = 0.30 if lane == 1 else (lane - 1) * LANE_M + 0.20
    at = np.arange(0.0, inside.length_m, 0.5)
    measured = StationLine.through(*inside.offset_points(at, -out), True)
    assert measured.length_m == pytest.approx(length_m, abs=0.005)
    bend = inside.project(0.5 * STRAIGHT_M + KERB_RADIUS_M, 0.0)[0]
    middle = measured.project(*inside.offset_points(bend, -out))[0]
    assert 1.0 / measured.curvature_at(middle) == pytest.approx(KERB_RADIUS_M + out, abs=0.01)


def test_the_length_often_quoted_for_lane_2_is_wrong():
    # 407.67 m is what a measuring line 0.30 m out would give (derived).
    inside = StationLine.through(*kerb(0.5), True)
    at = np.arange(0.0, inside.length_m, 0.5)
    wrong = StationLine.through(*inside.offset_points(at, -LANE_M - 0.30), True)
    assert wrong.length_m == pytest.approx(407.67, abs=0.01)


@pytest.mark.parametrize("spacing_m", [2.0, 5.0, 10.0])
def test_drawn_with_few_vertices_the_lane_is_hardly_longer(spacing_m):
    inside = StationLine.through(*kerb(spacing_m), True)
    assert inside.length_m == pytest.approx(
        LANES_M[0] - 2.0 * np.pi * 0.30, abs=0.002 * spacing_m**2
    )


def test_held_over_ten_metres_the_bend_has_its_radius():
    inside = StationLine.through(*kerb(2.0), True)
    at = np.linspace(0.0, inside.length_m, 900)
    held = held_curvature(inside.heading_at(at), at, at)
    assert 1.0 / np.nanmax(held) == pytest.approx(KERB_RADIUS_M, rel=0.01)


LOOPS = {
    "circle": lambda t: (100.0 * np.cos(t), 100.0 * np.sin(t)),
    "ellipse": lambda t: (120.0 * np.cos(t), 80.0 * np.sin(t)),
    "bean": lambda t: (
        (200.0 + 60.0 * np.cos(2 * t)) * np.cos(t),
        (200.0 + 60.0 * np.cos(2 * t)) * np.sin(t),
    ),
    "clover": lambda t: (
        (300.0 + 60.0 * np.cos(3 * t)) * np.cos(t),
        (300.0 + 60.0 * np.cos(3 * t)) * np.sin(t),
    ),
}


@pytest.mark.parametrize("name", LOOPS)
@pytest.mark.parametrize("outside_m", [-6.0, 1.22, 8.0])
def test_a_path_outside_a_loop_is_longer_by_two_pi(name, outside_m):
    """A path d metres outside a simple closed loop is 2πd longer, whatever the loop (derived)."""
    t = np.linspace(0.0, 2.0 * np.pi, 2000, endpoint=False)
    loop = StationLine.through(*LOOPS[name](t), True)
    at = np.arange(0.0, loop.length_m, 0.5)
    path = StationLine.through(*loop.offset_points(at, -outside_m), True)
    assert path.length_m - loop.length_m == pytest.approx(2.0 * np.pi * outside_m, abs=0.003)


def test_stations_of_an_ellipse_have_its_length_and_curvature():
    """κ = ab/(a² sin² t + b² cos² t)^1.5; perimeter 4a E(1 − b²/a²) (derived; scipy.special)."""
    a, b = 60.0, 40.0
    t = np.linspace(0.0, 2.0 * np.pi, 400, endpoint=False)
    line = StationLine.through(a * np.cos(t), b * np.sin(t), True)
    assert 4.0 * a * ellipe(1.0 - b * b / (a * a)) == pytest.approx(317.308792, abs=1e-6)
    assert line.length_m == pytest.approx(317.308792, abs=1e-4)
    x, y = a * np.cos(t), b * np.sin(t)
    station, offset = line.project(x, y)
    assert np.max(np.abs(offset)) < 1e-5
    exact = a * b / (a**2 * np.sin(t) ** 2 + b**2 * np.cos(t) ** 2) ** 1.5
    assert line.curvature_at(station) == pytest.approx(exact, rel=2e-3)
    ends = 1.0 / line.curvature_at(station[[0, 100]])
    assert ends == pytest.approx([26.667, 90.0], rel=1e-3)


def test_a_lap_that_crosses_itself_has_its_length_and_is_followed():
    """r² = a² cos 2θ: κ = 3r/a², length 5.244115108584 a (derived): a lap that crosses itself."""
    a = 200.0
    t = np.linspace(0.0, 2.0 * np.pi, 600, endpoint=False)
    x = a * np.cos(t) / (1.0 + np.sin(t) ** 2)
    y = x * np.sin(t)
    line = StationLine.through(x, y, True)
    assert line.length_m == pytest.approx(5.244115108584 * a, abs=1e-3)
    station, offset = line.follow(x, y)
    assert np.max(np.abs(offset)) < 1e-4
    assert np.all(np.diff(station) > 0.0) and station[-1] - station[0] < line.length_m
    size = np.abs(line.curvature_at(station))
    assert size == pytest.approx(3.0 * np.hypot(x, y) / a**2, abs=3e-5)
    assert line.heading_at(line.length_m) - line.heading_at(0.0) == pytest.approx(0.0, abs=1e-6)
