import numpy as np
import pytest

from lapkit.path.edges import Approaches, _counts, _doubt, _margins, _precision
from lapkit.path.offset import find_offset
from lapkit.path.offset_knots import OffsetKnots
from lapkit.path.quantile_fit import Prior, QuantileFit
from lapkit.path.tyre_track import TyreTrack
from lapkit.simulate.courses import built_in

LASTS_S = 600.0


@pytest.fixture
def knots():
    return OffsetKnots.covering(0.0, LASTS_S)


def approaches(clear_of, *, laps=6, places=30, east_m=0.0, rng=None):
    """Of a round course: at every place to both edges, as an offset to the east makes them seem."""
    angle = np.tile(2.0 * np.pi * np.arange(places) / places, 2 * laps)
    left = np.stack([-np.sin(angle), np.cos(angle)], axis=1)
    side = np.repeat([1.0, -1.0], laps * places)
    place = 2 * np.tile(np.arange(places), 2 * laps) + (side > 0)
    time = np.tile(np.linspace(0.0, LASTS_S, laps * places), 2)
    clear = clear_of(side, place) - side * left[:, 0] * east_m
    return Approaches(time, left, side, place, clear)


def told(seen, knots):
    """Offset and standard deviation, east and north, over the ride: what is weighed depends on what is believed."""
    believed = np.zeros((2, len(knots.time_s)))
    for turn in range(6):
        offset = find_offset(knots, seen.sights(knots, believed, turn), "edges", 2, 1)
        believed = offset.rows[0]
    return believed.mean(axis=1), offset.sd_m.mean(axis=1)


@pytest.mark.parametrize(("left_m", "right_m"), [(0.6, 0.6), (0.0, 0.0), (1.2, 0.2)])
def test_the_offset_is_told_whatever_the_margins(knots, left_m, right_m):
    rng = np.random.default_rng(2)

    def clear_of(side, place):
        at_place = rng.exponential(0.3, place.max() + 1)[place]
        return np.where(side > 0, left_m, right_m) + at_place + rng.normal(0.0, 0.2, len(side))

    (east, north), (sd, _) = told(approaches(clear_of, east_m=0.8), knots)
    assert east == pytest.approx(0.8, abs=0.15)
    assert north == pytest.approx(0.0, abs=0.15)
    assert 0.03 < sd < 0.25


def test_who_keeps_away_at_some_places_is_told_no_further_off(knots):
    rng = np.random.default_rng(4)
    # At the left edge of one half of the round he keeps two metres away.
    spread = rng.normal(0.0, 0.1, 60)
    even = approaches(lambda side, place: 0.6 + spread[place])
    away = approaches(lambda side, place: 0.6 + spread[place] + 1.4 * ((side > 0) & (place < 20)))
    assert np.hypot(*(told(away, knots)[0] - told(even, knots)[0])) < 0.25


def test_who_keeps_one_margin_to_the_millimetre_is_surely_told(knots):
    def sd_m(seed):
        rng = np.random.default_rng(seed)
        away = rng.exponential(0.8, 60) * (rng.random(60) < 0.4)
        return told(approaches(lambda side, place: 0.5 + away[place]), knots)[1]

    assert np.mean([sd_m(seed) for seed in range(8)]) < 0.14


def errors_in_sd(margins, rng):
    """Offset found over one round beside how sure it is called: over precisions alone, and with what parts of it agree on.

    ``margins`` are as many on each side as there are parts of the course that he uses alike.
    """
    place = np.arange(60)
    angle = 2.0 * np.pi * place / len(place)
    clear, shown = [], []
    for side in (1.0, -1.0):
        kept = np.repeat(rng.normal(0.5, 0.5, margins), len(place) // margins)
        clear.append(kept + rng.normal(0.0, 0.2, len(place)))
        left = np.stack([-np.sin(angle), np.cos(angle)], axis=1)
        own = np.tile([float(side > 0.0), float(side < 0.0)], (len(place), 1))
        shown.append(np.concatenate([-side * left, own], axis=1))
    clear_m, shown, counts = np.concatenate(clear), np.concatenate(shown), np.ones(2 * len(place))
    believed = Prior(np.array([0.0, 0.0, 0.6, 0.6]), np.array([1.5, 1.5, 0.5, 0.5]))
    found = QuantileFit.of(0.25, clear_m, shown, counts[None], believed).at_m[0, :2]
    fit = _margins(clear_m, shown[:, 2:], counts)
    precision = _precision(clear_m, shown[:, 2:], counts, fit, settled=True)
    square = (shown * precision[:, None]).T @ shown + np.diag(believed.sd**-2)
    sd = np.sqrt(np.diag(np.linalg.inv(square))[:2])
    doubt = _doubt(clear_m, shown, counts, precision, np.tile(place, 2), fit.at_m[0])
    return found / sd, found / sd / np.sqrt(doubt)


@pytest.mark.parametrize(("margins", "too_sure"), [(60, 1.0), (20, 1.4)])
def test_margins_alike_over_stretches_of_the_course_are_doubted(margins, too_sure):
    rides = [errors_in_sd(margins, np.random.default_rng(seed)) for seed in range(80)]
    alone, doubted = (float(np.sqrt(np.mean(np.square(each)))) for each in zip(*rides, strict=True))
    assert alone > 0.9 * too_sure
    assert doubted == pytest.approx(1.0, abs=0.3)


def test_approaches_of_one_place_count_as_one_where_they_are_alike():
    place = np.repeat(np.arange(20), 5)
    rng = np.random.default_rng(1)
    by_place = rng.normal(0.0, 1.0, 20)[place] + rng.normal(0.0, 0.01, 100)
    by_lap = rng.normal(0.0, 1.0, 100)
    assert _counts(by_place, place).sum() == pytest.approx(20.0, rel=0.02)
    assert _counts(by_lap, place).sum() > 80.0


def test_few_approaches_tell_nothing(knots):
    seen = approaches(lambda side, place: np.full(len(side), 4.0))
    assert seen.sights(knots, np.zeros((2, len(knots.time_s))), 2) == []


def test_a_straight_along_an_edge_is_one_approach_and_the_way_to_it_none():
    course = built_in("sample")
    station = np.arange(0.0, 3.0 * course.reference.length_m, 10.0)
    place = station % course.reference.length_m
    left_m, right_m = course.edges_at(place)
    # 400 m at half a metre from the left edge, nearest in the middle; over 150 m there and back from the middle of the road.
    beside = 0.5 + 0.1 * np.square((place - 500.0) / 200.0)
    away = 0.5 * (left_m - right_m) - beside
    drawn_in = np.clip((np.abs(place - 500.0) - 200.0) / 150.0, 0.0, 1.0)
    track = TyreTrack(
        course, 0.5 * np.arange(len(station)), station, left_m - beside - away * drawn_in
    )
    seen = Approaches.of(track)
    near = (seen.side > 0.0) & (seen.clear_m < 2.5)
    assert np.count_nonzero(near) == 3
    np.testing.assert_allclose(seen.clear_m[near], 0.5, atol=0.01)
