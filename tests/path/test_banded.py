"""The banded normal equations against the same summed row by row, dense."""

import numpy as np
import pytest

from lapkit.path.banded import Linear, gram
from lapkit.path.model import Noise, wander_prior
from lapkit.path.places import Places
from lapkit.path.spline import SUPPORT, Knots
from lapkit.path.unknowns import Groups, add_wander, path_coefficients, wander_at


@pytest.fixture(params=[1, 2, 3])
def knots(request):
    """Knots of the path, with one of wander at each, at every second, at every third."""
    return Knots(start_s=1.0, spacing_s=0.25, intervals=25, wander_every=request.param)


def unknowns(knots):
    """How many there are."""
    return (2 + 2 * knots.wander_every) * knots.coefficients // knots.wander_every


def dense(band):
    """A symmetric upper band, diagonal last, as a whole matrix."""
    rows, count = band.shape
    whole = np.zeros((count, count))
    for off in range(rows):
        part = np.diag(band[rows - 1 - off, off:], off)
        whole += part + part.T if off else part
    return whole


def wander_rows(knots, time_s, axis):
    """How much of each unknown the wander at times is, by straight lines between its knots."""
    count = knots.coefficients // knots.wander_every
    # The wander of a group stands under the middle of its first coefficient's support.
    knots_s = knots.start_s + knots.spacing_s * (knots.wander_every * np.arange(count) - 2)
    rows = np.zeros((len(time_s), unknowns(knots)))
    of_wander = np.arange(unknowns(knots)).reshape(count, -1)[:, -2 + axis]
    for group, number in enumerate(of_wander):
        rows[:, number] = np.interp(time_s, knots_s, np.eye(count)[group])
    return rows


def path_rows(knots, time_s, axis, order):
    """The same of the path's derivative."""
    index, within = knots.locate(time_s)
    rows = np.zeros((len(time_s), unknowns(knots)))
    numbers = path_coefficients(knots, np.arange(unknowns(knots)))[:, axis]
    for k, weight in enumerate(knots.basis(within, order)):
        rows[np.arange(len(index)), numbers[index + k]] = weight
    return rows


@pytest.mark.parametrize("order", [0, 1])
@pytest.mark.parametrize("pulled", [0.0, 0.4])
def test_the_band_is_the_sum_over_rows(knots, order, pulled):
    rng = np.random.default_rng(order)
    time = np.sort(rng.uniform(knots.start_s, knots.stop_s, 90))
    angle = rng.uniform(0.0, 2.0 * np.pi, 90)
    seen = Linear(
        places=Places.of(knots, time),
        order=order,
        data=rng.normal(size=(2, 90)),
        weight=rng.uniform(0.0, 2.0, 90),
        pull=pulled * rng.uniform(0.0, 1.0, 90),
        left=np.stack([np.cos(angle), np.sin(angle)]),
    )
    side = sum(seen.left[a][:, None] * path_rows(knots, time, a, order + 2) for a in (0, 1))
    whole, right = 0.0, 0.0
    for axis in (0, 1):
        rows = path_rows(knots, time, axis, order) + (seen.pull * seen.left[axis])[:, None] * side
        if order == 0:
            rows += wander_rows(knots, time, axis)
        whole += rows.T @ (seen.weight[:, None] * rows)
        right += rows.T @ (seen.weight * seen.data[axis])
    found = gram(knots, seen)
    assert np.allclose(dense(found.band), whole, rtol=0, atol=1e-11 * np.abs(whole).max())
    assert np.allclose(found.right, right, rtol=0, atol=1e-11 * np.abs(right).max())
    assert found.square == pytest.approx(np.sum(seen.weight * np.square(seen.data)))


def test_wander_is_read_where_it_was_seen(knots):
    rng = np.random.default_rng(3)
    time = np.linspace(knots.start_s, knots.stop_s, 50)
    values = rng.normal(size=unknowns(knots))
    expected = np.stack([wander_rows(knots, time, axis) @ values for axis in (0, 1)], axis=1)
    assert np.allclose(wander_at(knots, values, time), expected)


def test_the_wander_s_prior_is_that_of_an_ornstein_uhlenbeck_process(knots):
    """Covariance falls off exponentially from each of its knots to the next."""
    noise = Noise(white_m=0.1, wander_m=0.3, wander_s=2.0, velocity_mps=0.1, roughness=5.0)
    groups = Groups.of(knots)
    band = np.zeros((unknowns(knots), groups.rows)).T
    diagonal, before, log_det = wander_prior(knots, noise)
    add_wander(groups, band, diagonal, before)
    own = np.arange(unknowns(knots)).reshape(len(diagonal), -1)[:, -2]
    precision = dense(band)[np.ix_(own, own)]
    at_s = knots.wander_every * knots.spacing_s * np.arange(len(diagonal))
    apart_s = np.abs(np.subtract.outer(at_s, at_s))
    assert np.allclose(np.linalg.inv(precision), 0.09 * np.exp(-apart_s / 2.0))
    # Of both axes.
    assert log_det == pytest.approx(2.0 * np.linalg.slogdet(precision)[1])


def test_the_band_is_no_wider_than_what_is_seen_together(knots):
    time = np.linspace(knots.start_s, knots.stop_s, 300)
    rows = path_rows(knots, time, 0, 0) + wander_rows(knots, time, 0)
    rows += path_rows(knots, time, 1, 0) + wander_rows(knots, time, 1)
    reached = max(np.ptp(np.flatnonzero(row)) for row in rows)
    assert np.count_nonzero(rows[150]) == 2 * (SUPPORT + 2)
    assert Groups.of(knots).rows == reached + 1
