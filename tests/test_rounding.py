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
