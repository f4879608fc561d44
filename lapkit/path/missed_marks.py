"""Stops that missed the hold point's mark, told by the edges and the rider's own laps.

A rider told to stop on a mark may stop a machine's length away, behind another one or at what he takes for the mark.
His stop then pulls the whole log that way, and every interval at the cones with it. So each stop is a mixture of two:
it was on the mark, to within a step, or it missed it by metres. Laps, edges and the other stops say how probable
either is, and the stop is believed to the standard deviation of the mixture.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from lapkit.path.offset_knots import OffsetKnots
from lapkit.path.offset_process import Information, OffsetProcess
from lapkit.path.offset_sight import Common, Sight
from lapkit.path.stops import STOP_SD_M

_MISSED_SD_M = 2.0  # how far beside the mark stops are that missed it, per axis: a machine's length (our choice)
_MISSES = 0.1  # share of stops near a mark that missed it (our choice)
_ROUNDS = 2  # in the second, stops that agree back each other up
_LARGEST = 50.0  # of a logarithm of odds; more is as sure


def doubted(
    knots: OffsetKnots, stops: list[Sight], others: list[Sight], process: OffsetProcess
) -> list[Sight]:
    """The stops, each believed as far as it is probable that it was on the mark.

    Args:
        knots: of the offset.
        stops: sights of the stops as if all were on the mark.
        others: what else shows the offset, or how it moved.
        process: that the offset follows.
    """
    elsewhere = _shown(knots, others)
    on_mark, beside_it = (
        [_shown(knots, [_within(stop, sd)]) for stop in stops] for sd in (STOP_SD_M, _MISSED_SD_M)
    )
    believed = [_within(stop, _MISSED_SD_M) for stop in stops]
    shown = list(beside_it)
    for _ in range(_ROUNDS):
        for i, stop in enumerate(stops):
            rest = sum((*shown[:i], *shown[i + 1 :]), elsewhere)
            on, off = ((rest + own).minus_2_log(process) for own in (on_mark[i], beside_it[i]))
            log_odds = np.log(_MISSES / (1.0 - _MISSES)) + 0.5 * (on - off)
            chance = 1.0 / (1.0 + np.exp(-np.clip(log_odds, -_LARGEST, _LARGEST)))
            variance = (1.0 - chance) * STOP_SD_M**2 + chance * _MISSED_SD_M**2
            believed[i] = _within(stop, float(np.sqrt(variance)))
            shown[i] = _shown(knots, [believed[i]])
    return believed


def missed(stop: Sight) -> bool:
    """Whether a stop as :func:`doubted` leaves it more probably missed the mark than not."""
    even = 0.5 * (STOP_SD_M**2 + _MISSED_SD_M**2)
    return stop.common is not None and stop.common.sd_m**2 > even


def _within(stop: Sight, sd_m: float) -> Sight:
    """A stop that stood so near the mark."""
    return replace(stop, common=Common(sd_m))


def _shown(knots: OffsetKnots, sights: list[Sight]) -> Information:
    """What sights show; every fourth knot tells one hypothesis from the other as well."""
    return Information.of(knots, sights).at_every_other_knot().at_every_other_knot()
