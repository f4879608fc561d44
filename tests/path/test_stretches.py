"""Stretches of a log over which something holds."""

import numpy as np
import pytest

from lapkit.path.stretches import stretches


@pytest.mark.parametrize(
    ("where", "found"),
    [
        ("", []),
        ("...", []),
        ("###", [(0, 3)]),
        ("#..##.#", [(0, 1), (3, 5), (6, 7)]),
    ],
)
def test_every_stretch_is_found_at_the_ends_too(where, found):
    condition = np.array([each == "#" for each in where], dtype=bool)
    assert [(part.start, part.stop) for part in stretches(condition)] == found
