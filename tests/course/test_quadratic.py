"""The interior point against a dense reference solver and against answers known beforehand."""

import numpy as np
import pytest
import scipy.sparse as sp
from scipy.optimize import minimize

from lapkit.course.quadratic import Quadratic, minimise


def quadratic(hessian, linear, rows, lower, upper):
    lower, upper = np.asarray(lower, dtype=float), np.asarray(upper, dtype=float)
    linear = np.asarray(linear, dtype=float)
    return Quadratic(sp.csr_array(hessian), linear, sp.csr_array(rows), lower, upper)


def test_without_active_bounds_it_is_the_free_minimum():
    problem = quadratic(np.diag([2.0, 4.0]), [-2.0, 4.0], np.eye(2), [-9, -9], [9, 9])
    assert minimise(problem, np.zeros(2)) == pytest.approx([1.0, -1.0], abs=1e-5)


def test_an_active_bound_holds():
    problem = quadratic(np.eye(2), [-3.0, 0.0], [[1.0, 1.0]], [-np.inf], [1.0])
    assert minimise(problem, np.zeros(2)) == pytest.approx([2.0, -1.0], abs=1e-5)


def test_the_start_need_not_keep_the_bounds():
    problem = quadratic(np.eye(1), [0.0], [[1.0]], [4.0], [np.inf])
    assert minimise(problem, np.array([-50.0])) == pytest.approx([4.0], abs=1e-5)


@pytest.mark.parametrize("seed", range(5))
def test_agrees_with_a_dense_solver(seed):
    rng = np.random.default_rng(seed)
    n, m = 10, 25
    half = rng.normal(size=(n - 2, n))
    hessian = half.T @ half  # only semidefinite, as the curvature's is
    linear = 3.0 * hessian @ rng.normal(size=n)
    rows = np.concatenate([np.eye(n), rng.normal(size=(m, n))])
    lower, upper = np.full(n + m, -1.0), np.concatenate([np.ones(n), np.full(m, np.inf)])
    found = minimise(quadratic(hessian, linear, rows, lower, upper), np.zeros(n))
    reference = minimize(
        lambda x: 0.5 * x @ hessian @ x + linear @ x,
        np.zeros(n),
        jac=lambda x: hessian @ x + linear,
        constraints=[
            {"type": "ineq", "fun": lambda x: rows @ x + 1.0, "jac": lambda x: rows},
            {"type": "ineq", "fun": lambda x: 1.0 - x, "jac": lambda x: -np.eye(n)},
        ],
        options={"ftol": 1e-14, "maxiter": 500},
    )
    assert 0.5 * found @ hessian @ found + linear @ found == pytest.approx(reference.fun, abs=1e-4)
    assert np.all(rows @ found > lower - 1e-6) and np.all(found < 1 + 1e-6)
