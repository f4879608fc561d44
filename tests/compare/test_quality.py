"""When a pass is good, fair or poor: by its fixes, its gaps and the intervals of its radius."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from lapkit.compare.quality import _fixes
from lapkit.compare.results import RunOf
from lapkit.compare.run import measure_run


def quality(path, course):
    rows = measure_run(path, path.split(), course, RunOf("A", "1")).tables["corners"]
    return set(rows["quality"])


@pytest.mark.parametrize(
    ("rate_hz", "speed_mps", "verdict"),
    # Fixes a second apart at 25 m/s on a 60 m radius turn 24° each: no radius in that. At a walker's
    # pace one a second is plenty.
    [(10.0, 20.0, "good"), (2.0, 24.0, "fair"), (1.0, 27.5, "poor"), (1.0, 5.0, "good")],
)
def test_quality_follows_the_distance_from_fix_to_fix(
    circle_path, round_course, rate_hz, speed_mps, verdict
):
    path = circle_path(rate_hz=rate_hz, speed_mps=speed_mps)
    assert quality(path, round_course) == {verdict}


@pytest.mark.parametrize(("sd_m", "verdict"), [(0.5, "good"), (5.0, "fair"), (14.0, "poor")])
def test_a_wide_interval_of_the_radius_lowers_the_quality(circle_path, round_course, sd_m, verdict):
    path = circle_path()
    path.wider_m = np.concatenate([[0.0], sd_m * np.tile([-1.0, 1.0], 24)])
    assert quality(path, round_course) == {verdict}


def test_a_pass_of_which_one_path_may_not_have_reached_the_exit_is_poor(circle_path, round_course):
    # At the exit he rides south: a draw 70 m further north is still as far before it where the pass ends.
    north = np.zeros((9, 2))
    north[4, 1] = 70.0
    assert quality(circle_path(shifts_m=north), round_course) == {"poor"}


def test_a_pass_of_which_one_path_leaps_from_the_apex_past_the_exit_is_poor(
    circle_path, round_course
):
    """From the apex at 110° on, one draw lies 80 m further along, but for a moment at 140° before the apex."""
    path = circle_path(shifts_m=np.zeros((9, 2)))
    at = path.at

    def leaping(time_s, near_m=None):
        draws = at(time_s)
        angle = np.degrees(path.angle(np.asarray(time_s))) % 360.0
        further_m = np.where((angle > 109.0) & (angle < 181.0), 80.0, 0.0)
        further_m[np.abs(angle - 140.0) < 1.0] = -60.0
        along = np.eye(9)[:, 4:5] * further_m
        return replace(
            draws,
            x_m=draws.x_m + along * draws.vx_mps / path.speed_mps,
            y_m=draws.y_m + along * draws.vy_mps / path.speed_mps,
        )

    path.at = leaping
    assert quality(path, round_course) == {"poor"}


def test_creeping_has_no_heading(circle_path, round_course):
    assert quality(circle_path(speed_mps=1.0), round_course) == {"poor"}


@pytest.mark.parametrize("at_deg", [60.0, 120.0, 180.0])
def test_a_short_gap_is_fair_also_where_turn_in_or_exit_lie_in_it(
    circle_path, round_course, at_deg
):
    path = circle_path()
    middle = path.split()[2].start_s + np.radians(at_deg) * 60.0 / path.speed_mps
    in_gap = np.abs(path.fix_time_s - middle) < 0.35
    path.fix_time_s = path.fix_time_s[~in_gap]
    rows = measure_run(path, path.split(), round_course, RunOf("A", "1")).corners
    verdicts = rows.set_index("lap")["quality"].to_dict()
    assert verdicts == {1: "good", 2: "fair", 3: "good", 4: "good"}


def test_fixes_are_counted_from_turn_in_to_exit_and_gaps_about_both_count():
    """Two passes of five seconds each: turn-in a second after a pass begins, exit a second before it ends."""
    passes = SimpleNamespace(
        time_s=np.arange(0.0, 10.0),
        limits=np.array([[[1.0, 2.0, 3.0], [6.0, 7.0, 8.0]]]),
    )
    fixes = np.array([0.2, 1.5, 2.0, 2.5, 4.0, 6.5, 7.0, 7.2, 9.0])
    count, longest_s = _fixes(passes, fixes)
    assert count.tolist() == [3, 3]
    # From 0.2 to 1.5 s and from 2.5 to 4 s; from 4 to 6.5 s and from 7.2 to 9 s.
    assert longest_s == pytest.approx([1.5, 2.5])
