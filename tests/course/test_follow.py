"""A path followed along a line, lap after lap."""

import time

import numpy as np
import pytest

from lapkit.course.stations import StationLine


def circle(radius=100.0, vertices=60, turns=1):
    angle = np.linspace(0.0, turns * 2.0 * np.pi, vertices, endpoint=False)
    return StationLine.through(radius * np.cos(angle), radius * np.sin(angle), True)


def loop(*legs, radius=12.0, step=3.0):
    """A closed line through corner points, with every corner rounded off."""
    corners = np.array(legs, dtype=float)
    points = []
    for i, corner in enumerate(corners):
        back = corners[i - 1] - corner
        on = corners[(i + 1) % len(corners)] - corner
        cut = min(radius, 0.4 * np.hypot(*back), 0.4 * np.hypot(*on))
        a, b = corner + back / np.hypot(*back) * cut, corner + on / np.hypot(*on) * cut
        t = np.linspace(0.0, 1.0, max(int(2 * cut / step), 4))[:, None]
        points.append((1 - t) ** 2 * a + 2 * t * (1 - t) * corner + t**2 * b)
    vertices = np.concatenate(points)
    return StationLine.through(vertices[:, 0], vertices[:, 1], True)


# Straights 10 m apart, ridden in opposite directions, joined by a teardrop.
PARALLEL = loop(
    (0, 0),
    (420, 0),
    (420, 40),
    (60, 40),
    (30, 20),
    (0, 45),
    (30, 70),
    (60, 50),
    (420, 50),
    (420, 120),
    (-40, 120),
    (-40, 0),
)


# Three legs side by side in the same direction: an inward spiral that leaves over a bridge.
SPIRAL = loop(
    (0, 0),
    (300, 0),
    (300, 200),
    (0, 200),
    (0, 10),
    (290, 10),
    (290, 190),
    (10, 190),
    (10, 20),
    (150, 20),
    (150, 260),
    (-60, 260),
    (-60, 0),
)


# A hairpin whose legs touch at its mouth.
TOUCHING = loop((0, 0), (300, 0), (300, 14), (40, 3), (40, 150), (0, 150), radius=6.0)


def eight(vertices=200, size=250.0):
    t = np.linspace(0.0, 2.0 * np.pi, vertices, endpoint=False)
    under = 1.0 + np.sin(t) ** 2
    return StationLine.through(size * np.cos(t) / under, size * np.sin(t) * np.cos(t) / under, True)


COURSES = {
    "parallel straights": PARALLEL,
    "spiral": SPIRAL,
    "touching hairpin": TOUCHING,
    "figure of eight": eight(),
    "circle": circle(),
}


def ride(line, laps, step_m=3.0, swing_m=3.0, noise_m=0.0, seed=0):
    """A path along a line with a swinging offset: true stations, x, y."""
    station = np.arange(10.0, laps * line.length_m, step_m)
    x, y = line.offset_points(station, swing_m * np.sin(station / 97.0))
    noise = np.random.default_rng(seed).normal(0.0, noise_m, (2, len(station)))
    return station, x + noise[0], y + noise[1]


@pytest.mark.parametrize("name", COURSES)
@pytest.mark.parametrize("noise_m", [0.0, 0.5])
def test_a_path_is_followed_lap_after_lap(name, noise_m):
    line = COURSES[name]
    station, x, y = ride(line, laps=4, noise_m=noise_m)
    found, offset = line.follow(x, y)
    # Inside a tight bend the foot of a noisy point runs ahead of it.
    assert np.max(np.abs(found - station)) < 0.05 + 8.0 * noise_m
    assert offset == pytest.approx(3.0 * np.sin(station / 97.0), abs=0.05 + 5.0 * noise_m)


@pytest.mark.parametrize("name", COURSES)
@pytest.mark.parametrize("share", [0.1, 0.37, 0.62, 0.85])
def test_a_path_may_begin_and_end_anywhere(name, share):
    line = COURSES[name]
    station, x, y = ride(line, laps=2)
    begin = int(share * len(station) / 2)
    found, _ = line.follow(x[begin:-begin], y[begin:-begin])
    assert found == pytest.approx(station[begin:-begin], abs=0.05)


@pytest.mark.parametrize("name", COURSES)
@pytest.mark.parametrize("share", [0.2, 0.5, 0.7])
def test_going_off_course_and_coming_back(name, share):
    line = COURSES[name]
    station, x, y = ride(line, laps=3)
    middle = int(share * len(station))
    away = slice(middle, middle + 12)
    x[away], y[away] = line.offset_points(station[away], -25.0 * np.hanning(12) - 2.0)
    found, _ = line.follow(x, y)
    back = np.abs(np.arange(len(x)) - middle) > 30
    assert found[back] == pytest.approx(station[back], abs=0.05)


@pytest.mark.parametrize("name", COURSES)
def test_standing_still_counts_no_laps(name):
    line = COURSES[name]
    station, x, y = ride(line, laps=2)
    middle = len(x) // 2
    rng = np.random.default_rng(5)
    still = np.full(3000, middle)
    index = np.concatenate([np.arange(middle), still, np.arange(middle, len(x))])
    jitter = np.where(index == middle, 1.0, 0.0) * rng.normal(0.0, 0.3, (2, len(index)))
    found, _ = line.follow(x[index] + jitter[0], y[index] + jitter[1])
    assert found == pytest.approx(station[index], abs=4.0)


@pytest.mark.parametrize("name", COURSES)
def test_after_a_gap_the_count_goes_on(name):
    line = COURSES[name]
    station, x, y = ride(line, laps=3)
    kept = np.ones(len(x), dtype=bool)
    begin = int(1.3 * line.length_m / 3.0)
    kept[begin : begin + int(0.35 * line.length_m / 3.0)] = False
    found, _ = line.follow(x[kept], y[kept])
    assert found == pytest.approx(station[kept], abs=0.05)


def test_wild_fixes_count_no_laps():
    station, x, y = ride(PARALLEL, laps=3)
    x[500], y[500] = x[500] - 180.0, y[500] + 90.0
    x[700:703] += 400.0
    found, _ = PARALLEL.follow(x, y)
    sound = np.ones(len(x), dtype=bool)
    sound[495:505] = sound[695:710] = False
    assert found[sound] == pytest.approx(station[sound], abs=0.05)


def test_a_pit_lane_beside_the_straight_stays_beside_the_straight():
    line = PARALLEL
    station, x, y = ride(line, laps=3)
    lane = (station > line.length_m) & (station < line.length_m + 330.0)
    x[lane], y[lane] = line.offset_points(station[lane], -14.0)
    found, offset = line.follow(x, y)
    inside = lane & np.roll(lane, 3) & np.roll(lane, -3)
    assert found[inside] == pytest.approx(station[inside], abs=0.1)
    assert offset[inside] == pytest.approx(-14.0, abs=0.1)
    assert found[-1] == pytest.approx(station[-1], abs=0.05)


def test_riding_the_other_way_round_counts_down():
    station, x, y = ride(PARALLEL, laps=2)
    found, _ = PARALLEL.follow(x[::-1], y[::-1])
    assert found[-1] - found[0] == pytest.approx(station[0] - station[-1], abs=0.1)


def test_an_open_course_is_followed_up_and_left_beyond_its_end():
    t = np.linspace(0.0, 900.0, 120)
    hill = StationLine.through(t, 60.0 * np.sin(t / 90.0), False)
    station = np.arange(-40.0, hill.length_m + 40.0, 2.0)
    x, y = hill.offset_points(station, 1.5)
    found, offset = hill.follow(x, y)
    assert found == pytest.approx(station, abs=0.05)
    assert offset == pytest.approx(1.5, abs=0.02)


@pytest.mark.parametrize("count", [0, 1, 2])
def test_paths_of_no_one_and_two_points_are_followed(count):
    found, offset = circle().follow(np.full(count, 102.0), np.zeros(count))
    assert found.shape == offset.shape == (count,)
    assert offset == pytest.approx(-2.0, abs=1e-3)


def test_other_draws_are_projected_near_known_stations():
    station, x, y = ride(SPIRAL, laps=2)
    draws = np.random.default_rng(1).normal(0.0, 0.8, (2, 16, len(x)))
    found, offset = SPIRAL.project_near(x + draws[0], y + draws[1], station)
    assert found.shape == offset.shape == (16, len(x))
    assert np.max(np.abs(found - station)) < 15.0
    assert np.max(np.abs(offset)) < 12.0


def test_twelve_thousand_fixes_take_milliseconds():
    line = circle(radius=480.0, vertices=400)
    _, x, y = ride(line, laps=12, step_m=12 * line.length_m / 12000)
    line.follow(x, y)
    best = min(_seconds(line, x, y) for _ in range(5))
    assert best < 0.1  # measured 0.013 s of a processor


def _seconds(line, x, y):
    begin = time.process_time()
    line.follow(x, y)
    return time.process_time() - begin
