"""Grade and vertical curvature from heights, and of the road under a path."""

import numpy as np
import pytest
from scipy.interpolate import CubicSpline

from lapkit.course.course import Course, Profile
from lapkit.course.plane import Plane
from lapkit.course.profile import profile_of, road_under
from lapkit.course.stations import StationLine
from lapkit.path.summary import DRAWS

CRESTS = (
    (500.0, -300.0, 45.0),
    (1200.0, 400.0, 60.0),
    (1900.0, -500.0, 70.0),
    (2500.0, 300.0, 45.0),
)
"""Station, vertical radius and length of two crests and two dips, metres."""


@pytest.fixture(scope="module")
def ring():
    angle = np.linspace(0.0, 2.0 * np.pi, 400, endpoint=False)
    return StationLine.through(480.0 * np.cos(angle), 480.0 * np.sin(angle), True)


@pytest.fixture(scope="module")
def road(ring):
    """Fine stations, grade, vertical curvature and height of a road over the crests and dips."""
    at = np.linspace(0.0, ring.length_m, 12000, endpoint=False)
    bend = np.zeros_like(at)
    for middle, radius, length in CRESTS:
        bend[np.abs(at - middle) < 0.5 * length] = 1.0 / radius
    bend -= bend.mean()
    grade = np.cumsum(bend) * at[1]
    grade -= grade.mean()
    return at, grade, bend, np.cumsum(grade) * at[1]


def survey(ring, road, spacing_m, noise_m, seed=1):
    at, _, _, height = road
    station = np.arange(0.0, ring.length_m - 1.0, spacing_m)
    noise = np.random.default_rng(seed).normal(0.0, noise_m, len(station))
    return profile_of(ring, station, np.interp(station, at, height) + noise)


@pytest.mark.parametrize(("spacing_m", "share"), [(2.0, 0.01), (7.5, 0.01), (12.0, 0.06)])
def test_exact_heights_keep_crests_and_dips(ring, road, spacing_m, share):
    """At 12 m four heights tell of a crest that begins and ends at once: how sharp it is between them is open."""
    profile = survey(ring, road, spacing_m, 0.0)
    middles = np.array([middle for middle, _, _ in CRESTS])
    _, bend = profile.at(middles)
    assert 1.0 / bend == pytest.approx([radius for _, radius, _ in CRESTS], rel=share)
    grade, _ = profile.at(road[0])
    assert np.std(grade - road[1]) < 0.002


@pytest.mark.parametrize("spacing_m", [2.0, 7.5])
def test_half_a_metre_of_noise_shakes_nothing(ring, road, spacing_m):
    profile = survey(ring, road, spacing_m, 0.5)
    grade, bend = profile.at(road[0])
    level = np.abs(road[2]) < 1e-3
    assert np.sqrt(np.mean((bend - road[2])[level] ** 2)) < 4e-4  # 2 % of gravity at 25 m/s
    assert np.std(grade - road[1]) < 0.01
    # A crest of 300 m and 45 m length is 0.8 m high: it is seen, and what is not known of it is said.
    _, crest = profile.at(np.array([500.0]))
    doubt = np.std(profile.doubt_at(np.array([500.0]), 33)[1:])
    assert abs(crest[0] + 1.0 / 300.0) < 2.0 * doubt < 1.5 / 300.0


def test_a_flat_course_stays_flat_under_noise(ring):
    station = np.arange(0.0, ring.length_m - 1.0, 5.0)
    noise = np.random.default_rng(3).normal(0.0, 0.5, len(station))
    profile = profile_of(ring, station, 100.0 + noise)
    assert np.max(np.abs(profile.vertical_curvature_1pm)) < 5e-4


def test_an_open_hill_keeps_its_slope_to_the_ends():
    line = StationLine.through([0.0, 500.0, 1000.0], [0.0, 0.0, 0.0], False)
    station = np.linspace(0.0, 1000.0, 120)
    profile = profile_of(line, station, 50.0 + 0.08 * station)
    grade, bend = profile.at(np.array([0.0, 400.0, 1000.0]))
    assert grade == pytest.approx(0.08, abs=1e-4)
    assert bend == pytest.approx(0.0, abs=1e-6)
    assert profile.length_m is None


def test_a_steep_arc_has_the_curvature_of_its_radius_not_of_its_graph():
    """The road over a hill of 800 m radius, where it falls by one in four."""
    line = StationLine.through([0.0, 200.0, 400.0], [0.0, 0.0, 0.0], False)
    station = np.arange(0.0, 400.1, 2.0)
    profile = profile_of(line, station, np.sqrt(800.0**2 - station**2))
    grade, bend = profile.at(np.array([194.0]))
    assert grade == pytest.approx(-0.25, abs=0.001)
    assert 1.0 / bend == pytest.approx(-800.0, rel=0.01)


def test_heights_known_in_part_are_bridged(ring, road):
    at, grade, _, height = road
    station = np.arange(0.0, ring.length_m - 1.0, 4.0)
    level = np.interp(station, at, height)
    level[(station > 100.0) & (station < 180.0)] = np.nan
    found, _ = profile_of(ring, station, level).at(at)
    assert np.std(found - grade) < 0.004


@pytest.mark.parametrize("known", [0.05, 0.5, 0.9])
@pytest.mark.parametrize("spacing_m", [5.0, 20.0])
def test_heights_of_a_part_of_an_open_line_build_no_wall_beyond_it(known, spacing_m):
    line = StationLine.through(np.linspace(0.0, 5000.0, 1000), np.zeros(1000), False)
    station = np.arange(0.0, known * line.length_m, spacing_m)
    profile = profile_of(line, station, 5.0 * np.sin(station / 120.0))
    assert np.max(np.abs(profile.grade)) == pytest.approx(5.0 / 120.0, rel=0.05)
    grade, bend = profile.at(np.arange(station[-1] + 400.0, line.length_m, 10.0))
    assert grade == pytest.approx(0.0, abs=0.002)
    assert np.max(np.abs(bend)) < 1e-4  # at 30 m/s a hundredth of gravity


def test_a_few_heights_in_one_place_tell_of_a_level_course(ring):
    profile = profile_of(ring, np.full(4, 10.0), np.full(4, 3.0))
    assert profile.grade == pytest.approx(0.0, abs=1e-6)


def test_too_few_heights_give_no_profile(ring):
    station = np.array([0.0, 100.0, 200.0, 300.0])
    assert profile_of(ring, station, np.array([1.0, np.nan, 2.0, 3.0])) is None


@pytest.fixture(scope="module")
def hilly():
    """A loop of bends between 40 and 60 m over a crest or dip every 90 m, its heights drawn exactly."""
    angle = np.linspace(0.0, 2.0 * np.pi, 2000, endpoint=False)
    radius = 50.0 + 4.0 * np.cos(3.0 * angle)
    line = StationLine.through(radius * np.cos(angle), radius * np.sin(angle), True)
    waves = 2.0 * np.pi * 4 / line.length_m
    profile = Profile(
        station_m=line.station_m[:-1],
        grade=0.07 * np.sin(waves * line.station_m[:-1]),
        vertical_curvature_1pm=0.07
        * waves
        * np.cos(waves * line.station_m[:-1])
        / (1.0 + (0.07 * np.sin(waves * line.station_m[:-1])) ** 2) ** 1.5,
        length_m=line.length_m,
    )
    height = lambda station: -0.07 / waves * np.cos(waves * station)  # noqa: E731
    course = Course(Plane(47.0, 8.0), line, np.zeros((2, 2)), (), profile=profile)
    return course, height


def test_a_path_inside_a_bend_meets_a_sharper_crest(hilly):
    """Height differentiated over the length of a path that swings 4 m to both sides, by splines."""
    course, height = hilly
    line = course.reference
    station = line.station_m[:-1]
    x, y = line.offset_points(station, 4.0 * np.sin(2.0 * np.pi * 3 * station / line.length_m))
    length = np.concatenate([[0.0], np.cumsum(np.hypot(np.diff(x), np.diff(y)))])
    path = CubicSpline(length, np.stack([x, y], axis=1))
    (vx, vy), (ax, ay) = path(length, 1).T, path(length, 2).T
    own = CubicSpline(length, height(station))
    grade, bend, _ = road_under(
        course, *line.project_near(x, y, station), np.arctan2(vy, vx), vx * ay - vy * ax
    )
    inner = slice(40, -40)  # a spline's ends are its own
    assert grade[inner] == pytest.approx(own(length, 1)[inner], abs=2e-4)
    expected = own(length, 2) / (1.0 + own(length, 1) ** 2) ** 1.5
    # How fast the reference closes is looked at over 10 m: a fiftieth is lost to that at most.
    assert np.max(np.abs(bend - expected)[inner]) < 0.02 * np.max(np.abs(expected))
    # The reference's own would be a sixth of the largest off.
    _, plain = course.profile.at(station)
    assert np.max(np.abs(plain - expected)[inner]) > 0.15 * np.max(np.abs(expected))


def test_a_concentric_path_has_the_square_of_the_radii(ring):
    """480 m of reference, a path 30 m inside it: algebra."""
    profile = Profile(
        station_m=np.array([0.0, 1.0]),
        grade=np.zeros(2),
        vertical_curvature_1pm=np.full(2, -1.0 / 400.0),
        length_m=ring.length_m,
    )
    course = Course(Plane(47.0, 8.0), ring, np.zeros((2, 2)), (), profile=profile)
    at = np.array([700.0])
    _, bend, sharper = road_under(
        course, at, np.array([30.0]), ring.heading_at(at), np.array([1 / 450.0])
    )
    assert sharper == pytest.approx((480.0 / 450.0) ** 2, rel=1e-3)
    assert bend == pytest.approx(-sharper / 400.0, rel=1e-6)


def test_without_heights_the_road_is_level(ring):
    course = Course(Plane(47.0, 8.0), ring, np.zeros((2, 2)), ())
    at = np.array([10.0, 20.0])
    for level in road_under(course, at, 0 * at, 0 * at, 0 * at)[:2]:
        assert np.array_equal(level, np.zeros(2))


@pytest.mark.parametrize("noise_m", [0.02, 0.1])
def test_what_heights_leave_in_doubt_holds_the_road(ring, noise_m):
    """Waves of 60 to 200 m, drawn at random: 95 % bands about the found profile, over six roads."""
    rng, held, width = np.random.default_rng(8), [], []
    at = np.arange(0.0, ring.length_m, 4.0)
    for _ in range(6):
        order = np.arange(15, 50)
        waves = 2.0 * np.pi * order / ring.length_m
        height = rng.normal(0.0, 1.0, len(order)) * 4e-6 / waves**3
        phase = waves * at[:, None] + rng.uniform(0.0, 2.0 * np.pi, len(order))
        profile = profile_of(ring, at, np.cos(phase) @ height + rng.normal(0.0, noise_m, len(at)))
        off = profile.at(at)[1] + np.cos(phase) @ (height * waves**2)
        spread = np.std(profile.doubt_at(at, 33)[1:], axis=0)
        held.append(np.mean(np.abs(off) < 1.96 * spread))
        width.append(np.mean(spread) / np.sqrt(np.mean(off**2)))
    assert np.mean(held) > 0.9
    assert np.mean(width) < 2.0


def test_exact_heights_leave_no_doubt_and_the_estimate_has_none(ring):
    at = np.arange(0.0, ring.length_m - 1.0, 5.0)
    assert profile_of(ring, at, np.full(len(at), 40.0)).doubt_1pm is None
    noisy = profile_of(ring, at, np.random.default_rng(2).normal(40.0, 0.3, len(at)))
    off = noisy.doubt_at(np.array([0.0, 700.0, ring.length_m + 700.0]), 5)
    assert np.array_equal(off[0], np.zeros(3)) and np.all(np.std(off[1:], axis=0) > 0.0)
    assert off[:, 1] == pytest.approx(off[:, 2])


def test_every_draw_of_a_ride_has_a_draw_of_the_road(ring):
    at = np.arange(0.0, ring.length_m - 1.0, 5.0)
    noisy = profile_of(ring, at, np.random.default_rng(2).normal(40.0, 0.3, len(at)))
    assert len(noisy.doubt_1pm) == DRAWS
    more = noisy.doubt_at(at[:3], 1 + DRAWS + 5)
    # Of a larger ensemble the further draws take the same roads once more, and none the estimate's.
    np.testing.assert_array_equal(more[1 + DRAWS :], more[1:6])
    np.testing.assert_array_equal(noisy.doubt_at(at[:3], 1), np.zeros((1, 3)))
