import math

import pytest

from lapkit.rounding import to_what_is_known


@pytest.mark.parametrize(
    ("value", "half", "finest", "texts"),
    [
        (41.37, 1.6, 0, ("41", "2")),
        (0.84, 0.33, 1, ("0.8", "0.4")),
        (163.7, 33.0, 0, ("160", "40")),
        (2.4, 1.6, 0, ("2.4", "1.6")),
        (12.0, math.nan, 0, ("12", "")),
        (12.04, math.nan, 1, ("12.0", "")),
    ],
)
def test_both_have_the_digits_that_the_interval_leaves(value, half, finest, texts):
    assert to_what_is_known(value, half, finest) == texts


@pytest.mark.parametrize(
    ("half", "text"),
    [
        (1.2, "1"),
        (1.21, "2"),
        (24.9, "25"),
        (25.0, "30"),
        (249.0, "250"),
        (251.0, "300"),
        (0.01, "1"),
    ],
)
def test_an_interval_is_rounded_up_but_for_a_fifth_of_its_last_digit(half, text):
    assert to_what_is_known(0.0, half)[1] == text


@pytest.mark.parametrize(("half", "text"), [(0.91, "0.9"), (0.92, "1"), (1.0, "1"), (0.001, "0.1")])
def test_an_interval_of_nearly_one_is_one_without_decimals(half, text):
    assert to_what_is_known(5.0, half, finest=1)[1] == text


@pytest.mark.parametrize(
    ("value", "half", "texts"),
    [
        (2.0, 1.9, ("2.0", "1.9")),
        (-2.0, 1.9, ("-2.0", "1.9")),
        (1.9, 2.0, ("2", "2")),  # it may be zero, and may look so
        (30.0, 28.0, ("30", "28")),
        (3.0, 1.9, ("3", "2")),  # nobody takes 3 ± 2 for zero
    ],
)
def test_a_value_that_is_surely_not_zero_does_not_look_as_if_it_were(value, half, texts):
    assert to_what_is_known(value, half) == texts
