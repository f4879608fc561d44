"""The order of the unknowns, and their couplings as a band, against both written out one by one."""

from itertools import product

import numpy as np
import pytest

from lapkit.path.spline import SUPPORT, Knots
from lapkit.path.unknowns import (
    AXES,
    Groups,
    add_wander,
    columns,
    in_order,
    path_coefficients,
    wander_at,
)


@pytest.fixture(params=[1, 2, 3])
def knots(request):
    """Thirty coefficients, with a knot of wander at each, at every second, at every third."""
    return Knots(start_s=-3.0, spacing_s=0.5, intervals=25, wander_every=request.param)


@pytest.fixture
def groups(knots):
    return Groups.of(knots)


def numbers(groups, count):
    """Numbers of the unknowns as told one by one: of the path ``(count, 2)``, of the wander ``(groups, 2)``."""
    path = [[groups.path(k, axis) for axis in (0, 1)] for k in range(count)]
    heads = groups.states * np.arange(count // groups.every)
    return np.array(path), np.stack([heads + groups.wander(axis) for axis in (0, 1)], axis=1)


def test_every_unknown_has_a_number_of_its_own(knots, groups):
    path, wander = numbers(groups, knots.coefficients)
    told = np.sort(np.concatenate([path.ravel(), wander.ravel()]))
    np.testing.assert_array_equal(told, np.arange(groups.states * len(wander)))


def test_unknowns_put_in_order_lie_under_their_numbers_and_are_found_again(knots, groups):
    path, wander = numbers(groups, knots.coefficients)
    ordered = in_order(100.0 * path.T, 10.0 * wander.T)
    np.testing.assert_array_equal(ordered[path], 100.0 * path)
    np.testing.assert_array_equal(ordered[wander], 10.0 * wander)
    np.testing.assert_array_equal(path_coefficients(knots, ordered), 100.0 * path)
    drawn = ordered[:, None] * [1.0, 2.0, -3.0]
    np.testing.assert_array_equal(
        path_coefficients(knots, drawn), 100.0 * path[..., None] * [1.0, 2.0, -3.0]
    )


def test_the_wander_s_knots_lie_under_the_middles_of_their_first_coefficients(knots, groups):
    path, wander = numbers(groups, knots.coefficients)
    centres = knots.start_s + knots.spacing_s * (np.arange(len(path)) - 2)[:: groups.every]
    seen = (centres >= knots.start_s) & (centres <= knots.stop_s)
    values = np.random.default_rng(4).normal(size=wander.shape)
    unknowns = in_order(np.full(path.T.shape, np.nan), values.T)
    found = wander_at(knots, unknowns, centres[seen])
    np.testing.assert_allclose(found, values[seen], rtol=0, atol=1e-12)
    halfway = wander_at(knots, unknowns, centres[seen][:-1] + 0.5 * np.diff(centres[seen]))
    np.testing.assert_allclose(halfway, 0.5 * (found[1:] + found[:-1]), rtol=0, atol=1e-12)


def test_wander_outside_the_log_is_that_at_its_ends(knots, groups):
    values = np.random.default_rng(5).normal(size=groups.states * knots.coefficients)
    values = values[: groups.states * (knots.coefficients // groups.every)]
    ends = wander_at(knots, values, np.array([knots.start_s, knots.stop_s]))
    beyond = wander_at(knots, values, np.array([knots.start_s - 9.0, knots.stop_s + 9.0]))
    np.testing.assert_array_equal(beyond, ends)


def test_every_interval_has_one_phase_and_tells_its_knot_of_wander(knots, groups):
    told = np.full(knots.intervals, -1)
    for phase in range(groups.every):
        where, first = groups.intervals(phase)
        assert np.all(told[where] == -1)
        told[where] = first + np.arange(len(told[where]))
        # From that knot's place, two knots ahead of its first coefficient, the interval begins a phase on.
        np.testing.assert_array_equal(
            groups.every * told[where] + phase, np.arange(knots.intervals)[where] + 2
        )
    assert np.all(told >= 0)


@pytest.mark.parametrize("within", [0.0, 0.3, 1.0])
def test_shares_are_those_of_the_straight_line_between_knots(groups, within):
    for phase in range(groups.every):
        before, after = groups.shares(phase) @ [1.0, within]
        assert after == pytest.approx((phase + within) / groups.every)
        assert before == pytest.approx(1.0 - after)


@pytest.mark.parametrize("seen", ["with wander", "without wander"])
def test_couplings_stand_in_the_band_between_their_two_unknowns(knots, groups, seen):
    rng = np.random.default_rng(6)
    path, wander = numbers(groups, knots.coefficients)
    count = groups.states * len(wander)
    couplings = rng.normal(size=(len(AXES), SUPPORT, len(path)))
    beside = rng.normal(size=(len(AXES), 2 * groups.reach + 1, len(wander)))
    whole = np.zeros((count, count))
    for one, other in product((0, 1), repeat=2):
        pair = AXES.index((min(one, other), max(one, other)))
        for later in range(len(path)):
            for back in range(min(later + 1, SUPPORT)):
                value = couplings[pair, SUPPORT - 1 - back, later]
                row, column = path[later - back, one], path[later, other]
                whole[min(row, column), max(row, column)] = value
        for group, reached in product(range(len(wander)), range(2 * groups.reach + 1)):
            coefficient = groups.every * group + reached - groups.reach
            if seen == "with wander" and 0 <= coefficient < len(path):
                row, column = path[coefficient, one], wander[group, other]
                whole[min(row, column), max(row, column)] = beside[pair, reached, group]
    band = columns(groups, couplings, beside if seen == "with wander" else None)
    assert band.shape == (groups.rows, count)
    for off in range(groups.rows):
        np.testing.assert_array_equal(band[groups.rows - 1 - off, off:], np.diag(whole, off))
    assert not np.any(np.triu(whole, groups.rows))
    if seen == "with wander":  # then no row is there for nothing
        assert np.any(band[0])


def test_couplings_of_the_wander_alone_are_added_to_what_stands_there(knots, groups):
    _, wander = numbers(groups, knots.coefficients)
    square, before = np.random.default_rng(7).normal(size=(2, len(wander)))
    band = np.ones((groups.rows, wander.max() + 1))
    add_wander(groups, band, square, before)
    expected = np.ones_like(band)
    expected[-1, wander] += square[:, None]
    expected[-1 - groups.states, wander] += before[:, None]
    np.testing.assert_array_equal(band, expected)
