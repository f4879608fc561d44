"""Positions that slide away for some seconds, with velocities that know better."""

import warnings
from dataclasses import replace

import numpy as np
import pytest

from lapkit.path.drift import adrift
from lapkit.path.model import Observed
from lapkit.path.ridden import ride_path
from lapkit.simulate.courses import built_in
from lapkit.simulate.receiver import Receiver, observe
from lapkit.simulate.ride import ride
from lapkit.simulate.style import STYLES


def slid(seen, begin_s, lasts_s, away_m):
    part = np.clip((seen.time_s - begin_s) / lasts_s, 0.0, 1.0)
    slide = away_m * np.sin(np.pi * part) ** 2
    return replace(seen, x_m=seen.x_m + 0.6 * slide, y_m=seen.y_m - 0.8 * slide)


@pytest.mark.parametrize("rate_hz", [5.0, 10.0, 25.0])
@pytest.mark.parametrize("lasts_s", [5.0, 12.0])
def test_a_drift_is_found_where_it_is_and_nowhere_else(curves, rate_hz, lasts_s):
    seen = slid(curves(rate_hz), 100.0, lasts_s, 5.0)
    found = adrift(seen)
    middle = np.abs(seen.time_s - 100.0 - 0.5 * lasts_s)
    assert np.all(found[middle < 0.2 * lasts_s])
    assert not np.any(found[middle > 0.5 * lasts_s + 0.5])


def test_an_offset_that_stays_is_no_drift(curves):
    seen = curves()
    later = np.interp(seen.time_s, [0.0, 300.0], [0.0, 6.0])
    assert not np.any(adrift(replace(seen, x_m=seen.x_m + later)))


def test_without_velocities_or_with_few_fixes_nothing_is_said(curves):
    seen = slid(curves(), 100.0, 8.0, 8.0)
    assert not np.any(adrift(replace(seen, velocity_weight=np.zeros(len(seen.time_s)))))
    assert not np.any(adrift(slid(curves(rate_hz=1.0), 100.0, 8.0, 8.0)))


def test_what_is_over_at_once_is_left_to_the_wild(curves):
    seen = curves()
    x = seen.x_m.copy()
    x[1000:1005] += 15.0
    assert not np.any(adrift(replace(seen, x_m=x)))


def test_a_path_keeps_its_place_under_bridges():
    course = built_in("twisty")
    ride_ = ride(course, STYLES["quick"], laps=2, seed=2, epoch_s=1.78e9)
    clear = Receiver(bias_m=0.0, wander_m=0.05)
    under = replace(clear, drifts_per_hour=60.0)
    at = np.arange(60.0, ride_.end_s - 60.0, 0.2)
    truth = np.stack(ride_.tyre_xy(at))

    def off(receiver):
        path = ride_path(observe(ride_, receiver, 3), course.plane, course=course, draws=4)
        x, y = path.at(1.78e9 + at).tyre_xy_m
        return np.hypot(x[0] - truth[0], y[0] - truth[1]).max(), path.adrift_s

    worst, adrift_s = off(under)
    assert adrift_s > 10.0
    assert worst < off(clear)[0] + 0.5
    assert off(clear)[1] == 0.0


def test_one_fix_is_no_drift_and_no_warning():
    one = np.ones(1)
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        assert adrift(Observed(*[one] * 8)).tolist() == [False]
