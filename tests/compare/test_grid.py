"""Places on paths that share a grid, and values there."""

import numpy as np

from lapkit.compare.grid import Grid, crossings, sample


def test_crossings_lie_between_grid_points():
    rows = np.array([[0.0, 1.0, 3.0, 4.0], [1.0, 2.0, 3.0, 5.0]])
    places = crossings(rows, np.array([[0.5, 2.0, 4.5]]), Grid.of([4]))
    np.testing.assert_allclose(places[:, 0], [[0.5, 1.5, np.nan], [np.nan, 1.0, 2.75]])


def test_paths_that_follow_each_other_have_levels_of_their_own():
    rows = np.array([[0.0, 1.0, 3.0, 10.0, 12.0, 14.0, 15.0]])
    places = crossings(rows, np.array([[0.5, 3.5], [13.0, 1.0]]), Grid.of([3, 4]))
    np.testing.assert_allclose(places[0], [[0.5, np.nan], [4.5, np.nan]])


def test_sample_runs_straight_and_ends_at_the_ends():
    rows = np.array([[0.0, 10.0, 40.0]])
    np.testing.assert_allclose(
        sample(rows, np.array([[-1.0, 0.5, 1.5, 9.0, np.nan]])), [[0.0, 5.0, 25.0, 40.0, np.nan]]
    )
