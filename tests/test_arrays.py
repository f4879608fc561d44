"""Arrays that nobody can change."""

import numpy as np
import pytest

from lapkit.arrays import locked, read_only


def test_a_read_only_copy_does_not_follow_the_array_it_was_made_of():
    given = np.array([1, 2])
    kept = read_only(given)
    given[0] = 5
    assert kept.tolist() == [1.0, 2.0]
    assert kept.dtype == np.float64
    with pytest.raises(ValueError, match="read-only"):
        kept[0] = 3.0


def test_a_locked_array_is_the_same_values_but_for_writing():
    given = np.array([1.0, 2.0])
    kept = locked(given)
    with pytest.raises(ValueError, match="read-only"):
        kept[0] = 3.0
    assert np.shares_memory(kept, given) and given.flags.writeable
