"""Noise found in a log: what was put in comes out, and a filtering receiver is not taken for a rider."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.ndimage import gaussian_filter1d

from lapkit.course.plane import Plane
from lapkit.curvature import held_curvature
from lapkit.importer.log import Log
from lapkit.path.log_knots import SPACING_S, WANDER_EVERY
from lapkit.path.ridden import ride_path
from lapkit.simulate.courses import built_in
from lapkit.simulate.receiver import Receiver, observe
from lapkit.simulate.ride import ride
from lapkit.simulate.style import STYLES

STRAIGHT_M, RADIUS_M = 84.39, 40.0
LAP_M = 2.0 * STRAIGHT_M + 2.0 * np.pi * RADIUS_M


def oval(distance_m):
    """East and north on an oval of 40 m radius, metres, and whether it is the middle of a bend."""
    s = np.mod(distance_m, LAP_M)
    bend = np.pi * RADIUS_M
    second = s >= 0.5 * LAP_M
    half = np.where(second, s - 0.5 * LAP_M, s)
    turned = np.clip(half - STRAIGHT_M, 0.0, bend) / RADIUS_M
    x = np.minimum(half, STRAIGHT_M) - 0.5 * STRAIGHT_M + RADIUS_M * np.sin(turned)
    y = -RADIUS_M * np.cos(turned)
    sign = np.where(second, -1.0, 1.0)
    well_inside = (turned > 30.0 / RADIUS_M) & (turned < np.pi - 30.0 / RADIUS_M)
    return sign * x, sign * y, well_inside


def watch_on_an_oval(seed):
    """A runner's log at one fix a second from a receiver whose error of a metre is smooth."""
    rng = np.random.default_rng(seed)
    time = np.arange(0.0, 1300.0)
    x, y, _ = oval(2.8 * time)
    error = gaussian_filter1d(rng.standard_normal((2, len(time))), 4.0, axis=1)
    x, y = np.stack([x, y]) + 0.7 * error / error.std()
    plane = Plane(50.0, 5.0)
    lat, lon = plane.to_lat_lon(x, y)
    return Log(source="watch.gpx", sha256="0", time_s=time, lat_deg=lat, lon_deg=lon), plane


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_a_watch_on_an_oval_does_not_make_the_bends_tight(seed):
    log, plane = watch_on_an_oval(seed)
    path = ride_path(log, plane)
    time = np.arange(60.0, 1240.0, 0.5)
    draws = path.at(time)
    held = []
    middle = oval(2.8 * time)[2]
    for row in range(len(draws.x_m)):
        distance = draws.distance_m[row]
        start = distance[middle]
        start = start[start < distance[-1] - 10.0]
        held.append(held_curvature(draws.heading_rad[row], distance, start))
    spread = np.std(held[1:], axis=0)
    error = (held[0] - 1.0 / RADIUS_M) / spread
    assert np.mean(np.abs(error) < 1.96) > 0.85
    assert np.median(held[0]) == pytest.approx(1.0 / RADIUS_M, rel=0.05)


@pytest.mark.parametrize("velocity_mps", [0.07, None])
@pytest.mark.parametrize("white_m", [0.03, 0.15])
def test_noise_comes_out_as_it_was_put_in(velocity_mps, white_m):
    course = built_in("sample")
    ridden = ride(course, STYLES["smooth"], laps=2, seed=4)
    receiver = Receiver(white_m=white_m, wander_m=0.3, wander_s=4.0, velocity_mps=velocity_mps)
    log = observe(ridden, receiver, seed=5)
    noise = ride_path(log, course.plane, course=course, draws=2).estimate.noise
    # Wander runs straight between its knots; what it does between them counts as white. A Brownian bridge over h
    # with variance rate 2 sd² / τ has a mean variance of rate · h / 6 (derived).
    step_s = SPACING_S * WANDER_EVERY[velocity_mps is not None]
    between = 0.3 * np.sqrt(2.0 / 4.0 * step_s / 6.0)
    assert noise.white_m == pytest.approx(np.hypot(white_m, between), rel=0.2)
    if velocity_mps is not None:
        assert noise.velocity_mps == pytest.approx(velocity_mps, rel=0.15)


def test_a_log_whose_speeds_are_empty_once_it_moves_has_its_noise_from_positions():
    course = built_in("sample")
    log = observe(ride(course, STYLES["smooth"], laps=1, seed=4), Receiver(), seed=5)
    standing = np.arange(len(log)) < 20
    empty = replace(log, speed_mps=np.where(standing, log.speed_mps, np.nan))
    bare = replace(log, speed_mps=None, heading_deg=None)
    noise, without = (ride_path(one, course.plane, draws=2).estimate.noise for one in (empty, bare))
    assert noise.white_m == pytest.approx(without.white_m, rel=0.05)
    assert noise.roughness == pytest.approx(without.roughness, rel=0.05)
