import numpy as np
import pytest

from lapkit.course.profile import profile_of
from lapkit.course.smoothing import smooth_even
from lapkit.course.stations import StationLine

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


@pytest.mark.parametrize("spacing_m", [2.0, 7.5, 12.0])
def test_exact_heights_keep_crests_and_dips(ring, road, spacing_m):
    profile = survey(ring, road, spacing_m, 0.0)
    middles = np.array([middle for middle, _, _ in CRESTS])
    _, bend = profile.at(middles)
    assert 1.0 / bend == pytest.approx([radius for _, radius, _ in CRESTS], rel=0.03)
    grade, _ = profile.at(road[0])
    assert np.std(grade - road[1]) < 0.002


@pytest.mark.parametrize("spacing_m", [2.0, 7.5])
def test_half_a_metre_of_noise_shakes_nothing(ring, road, spacing_m):
    profile = survey(ring, road, spacing_m, 0.5)
    grade, bend = profile.at(road[0])
    level = np.abs(road[2]) < 1e-3
    assert np.sqrt(np.mean((bend - road[2])[level] ** 2)) < 4e-4  # 2 % of gravity at 25 m/s
    assert np.std(grade - road[1]) < 0.01
    # A crest of 300 m and 45 m length is 0.8 m high: it is seen, though flatter.
    _, crest = profile.at(np.array([500.0]))
    assert -1.0 / 300.0 < crest[0] < -1.0 / 700.0


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


@pytest.mark.parametrize("wave_m", [30.0, 50.0, 80.0])
def test_half_of_a_wave_is_kept_where_course_and_noise_are_equally_strong(wave_m):
    """A course whose third derivative is white, and white noise, drawn in frequencies."""
    rng, count = np.random.default_rng(4), 4096
    omega = 2.0 * np.pi * np.fft.rfftfreq(count, 2.0)
    course = np.zeros(len(omega), dtype=complex)
    course[1:] = (omega[1:] * wave_m / (2.0 * np.pi)) ** -3.0
    white = [rng.normal(size=len(omega)) + 1j * rng.normal(size=len(omega)) for _ in range(2)]
    values = np.fft.irfft(course * white[0] + white[1], count)
    found = smooth_even(values, 2.0, True, 10.0, 250.0)
    assert found.wavelength_m == pytest.approx(wave_m, rel=0.06)


def test_heights_known_in_part_are_bridged(ring, road):
    at, grade, _, height = road
    station = np.arange(0.0, ring.length_m - 1.0, 4.0)
    level = np.interp(station, at, height)
    level[(station > 100.0) & (station < 180.0)] = np.nan
    found, _ = profile_of(ring, station, level).at(at)
    assert np.std(found - grade) < 0.004


def test_too_few_heights_give_no_profile(ring):
    station = np.array([0.0, 100.0, 200.0, 300.0])
    assert profile_of(ring, station, np.array([1.0, np.nan, 2.0, 3.0])) is None


def test_smoothing_takes_noise_and_leaves_exact_values():
    at = np.arange(0.0, 1000.0, 2.0)
    exact = 20.0 * np.sin(2.0 * np.pi * at / 250.0)
    left = smooth_even(exact, 2.0, True, 16.0, 100.0)
    assert left.values == pytest.approx(exact, abs=1e-4) and left.noise < 1e-4
    assert left.first == pytest.approx(
        20.0 * 2.0 * np.pi / 250.0 * np.cos(2.0 * np.pi * at / 250.0), abs=1e-5
    )
    noise = np.random.default_rng(2).normal(0.0, 0.5, len(at))
    found = smooth_even(exact + noise, 2.0, True, 16.0, 100.0)
    assert np.std(found.values - exact) < 0.15
    assert found.noise == pytest.approx(0.5, rel=0.15)


def test_smoothing_an_open_line_keeps_its_ends():
    at = np.arange(0.0, 400.0, 2.0)
    exact = np.stack([at, 0.02 * at], axis=-1)
    found = smooth_even(exact, 2.0, False, 16.0, 100.0)
    assert found.values == pytest.approx(exact, abs=1e-9)
    assert found.second == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize("count", [2, 3, 4])
def test_smoothing_very_few_values(count):
    found = smooth_even(np.arange(float(count)), 5.0, False, 16.0, 100.0)
    assert found.values == pytest.approx(np.arange(float(count)))
