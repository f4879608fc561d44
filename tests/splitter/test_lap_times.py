"""The time of a lap from line to line, and why it may be of no use."""

from types import SimpleNamespace

import numpy as np
import pytest

from lapkit.splitter import Lap, LapKind
from lapkit.splitter.fixes import Fixes
from lapkit.splitter.laps import _fault, _Ridden


def test_a_lap_time_is_the_estimates_with_the_spread_of_the_draws():
    ridden = _Ridden(
        None,
        SimpleNamespace(distance_at=lambda time_s: 20.0 * time_s),
        Fixes(np.arange(0.0, 100.0, 0.1), 0.1),
    )
    start_s, end_s = np.array([10.0, 10.0, 10.1, 9.9]), np.array([40.0, 40.2, 40.1, 39.8])
    lap = ridden.timed_lap(3, start_s, end_s)
    assert (lap.number, lap.kind, lap.start_s, lap.end_s) == (3, LapKind.TIMED, 10.0, 40.0)
    assert lap.time_s == pytest.approx(30.0)
    # By hand: 30.2, 30.0 and 29.9 s lie 1/6, -1/30 and -2/15 s about their mean.
    assert lap.time_sd_s == pytest.approx(np.sqrt((1 / 36 + 1 / 900 + 4 / 225) / 2))
    assert lap.distance_m == pytest.approx(600.0)
    assert lap.samples == 300
    assert np.isnan(ridden.timed_lap(3, start_s[:2], end_s[:2]).time_sd_s)


@pytest.fixture
def fault():
    """Why a lap of 30 s and 600 m, or another, is of no use."""

    def of(
        distance_m=600.0,
        missing_s=0.0,
        stood_s=0.0,
        fixes=None,
        step_s=0.1,
        usual_m=600.0,
        stood_mps=0.5,
    ):
        lap = Lap(1, LapKind.TIMED, 10.0, 40.0, 30.0, np.nan, distance_m, 300, missing_s)
        path = SimpleNamespace(
            mean_speed=lambda t: np.where((t >= 20.0) & (t < 20.0 + stood_s), stood_mps, 20.0)
        )
        fixes = np.arange(0.0, 60.0, 0.1) if fixes is None else fixes
        return _fault(lap, _Ridden(path, None, Fixes(fixes, step_s)), usual_m, lap.start_s)

    return of


def test_a_lap_like_the_others_has_no_fault(fault):
    assert fault() == ""


@pytest.mark.parametrize(("stood_s", "told"), [(9.5, ""), (10.0, "stood still for 10 s")])
def test_ten_seconds_of_standing_break_a_lap(fault, stood_s, told):
    assert fault(stood_s=stood_s) == told


def test_who_creeps_does_not_stand(fault):
    assert fault(stood_s=20.0, stood_mps=0.65) == ""


@pytest.mark.parametrize(
    ("distance_m", "told"),
    [
        (559.0, ""),
        (557.0, "43 m shorter than the usual lap"),
        (671.0, ""),
        (673.0, "73 m longer than the usual lap"),
    ],
)
def test_another_way_breaks_a_lap(fault, distance_m, told):
    assert fault(distance_m) == told


@pytest.mark.parametrize(("missing_s", "told"), [(8.9, ""), (9.1, "fixes are missing for 9 s")])
def test_three_tenths_of_a_lap_may_be_missing(fault, missing_s, told):
    assert fault(missing_s=missing_s) == told


def test_laps_that_a_gap_made_one_are_not_called_another_way(fault):
    assert fault(1200.0, missing_s=20.0) == "fixes are missing for 20 s"


@pytest.mark.parametrize(("crossing_s", "does"), [(10.0, "begins"), (40.0, "ends")])
@pytest.mark.parametrize(("blind_s", "broken"), [(1.8, False), (2.4, True)])
def test_fixes_missing_about_either_crossing_break_a_lap(fault, crossing_s, does, blind_s, broken):
    fixes = np.arange(0.0, 60.0, 0.1)
    fixes = fixes[np.abs(fixes - crossing_s) > blind_s / 2]
    assert (fault(fixes=fixes) == f"fixes are missing where it {does}") is broken


def test_fixes_may_be_missing_about_a_crossing_at_one_a_second_too(fault):
    """None of the three seconds about the line has a fix, of which the first may be a usual step."""
    fixes = np.arange(0.0, 60.0)
    ridden = fault(fixes=fixes[(fixes < 37.0) | (fixes > 43.0)], step_s=1.0)
    assert ridden == "fixes are missing where it ends"
    assert fault(fixes=fixes[(fixes < 39.0) | (fixes > 40.0)], step_s=1.0) == ""
