"""Margins that a rider keeps to the edges, and how precisely they show an offset, on a round course."""

from dataclasses import replace

import numpy as np
import pytest

from lapkit.path.margins import NearEdges, effective_counts
from lapkit.path.quantile_fit import Prior, QuantileRegression

PLACES = 60


def round_course(clear_of_side, laps=1):
    """Approaches to both edges at every place; ``clear_of_side`` gives how far within the left and the right, on all laps."""
    place = np.arange(PLACES)
    angle = 2.0 * np.pi * place / PLACES
    left = np.stack([-np.sin(angle), np.cos(angle)], axis=1)
    return NearEdges(
        clear_m=np.tile(np.concatenate([clear_of_side(1.0), clear_of_side(-1.0)]), laps),
        left=np.tile(left, (2 * laps, 1)),
        side=np.tile(np.repeat([1.0, -1.0], PLACES), laps),
        place=np.tile(place, 2 * laps),
    )


def errors_in_sd(margins, rng):
    """Offset found over one round, in the standard deviations that precisions alone give it, and with disagreement.

    ``margins`` are as many on each side as there are parts of the course that he uses alike.
    """

    def kept(side):
        each = np.repeat(rng.normal(0.5, 0.5, margins), PLACES // margins)
        return each + rng.normal(0.0, 0.2, PLACES)

    near = round_course(kept)
    fit = near.margins()
    precision = near.precision(fit, settled=True)
    design = np.concatenate([-near.side[:, None] * near.left, near.at_side], axis=1)
    prior = Prior(np.array([0.0, 0.0, 0.6, 0.6]), np.array([1.5, 1.5, 0.5, 0.5]))
    regression = QuantileRegression(0.25, near.clear_m, design, prior)
    found = regression.fit(np.ones((1, 2 * PLACES))).at_m[0, :2]
    square = (design * precision[:, None]).T @ design + np.diag(prior.sd**-2)
    sd = np.sqrt(np.diag(np.linalg.inv(square))[:2])
    return found / sd, found / sd / np.sqrt(near.disagreement(fit, precision))


@pytest.mark.parametrize(("margins", "too_sure"), [(60, 1.0), (20, 1.4)])
def test_margins_alike_over_stretches_of_the_course_make_the_offset_less_certain(margins, too_sure):
    rides = [errors_in_sd(margins, np.random.default_rng(seed)) for seed in range(80)]
    alone, with_disagreement = (
        float(np.sqrt(np.mean(np.square(each)))) for each in zip(*rides, strict=True)
    )
    assert alone > 0.9 * too_sure
    assert with_disagreement == pytest.approx(1.0, abs=0.3)


def test_a_margin_is_what_a_quarter_of_the_approaches_fall_short_of_on_either_side():
    spread = np.linspace(-0.5, 0.5, PLACES)
    near = round_course(lambda side: (1.2 if side > 0.0 else 0.3) + spread)
    # The prior draws both towards 0.6 m, by little beside sixty approaches.
    assert near.margins().at_m[0] == pytest.approx([1.2 - 0.25, 0.3 - 0.25], abs=0.08)


@pytest.mark.parametrize("settled", [False, True])
def test_approaches_are_together_as_precise_as_a_sample_quantile(settled):
    rng = np.random.default_rng(3)
    near = round_course(lambda side: 0.6 + rng.laplace(0.0, 0.2, PLACES), laps=3)
    fit = near.margins()
    even = 0.25 * 0.75
    dense = even / fit.spread_m[0]
    if settled:
        away = np.abs(near.clear_m - near.at_side @ fit.at_m[0])
        dense = min(near.counts @ (away < 0.25) / near.counts.sum() / 0.5, dense)
    precision = near.precision(fit, settled=settled)
    # Three laps alike count for one.
    assert near.counts.sum() == pytest.approx(2 * PLACES)
    assert precision.sum() == pytest.approx(2 * PLACES * dense**2 / even)
    np.testing.assert_allclose(precision / precision[0], fit.weight[0] / fit.weight[0, 0])


def test_where_no_approach_lies_about_the_margin_half_of_what_their_spread_says_is_believed():
    far = np.where(np.arange(PLACES) % 4 == 0, 0.05, 1.45)
    near = round_course(lambda side: far)
    fit = near.margins()
    assert np.min(np.abs(near.clear_m - near.at_side @ fit.at_m[0])) > 0.25
    by_spread, settled = (near.precision(fit, settled=settled).sum() for settled in (False, True))
    assert settled == pytest.approx(0.25 * by_spread)


def test_an_offset_that_all_parts_of_the_course_show_alike_is_no_disagreement():
    rng = np.random.default_rng(5)
    own = {side: 0.5 + rng.normal(0.0, 0.2, PLACES) for side in (1.0, -1.0)}

    def disagreement(east_m):
        near = round_course(lambda side: own[side])
        near = replace(near, clear_m=near.clear_m - near.side * near.left[:, 0] * east_m)
        fit = near.margins()
        return near.disagreement(fit, near.precision(fit, settled=False)), fit

    (still, fit), (moved, apart) = disagreement(0.0), disagreement(0.4)
    # The margins are found without the offset, so their spread has it; the parts agree all the same.
    wider = (apart.spread_m[0] / fit.spread_m[0]) ** 2
    assert moved * wider == pytest.approx(still, rel=0.4)


def test_approaches_far_from_the_margin_count_for_little():
    away = np.where(np.arange(PLACES) % 6 == 0, 2.0, 0.6 + 0.05 * np.sin(np.arange(PLACES)))
    near = round_course(lambda side: away)
    precision = near.precision(near.margins(), settled=True)
    far = near.clear_m > 1.5
    assert precision[far].max() < 0.2 * precision[~far].min()


def test_approaches_of_one_place_count_as_one_where_they_are_alike():
    place = np.repeat(np.arange(20), 5)
    rng = np.random.default_rng(1)
    by_place = rng.normal(0.0, 1.0, 20)[place] + rng.normal(0.0, 0.01, 100)
    by_lap = rng.normal(0.0, 1.0, 100)
    assert effective_counts(by_place, place).sum() == pytest.approx(20.0, rel=0.02)
    assert effective_counts(by_lap, place).sum() > 80.0


@pytest.mark.parametrize(
    "place", [np.arange(7), np.zeros(7, dtype=int)], ids=["each its own", "one"]
)
def test_without_places_to_compare_those_of_one_count_as_one(place):
    counts = effective_counts(np.linspace(0.0, 1.0, 7), place)
    assert counts.sum() == pytest.approx(len(np.unique(place)))


def test_approaches_exactly_as_near_everywhere_count_as_one_at_each_place():
    assert effective_counts(np.full(12, 0.5), np.arange(12) % 4).sum() == pytest.approx(4.0)


def test_both_edges_of_one_place_are_places_of_their_own():
    rng = np.random.default_rng(2)
    side = np.repeat([1.0, -1.0], 100)
    place = np.tile(np.repeat(np.arange(20), 5), 2)
    alike = rng.normal(0.0, 1.0, 40)[2 * place + (side > 0)] + rng.normal(0.0, 0.01, 200)
    near = NearEdges(alike, np.tile([[0.0, 1.0]], (200, 1)), side, place)
    assert near.counts.sum() == pytest.approx(40.0, rel=0.02)
