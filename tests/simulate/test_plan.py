"""What a rider means to do on a run: his line, his lean and his effort, lap by lap."""

from dataclasses import replace

import numpy as np
import pytest

from lapkit.course.types import Turn
from lapkit.simulate.lines import rounded, through
from lapkit.simulate.pit import PIT_SPEED_MPS
from lapkit.simulate.plan import (
    _Pass,
    exit_curvature,
    most_tightened,
    plan_run,
    pull_for,
    pull_knots,
)
from lapkit.simulate.style import Habit, RiderStyle

LAPS = 3
SCATTERS_NOT = {"lean_sd_deg": 0.0, "offset_sd_m": 0.0, "phase_sd_m": 0.0, "wobble_deg": 0.0}


def rng():
    return np.random.default_rng(1)


@pytest.fixture(scope="module")
def course(circle):
    """A left-hand circle of 60 m, one corner of it: turn-in at a quarter, apex at half, exit at three quarters."""
    return circle.course


@pytest.fixture
def planned(course):
    """Plans a run of a rider who does not scatter, with habits as told."""
    return lambda **habit: plan_run(
        course, RiderStyle(habit=Habit(**habit), **SCATTERS_NOT), LAPS, rng()
    )


@pytest.fixture
def passing(course):
    """One pass of the corner without scatter."""

    def made(lap=1, turn=Turn.LEFT, drift_wide_m=0.0, **habit):
        style = RiderStyle(habit=Habit(**habit), drift_wide_m=drift_wide_m, **SCATTERS_NOT)
        corner = replace(course.corners[0], turn=turn)
        return _Pass(course, corner, style, lap, rng())

    return made


def timed(course, plan, quarter):
    """Index of a place, told in quarters of a lap, on the first timed lap and on the two that follow."""
    length = course.reference.length_m
    at = (1.0 + quarter / 4.0 + np.arange(LAPS)) * length
    return np.searchsorted(plan.station_m, at)


def test_a_lapse_comes_before_a_corner_s_habit_and_that_before_his_usual_one():
    lapse, here, usual = (Habit(apex_wide_m=m) for m in (3.0, 2.0, 1.0))
    style = RiderStyle(habit=usual, habit_at={"Bowl": here}, lapse_at={("Bowl", 2): lapse})
    assert style.habit_in("Bowl", 2) is lapse
    assert style.habit_in("Bowl", 1) is here
    assert style.habit_in("Hairpin", 2) is usual


def test_who_has_no_habits_means_to_ride_the_marker_line_but_for_the_pit_lane(course, planned):
    plan = planned()
    length = course.reference.length_m
    assert np.ptp(plan.station_m) == pytest.approx((LAPS + 2) * length)
    np.testing.assert_allclose(np.diff(plan.station_m), 1.0, atol=0.01)
    to_pit = np.minimum(plan.station_m - plan.station_m[0], plan.station_m[-1] - plan.station_m)
    np.testing.assert_allclose(plan.offset_m[to_pit > 200.0], 0.0, atol=5e-3)
    np.testing.assert_allclose(plan.offset_m[to_pit < 20.0], -18.0, atol=0.5)
    np.testing.assert_array_equal(plan.offset_m, plan.expected_m)
    assert set(plan.limit_mps) == {PIT_SPEED_MPS, np.inf}
    assert np.all(plan.limit_mps[to_pit < 20.0] == PIT_SPEED_MPS)


def test_out_lap_and_in_lap_are_ridden_with_less_effort_and_lean(course, planned):
    plan = planned()
    length = course.reference.length_m
    ridden = plan.station_m - plan.station_m[0]
    easy = (ridden < 0.9 * length) | (ridden[-1] - ridden < 0.9 * length)
    assert set(plan.effort[easy]) == {0.7} and set(plan.effort[~easy]) == {1.0}
    np.testing.assert_allclose(plan.lean_deg, np.where(easy, 0.88, 1.0) * 38.0)


@pytest.mark.parametrize(("wide_m", "offset_m"), [(2.0, -2.0), (-2.0, 2.0), (30.0, -5.7)])
def test_wide_of_an_apex_is_to_the_outside_and_never_off_the_track(
    course, planned, wide_m, offset_m
):
    plan = planned(apex_wide_m=wide_m)
    np.testing.assert_allclose(plan.offset_m[timed(course, plan, 2)], offset_m, atol=0.05)


def test_drifting_wide_grows_with_every_timed_lap(passing):
    for lap, wide in ((1, 0.0), (2, 0.4), (4, 1.2), (0, 0.0)):
        knots = passing(lap=lap, drift_wide_m=0.4).wide_knots()
        assert [w for _, w in knots] == pytest.approx([0.0, -wide, 0.0])


@pytest.mark.parametrize(("turn", "outward"), [(Turn.LEFT, -1.0), (Turn.RIGHT, 1.0)])
def test_knots_of_a_pass_lie_at_its_cones_and_outside_is_by_its_turn(
    course, passing, turn, outward
):
    corner = course.corners[0]
    knots = passing(turn=turn, apex_wide_m=1.5, exit_wide_m=2.5).wide_knots()
    at, wide = zip(*knots, strict=True)
    assert at == (corner.turn_in_m, *corner.apexes_m, corner.exit_m)
    assert wide == pytest.approx((0.0, 1.5 * outward, 2.5 * outward))


def test_who_turns_in_early_is_ahead_of_the_line_and_back_on_it_by_the_exit(course, passing):
    corner = course.corners[0]
    knots = passing(early_turn_in_m=9.0).phase_knots()
    entry = corner.apexes_m[0] - corner.turn_in_m
    assert knots == [
        (corner.turn_in_m - 15.0, 9.0),
        (corner.turn_in_m + 0.3 * entry, 9.0),
        (corner.apexes_m[0], pytest.approx(2.7)),
        (corner.exit_m, 0.0),
    ]


def test_who_stays_inside_the_first_seam_crosses_it_at_the_end_of_the_exit(course, passing):
    corner = course.corners[0]
    knots = passing(inside_seam_exit=True).wide_knots()
    # The first seam lies 1.5 m inside the line: what is more than that outward is outside it.
    exit_phase = corner.exit_m - corner.last_apex_m
    after = [(at, wide) for at, wide in knots if at > corner.last_apex_m]
    assert [(at - corner.last_apex_m) / exit_phase for at, _ in after] == pytest.approx(
        [0.35, 0.6, 0.8, 1.0]
    )
    beyond = [-(wide - 1.5) for _, wide in after]
    assert beyond == pytest.approx([-1.5, -1.0, -0.2, 1.0], abs=5e-3)


def test_scatter_is_drawn_anew_for_every_pass_and_is_the_same_for_the_same_seed(course):
    style = RiderStyle(offset_sd_m=0.4, lean_sd_deg=2.0)
    one, same = (plan_run(course, style, LAPS, rng()) for _ in range(2))
    np.testing.assert_array_equal(one.offset_m, same.offset_m)
    other = plan_run(course, style, LAPS, np.random.default_rng(2))
    assert np.max(np.abs(one.offset_m - other.offset_m)) > 0.1
    for values in (one.offset_m, one.lean_deg):
        assert len(set(np.round(values[timed(course, one, 2)], 6))) == LAPS


@pytest.mark.parametrize(("turn", "sign"), [(Turn.LEFT, 1.0), (Turn.RIGHT, -1.0)])
def test_the_exit_of_a_circle_is_as_tight_as_the_circle(course, turn, sign):
    station = np.arange(0.0, 330.0)
    line = rounded(course, station, np.full(330, 4.0), np.full(330, 3.0))
    found = exit_curvature(line, replace(course.corners[0], turn=turn))
    assert found == pytest.approx(sign / 56.0, rel=5e-3)


def test_a_tightened_exit_starts_wide_at_the_apex_and_is_pulled_in(course):
    corner = course.corners[0]
    at, value = np.array(pull_knots(course, corner)).T
    assert np.all(np.diff(at) > 0.0)
    assert at[0] == corner.turn_in_m and at[-1] == corner.exit_m
    assert value.tolist() == [0.0, -1.0, -1.0, 0.5, 0.5]
    assert at[1] < corner.last_apex_m < at[2]
    # Four fifths of an exit phase of 94 m are shorter than 1.6 radii of a bend of 60 m.
    assert at[3] - corner.last_apex_m == pytest.approx(
        0.8 * (corner.exit_m - corner.last_apex_m), rel=1e-6
    )


def test_a_pull_tightens_the_exit_by_the_share_asked_for(course, planned):
    assert pull_for(course, "Bowl", 0.0) == 0.0
    small, large = (pull_for(course, "Bowl", share) for share in (0.05, 0.1))
    assert 0.0 < small < large < 3.0
    for share in (0.05, 0.1):
        pull = pull_for(course, "Bowl", share)
        knots = np.array(pull_knots(course, course.corners[0]))
        station = np.arange(knots[0, 0] - 100.0, knots[-1, 0] + 100.0)
        offset = pull * through([tuple(k) for k in knots], station)
        line = rounded(course, station, offset, np.full_like(station, 3.0))
        assert exit_curvature(line, course.corners[0]) == pytest.approx(
            1.0 / 60.0 / (1.0 - share), rel=0.01
        )


def test_no_pull_is_more_than_half_a_track(course):
    most = most_tightened(course, "Bowl")
    assert 0.1 < most < 1.0
    assert pull_for(course, "Bowl", most) == pytest.approx(3.0, abs=0.01)
    assert pull_for(course, "Bowl", 0.5 * (1.0 + most)) == pytest.approx(3.0, abs=1e-3)


def test_he_sets_his_speed_by_the_line_before_he_tightens_it(planned):
    plan, plain = planned(tighten_exit=0.1), planned()
    np.testing.assert_allclose(plan.expected_m, plain.expected_m)
    assert np.max(np.abs(plan.offset_m - plan.expected_m)) > 0.3


@pytest.mark.parametrize("lap", [1, 2, 3])
def test_a_lapse_shows_on_its_own_timed_lap_and_on_no_other(course, lap):
    style = RiderStyle(lapse_at={("Bowl", lap): Habit(apex_wide_m=2.0)}, **SCATTERS_NOT)
    plan = plan_run(course, style, LAPS, rng())
    expected = np.where(np.arange(1, LAPS + 1) == lap, -2.0, 0.0)
    np.testing.assert_allclose(plan.offset_m[timed(course, plan, 2)], expected, atol=0.05)


def test_passes_scatter_by_as_much_as_the_rider_s_style_says(course):
    style = RiderStyle(
        offset_sd_m=0.4, phase_sd_m=1.5, lean_sd_deg=2.0, habit=Habit(apex_wide_m=1.0)
    )
    draws = np.random.default_rng(5)
    passes = [_Pass(course, course.corners[0], style, 1, draws) for _ in range(3000)]
    wide = np.array([p.wide_m for p in passes])
    np.testing.assert_allclose(wide.std(axis=0), 0.4, rtol=0.06)
    np.testing.assert_allclose(wide.mean(axis=0), [0.0, 1.0, 0.0], atol=0.04)
    assert np.std([p.ahead_m for p in passes]) == pytest.approx(1.5, rel=0.06)
    assert np.std([p.lean_deg for p in passes]) == pytest.approx(2.0, rel=0.06)
