"""The arithmetic of findings against published examples."""

import runpy
from pathlib import Path

import numpy as np
import pytest

from lapkit.compare.stats import change_of, discoveries

SHARES = runpy.run_path(str(Path(__file__).parents[1] / "benchmarks" / "shares.py"))
brier, wilson = SHARES["brier"], SHARES["wilson"]

# Cushny & Peebles' sleep data, as Student gave them (read): extra hours by two drugs, ten patients.
DRUG_1 = np.array([0.7, -1.6, -0.2, -1.2, -0.1, 3.4, 3.7, 0.8, 0.0, 2.0])
DRUG_2 = np.array([1.9, 0.8, 1.1, 0.1, -0.1, 4.4, 5.5, 1.6, 4.6, 3.4])


def test_paired_change_of_the_sleep_data():
    # Mean −1.58, t −4.0621, 95 % −2.4599 to −0.7001 (read).
    found = change_of(np.mean(DRUG_1 - DRUG_2), np.var(DRUG_1 - DRUG_2, ddof=1) / 10.0, 9.0)
    assert found.size == pytest.approx(-1.58)
    assert [found.lo, found.hi] == pytest.approx([-2.4599, -0.7001], abs=5e-5)
    # p of |t| = 4.0621 with 9 degrees of freedom: 0.002833 (the same example in statistics
    # programs, memory).
    assert found.p == pytest.approx(0.002833, abs=5e-7)


def test_unpaired_change_of_the_sleep_data():
    # Welch: t −1.8608, 17.776 degrees of freedom, 95 % −3.3655 to 0.2055, p 0.07939 (the same
    # example in statistics programs, memory).
    parts = np.array([np.var(drug, ddof=1) / 10.0 for drug in (DRUG_1, DRUG_2)])
    free = parts.sum() ** 2 / (np.square(parts).sum() / 9.0)
    assert free == pytest.approx(17.776, abs=5e-4)
    found = change_of(np.mean(DRUG_1) - np.mean(DRUG_2), parts.sum(), free)
    assert [found.lo, found.hi] == pytest.approx([-3.3655, 0.2055], abs=5e-5)
    assert found.p == pytest.approx(0.07939, abs=5e-6)


@pytest.mark.parametrize(
    ("hits", "count", "lo", "hi"), [(8, 10, 0.490, 0.943), (20, 20, 0.839, 1.0)]
)
def test_wilson_intervals_are_the_published_ones(hits, count, lo, hi):
    # Common values of the Wilson 95 % interval (memory).
    assert wilson(hits, count) == pytest.approx((lo, hi), abs=5e-4)


def test_wilson_stays_within_none_and_all():
    for hits in range(6):
        lo, hi = wilson(hits, 5)
        assert -1e-12 <= lo <= hits / 5 <= hi <= 1.0 + 1e-12


def test_brier_of_four_forecasts():
    # 0.0375: scikit-learn's example (memory).
    p, happened = np.array([0.1, 0.9, 0.8, 0.3]), np.array([0.0, 1.0, 1.0, 0.0])
    assert brier(p, happened).score == pytest.approx(0.0375)


def test_the_brier_score_has_murphys_three_parts():
    # Murphy (1973): p .1, .3, .7, .9, ten each, hits 1, 3, 6, 10 → reliability .005, resolution
    # .115, uncertainty .25, Brier .140 (derived).
    p = np.repeat([0.1, 0.3, 0.7, 0.9], 10)
    happened = np.concatenate([np.arange(10) < hits for hits in (1, 3, 6, 10)]).astype(float)
    parts = brier(p, happened)
    assert parts == pytest.approx((0.140, 0.005, 0.115, 0.25))
    assert parts.score == pytest.approx(parts.reliability - parts.resolution + parts.uncertainty)


def test_false_discoveries_of_the_published_example():
    # Benjamini & Hochberg (1995), fifteen p values of a thrombolysis study: at 0.05 the four smallest
    # are reported, Bonferroni would report three (memory).
    p = np.array([0.0001, 0.0004, 0.0019, 0.0095, 0.0201, 0.0278, 0.0298, 0.0344, 0.0459, 0.3240,
                  0.4262, 0.5719, 0.6528, 0.7590, 1.0])  # fmt: skip
    shuffled = np.random.default_rng(2).permutation(len(p))
    assert sorted(p[shuffled][discoveries(p[shuffled], 0.05)]) == p[:4].tolist()
    assert np.count_nonzero(p <= 0.05 / len(p)) == 3
