"""For how long fixes are missing."""

from types import SimpleNamespace

import numpy as np
import pytest

from lapkit.splitter import missing_s
from lapkit.splitter.fixes import Fixes

STEADY = Fixes(np.arange(0.0, 100.0), 1.0)


def without(start_s, stop_s):
    time_s = STEADY.time_s
    return Fixes(time_s[(time_s <= start_s) | (time_s >= stop_s)], 1.0)


def test_fixes_are_counted_from_one_time_on_to_before_another():
    assert STEADY.count(10.0, 20.0) == 10
    assert STEADY.count(10.5, 10.6) == 0


def test_steps_of_usual_length_and_single_fixes_lost_are_not_missing():
    assert STEADY.missing_s(10.0, 90.0) == 0.0
    assert without(40.0, 42.0).missing_s(10.0, 90.0) == 0.0


def test_of_a_gap_all_but_the_usual_step_is_missing():
    assert without(40.0, 43.0).missing_s(10.0, 90.0) == 2.0
    assert without(40.0, 60.0).missing_s(10.0, 90.0) == 19.0


def test_of_a_gap_across_either_end_only_what_lies_within_counts():
    gap = without(40.0, 60.0)  # missing from 41 s on
    assert gap.missing_s(50.0, 90.0) == 10.0
    assert gap.missing_s(10.0, 50.0) == 9.0
    assert gap.missing_s(45.0, 55.0) == 10.0
    assert gap.missing_s(40.0, 40.5) == 0.0
    assert gap.missing_s(58.5, 60.0) == 1.5


def test_before_the_first_fix_and_behind_the_last_they_are_missing():
    assert STEADY.missing_s(-20.0, 10.0) == 19.0
    assert STEADY.missing_s(90.0, 109.0) == 9.0


def test_with_one_fix_or_none_all_is_missing():
    assert Fixes(np.array([15.0]), np.inf).missing_s(10.0, 30.0) == 20.0
    assert Fixes(np.array([15.0, 16.0]), 1.0).missing_s(14.5, 16.5) == 0.0


def test_the_usual_step_is_that_of_the_fixes_that_took_part():
    path = SimpleNamespace(fix_time_s=np.array([0.0, 0.2, 0.4, 0.6, 5.0]))
    assert Fixes.of(path).step_s == pytest.approx(0.2)
    assert missing_s(path, 0.0, 5.0) == pytest.approx(4.2)
    assert Fixes.of(SimpleNamespace(fix_time_s=np.array([3.0]))).step_s == np.inf
