"""A base log: what it shows of the offset, and whether its clock agrees."""

from dataclasses import replace

import numpy as np
import pytest

from lapkit.errors import LogError
from lapkit.importer.log import Log
from lapkit.path.base import BaseError, base_error, clock_shift_s, seen_by_base
from lapkit.path.offset import find_offset
from lapkit.path.offset_process import Information, OffsetProcess
from lapkit.path.offset_sight import Readings, Sight
from lapkit.path.ridden import ride_path
from lapkit.simulate.bias import SlowBias
from lapkit.simulate.courses import built_in
from lapkit.simulate.receiver import Receiver, observe
from lapkit.simulate.ride import ride
from lapkit.simulate.style import STYLES

PROCESS = OffsetProcess(1.2, 600.0)


@pytest.fixture(scope="module")
def course():
    return built_in("sample")


def wandering(knots, seed, own_m=0.0):
    """The same wandering offset as a rider's sights and as a standing receiver's error, both a little noisy.

    The standing receiver has an error of its own beside it, which lasts for ten minutes.
    """
    rng = np.random.default_rng(seed)
    shared = SlowBias.drawn(1.2, 600.0, -200.0, 1300.0, seed)
    time = np.arange(2.5, 900.0, 5.0)
    seen = shared.at(time)[:, :2] + 0.15 * rng.standard_normal((len(time), 2))
    sights = [
        Sight.of(
            knots,
            Readings(time, np.tile(np.eye(2)[axis], (len(time), 1)), seen[:, axis]),
            0.15,
        )
        for axis in (0, 1)
    ]
    own = SlowBias.drawn(own_m, 600.0, -200.0, 1300.0, seed + 100)
    error = (shared.at(shared.time_s) + own.at(shared.time_s))[:, :2]
    return sights, BaseError(shared.time_s, error + 0.15 * rng.standard_normal(error.shape))


def test_a_base_log_elsewhere_in_time_gives_no_sight_and_is_said(knots):
    away = BaseError(np.array([5000.0, 5001.0]), np.zeros((2, 2)))
    assert away.sights(knots) == []
    assert seen_by_base(away, knots, [], PROCESS) == (
        [],
        ("the base log does not overlap this log in time and was not used",),
    )


def test_a_base_log_shows_the_offset_all_along(knots):
    t = np.arange(0.0, 900.0, 1.0)
    base = BaseError(t, np.stack([np.sin(t / 200), np.full(len(t), 0.5)], axis=1))
    offset = find_offset(knots, base.sights(knots, sd_m=0.2), 48, 1)
    at = np.arange(100.0, 800.0, 50.0)
    assert np.max(np.abs(offset.at(at)[0, 0] - np.sin(at / 200))) < 0.25


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("off_s", [18, -18, 45])
def test_a_clock_off_by_whole_seconds_is_noticed(knots, seed, off_s):
    sights, base = wandering(knots, seed)
    assert clock_shift_s(
        base.later(-off_s), Information.of(knots, sights), PROCESS
    ) == pytest.approx(off_s, abs=4)


@pytest.mark.parametrize("seed", range(4))
def test_a_right_clock_is_left_alone(knots, seed):
    sights, base = wandering(knots, seed)
    assert clock_shift_s(base, Information.of(knots, sights), PROCESS) == 0


@pytest.mark.parametrize("seed", range(4))
def test_two_receivers_that_err_apart_do_not_make_a_clock_wrong(knots, seed):
    sights, base = wandering(knots, seed, own_m=2.0)
    assert clock_shift_s(base, Information.of(knots, sights), PROCESS) == 0


@pytest.mark.parametrize(("own_m", "least_m", "most_m"), [(0.0, 0.35, 0.5), (2.0, 1.0, 1.7)])
def test_how_far_a_base_log_is_believed_follows_from_what_else_saw_the_offset(
    knots, own_m, least_m, most_m
):
    sights, base = wandering(knots, 2, own_m)
    (seen,), _ = seen_by_base(base, knots, sights, PROCESS)
    assert least_m < seen.common.sd_m < most_m


def test_where_nothing_else_saw_the_offset_the_clock_is_believed(knots):
    _, base = wandering(knots, 1)
    sights, words = seen_by_base(base.later(18.0), knots, [], PROCESS)
    assert len(sights) == 1
    assert words == ()


def test_what_two_receivers_do_not_share_is_not_averaged_away(knots):
    """A quarter of an hour of a base log tells little better than a minute how far the rider's own echoes move him."""
    t = np.arange(0.0, 900.0, 1.0)
    base = BaseError(t, np.zeros((len(t), 2)))
    offset = find_offset(knots, base.sights(knots), 400, 1)
    assert 0.3 < np.median(offset.sd_m) < 0.6
    shift = offset.rows[1:].mean(axis=2)
    assert 0.3 < shift.std() < 0.6


def test_a_ride_beside_a_base_log_of_another_clock():
    """The offset is found as well as with the right clock, and the log's note says what was done."""
    marked = built_in("sample")
    course = replace(marked, hold_points=None)
    ridden = ride(marked, STYLES["smooth"], laps=5, seed=5, epoch_s=1.78e9)
    shared = SlowBias.drawn(2.5, 200.0, 1.78e9 - 300.0, ridden.end_s + 600.0, 5)
    log = observe(ridden, Receiver(), 6, bias=shared)
    base = BaseError(shared.time_s, shared.offset_m[:, :2])
    at = np.arange(100.0, ridden.end_s - 100.0, 10.0)
    truth = shared.at(1.78e9 + at)[:, :2].T

    def rms(given):
        path = ride_path(log, course.plane, course=course, base=given, draws=4)
        away = path.offset.at(log.time_s[0] + at)[0] - truth
        return float(np.sqrt(np.mean(np.square(away)))), path.offset.notes

    right, no_words = rms(base)
    wrong, words = rms(base.later(37.0))
    assert no_words == ()
    assert "ahead of this log's" in words[0]
    assert wrong < 1.3 * right
    both = ride_path(log, course.plane, course=marked, base=base, draws=4).offset
    assert both.source == "hold_point"
    assert "the base log was used beside the hold point" in both.notes


def base_log(course, x, y):
    lat, lon = course.plane.to_lat_lon(x, y)
    return Log("base.csv", "", np.arange(float(len(x))), lat, lon)


def test_a_base_log_is_held_against_the_base_point_it_stood_on(course):
    error = np.random.default_rng(3).normal(0.0, 1.0, (2, 600))
    marked = replace(course, base_points=np.array([[300.0, 0.0], [30.0, 40.0]]))
    found = base_error(marked, base_log(course, 30.0 + error[0], 40.0 + error[1]))
    assert found.error_m == pytest.approx(error.T, abs=1e-3)


def test_a_base_log_that_was_carried_about_is_refused(course):
    x = np.linspace(0.0, 900.0, 600)
    with pytest.raises(LogError, match="moved about"):
        base_error(course, base_log(course, x, 0.0 * x))
    with pytest.raises(LogError, match="moved about"):
        base_error(course, base_log(course, 0.0 * x, x))


def test_without_a_base_point_a_base_log_stood_where_most_of_its_fixes_are(course):
    brought = np.where(np.arange(600) < 50, 400.0, 0.0)
    bare = replace(course, base_points=None)
    found = base_error(bare, base_log(course, 100.0 + brought, 200.0 + brought))
    assert found.error_m[50:] == pytest.approx(np.zeros((550, 2)), abs=1e-3)


def test_a_base_log_of_another_place_is_refused(course):
    here = base_log(course, np.full(600, 400.0), np.full(600, 300.0))
    base_error(replace(course, base_points=None), here)
    marked = replace(course, base_points=np.zeros((1, 2)))
    with pytest.raises(LogError, match="500 m from the nearest base point"):
        base_error(marked, here)
    far = base_log(course, np.full(600, 0.0), np.full(600, 90e3))
    with pytest.raises(LogError, match="90 km from the course"):
        base_error(replace(course, base_points=None), far)


def test_a_base_log_without_dates_is_refused(course):
    """Its times count from its own first fix, and those of a rider's log without dates from another one."""
    undated = replace(base_log(course, np.zeros(600), np.zeros(600)), has_clock=False)
    with pytest.raises(
        LogError, match="no dates, so it cannot be told when it was off by how much"
    ):
        base_error(course, undated)
