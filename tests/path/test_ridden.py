"""The whole path link on rides round a circle: the path, its draws, and what logs with faults make of them."""

import numpy as np
import pytest

from lapkit.errors import PathError
from lapkit.importer.heights import Heights
from lapkit.path.ridden import ride_path
from lapkit.path.sights import find_sights
from lapkit.simulate.courses import built_in
from lapkit.simulate.receiver import Receiver, observe
from lapkit.simulate.ride import ride
from lapkit.simulate.style import STYLES


@pytest.mark.parametrize("velocity", [0.07, None])
def test_mass_path_is_outside_the_antenna_and_tyres_outside_both(circle, plane, velocity):
    path = ride_path(circle.log(velocity_mps=velocity), plane)
    draws = path.at(path.start_s + np.arange(10.0, 50.0, 0.5))
    radius = np.hypot(draws.x_m[0], draws.y_m[0])
    offset = path.offset.at(draws.time_s)[0]
    assert np.all(offset == 0.0)
    assert np.mean(radius) == pytest.approx(circle.radius_m, abs=0.05)
    tyre = np.hypot(*(axis[0] for axis in draws.tyre_xy_m))
    assert np.mean(tyre - radius) == pytest.approx(0.6 * np.sin(circle.lean_rad), abs=0.02)


@pytest.mark.parametrize("velocity", [0.07, None])
def test_lean_speed_and_curvature_of_a_circle(circle, plane, velocity):
    path = ride_path(circle.log(velocity_mps=velocity), plane)
    draws = path.at(path.start_s + np.arange(10.0, 50.0, 0.5))
    assert np.mean(draws.lean_deg[0]) == pytest.approx(np.degrees(circle.lean_rad), abs=0.3)
    assert np.mean(draws.speed_mps[0]) == pytest.approx(circle.speed_mps, abs=0.05)
    assert np.mean(draws.curvature_1pm[0]) == pytest.approx(1 / circle.radius_m, rel=0.01)


def test_ignoring_the_antenna_s_height_gives_the_antenna_s_own_path(circle, plane):
    path = ride_path(circle.log(), plane, heights=Heights(antenna_m=0.6, com_m=0.6))
    draws = path.at(path.start_s + np.arange(10.0, 50.0, 0.5))
    expected = circle.radius_m - 0.3 * np.sin(circle.lean_rad)
    assert np.mean(np.hypot(draws.x_m[0], draws.y_m[0])) == pytest.approx(expected, abs=0.05)


def test_noise_is_found_from_the_log(circle, plane):
    noise = ride_path(circle.log(white_m=0.1, velocity_mps=0.15, lasts_s=120), plane).estimate.noise
    assert noise.white_m == pytest.approx(0.1, rel=0.25)
    assert noise.velocity_mps == pytest.approx(0.15, rel=0.25)


def test_velocity_lag_is_found_and_dated_back(circle, plane):
    path = ride_path(circle.log(lag_s=0.25), plane)
    assert path.lag_s == pytest.approx(0.25, abs=0.04)
    assert ride_path(circle.log(), plane).lag_s == 0.0


def test_wild_fixes_are_left_out_and_counted(circle, plane):
    log = circle.log()
    lat = log.lat_deg.copy()
    lat[[100, 101, 102, 300]] += 1e-4
    wild = type(log)(**{**vars(log), "lat_deg": lat})
    path = ride_path(wild, plane)
    assert np.flatnonzero(path.estimate.wild).tolist() == [100, 101, 102, 300]
    draws = path.at(path.start_s + np.arange(9.0, 12.0, 0.1))
    assert np.max(np.abs(np.hypot(draws.x_m[0], draws.y_m[0]) - circle.radius_m)) < 0.5


@pytest.mark.parametrize("hole_s", [60.0, 150.0, 280.0])
@pytest.mark.parametrize("away_m", [0.0, 3000.0])
def test_a_hole_of_minutes_leaves_the_path_near_its_ends(circle, plane, hole_s, away_m):
    log = circle.log(lasts_s=hole_s + 60.0)
    since = log.time_s - log.time_s[0]
    log = log.part((since < 30.0) | (since > 30.0 + hole_s))
    # Where the plane's origin lies must not matter for whether the system can be solved.
    lat, lon = plane.to_lat_lon(away_m, away_m)
    other = type(plane)(float(lat), float(lon))
    path = ride_path(log, other)
    x, y = path.mean_xy(path.start_s + np.arange(0.0, hole_s + 60.0, 0.5))
    assert np.max(np.hypot(x + away_m, y + away_m)) < 10.0 * circle.radius_m
    draws = path.at(np.array([path.start_s + 30.0 + 0.5 * hole_s]))
    assert np.std(draws.x_m[1:]) > 100.0


def test_draws_fan_out_in_a_gap(circle, plane):
    log = circle.log()
    kept = np.ones(len(log), dtype=bool)
    kept[300:400] = False
    path = ride_path(log.part(kept), plane)
    draws = path.at(path.start_s + np.array([20.0, 35.0]))
    east, north = path.offset.at(draws.time_s).transpose(1, 0, 2)
    own = np.hypot((draws.x_m + east)[1:].std(axis=0), (draws.y_m + north)[1:].std(axis=0))
    assert own[1] > 2.0 * own[0]


def test_the_same_log_gives_the_same_draws(circle, plane):
    one, two = (
        ride_path(circle.log(), plane).at(1.78e9 + np.array([20.0, 30.0])) for _ in range(2)
    )
    assert np.array_equal(one.x_m, two.x_m)


def test_without_draws_the_estimate_stands_alone(circle, plane):
    log = circle.log()
    at = log.time_s[100:300:10]
    alone = ride_path(log, plane, draws=0).at(at)
    assert alone.x_m.shape == (1, len(at))
    assert alone.x_m[0] == pytest.approx(ride_path(log, plane).at(at).x_m[0], abs=1e-6)


def test_too_few_fixes_is_an_error_that_names_the_log(circle, plane):
    with pytest.raises(PathError, match=r"circle\.gpx: fewer than eight fixes"):
        ride_path(circle.log().part(slice(0, 5)), plane)


def test_a_rate_of_25_hz_keeps_its_digits(circle, plane):
    path = ride_path(circle.log(rate_hz=25.0), plane)
    draws = path.at(path.start_s + np.arange(10.0, 50.0, 0.5))
    assert np.std(draws.lean_deg[0]) < 0.6


def test_an_offset_that_cannot_be_found_is_an_error_that_names_the_log(circle, plane, monkeypatch):
    def contradicted(*_):
        raise PathError("sights contradict each other", remedy="Look at them.")

    monkeypatch.setattr("lapkit.path.ridden.find_offset", contradicted)
    with pytest.raises(PathError, match=r"circle\.gpx: sights contradict each other"):
        ride_path(circle.log(), plane)


def test_how_high_the_antenna_stands_is_in_doubt_in_every_radius(circle, plane):
    seconds = np.arange(1.78e9 + 20.0, 1.78e9 + 40.0)
    spreads = []
    for sd_m in (0.0, 0.3):
        heights = Heights(com_sd_m=0.0, antenna_sd_m=sd_m)
        path = ride_path(circle.log(), plane, heights=heights, draws=64)
        x, y = path.at(seconds).x_m, path.at(seconds).y_m
        spreads.append(np.std(np.hypot(x, y).mean(axis=1)[1:]))
    # The mass path's radius is the antenna's and its height above the mass times sin(lean).
    more = np.sqrt(spreads[1] ** 2 - spreads[0] ** 2)
    assert more == pytest.approx(0.3 * np.sin(circle.lean_rad), rel=0.3)


def test_the_offset_is_not_looked_for_where_no_fix_saw_the_rider(monkeypatch):
    course = built_in("sample")
    log = observe(ride(course, STYLES["smooth"], laps=1, seed=5, epoch_s=1.78e9), Receiver(), 6)
    since_s = log.time_s - log.time_s[0]
    tracks = []

    def gathered(knots, received, track, *others):
        tracks.append(track)
        return find_sights(knots, received, track, *others)

    monkeypatch.setattr("lapkit.path.ridden.find_sights", gathered)
    ride_path(log.part((since_s < 90.0) | (since_s > 100.0)), course.plane, course=course, draws=2)
    ((gap_s,),) = (np.diff(track.time_s)[np.diff(track.time_s) > 5.0] for track in tracks)
    assert 9.0 <= gap_s <= 11.0
