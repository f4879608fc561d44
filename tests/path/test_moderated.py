"""Moderated variances, against the model that they are made for."""

import numpy as np

from lapkit.path.moderated import moderated


def test_variances_are_drawn_towards_what_they_have_in_common():
    # Smyth's model itself: s² of 4 degrees of freedom about variances 2 · 6 / χ² of 6.
    rng = np.random.default_rng(3)
    true = 2.0 * 6.0 / rng.chisquare(6.0, 20_000)
    seen = true * rng.chisquare(4.0, 20_000) / 4.0
    drawn, free = moderated(seen, np.full(20_000, 4.0))
    np.testing.assert_allclose(free, 10.0, rtol=0.05)
    np.testing.assert_allclose(drawn, (6.0 * 2.0 + 4.0 * seen) / 10.0, rtol=0.1)


def test_equal_scatter_becomes_one_and_unequal_stays_apart():
    free = np.full(8, 10.0)
    drawn, together = moderated(np.full(8, 0.25), free)
    assert np.ptp(drawn) == 0.0 and together[0] == 80.0
    apart = 5.0 ** np.arange(8.0)
    drawn, own = moderated(apart, free)
    np.testing.assert_allclose(np.log(drawn), np.log(apart), atol=0.5 * np.log(5.0))
    assert own.max() < 12.0


def test_scatter_of_none_or_of_one_corner_stays_what_it_is():
    variance, free = np.array([0.0, 0.3]), np.array([10.0, 10.0])
    for drawn, given in zip(moderated(variance, free), (variance, free), strict=True):
        assert drawn.tolist() == given.tolist()
