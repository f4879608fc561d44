"""Stops that missed the hold point's mark, told by the edges and the rider's own laps.

A rider told to stop on a mark may stop a machine's length away, behind another one or at what he takes for the mark.
His stop then pulls the whole log that way, and every interval at the cones with it. So each stop is a mixture of two:
it was on the mark, to within a step, or it missed it by metres. Laps, edges and the other stops say how probable
either is, and the stop is believed to the standard deviation of the mixture.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

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
    # Every fourth knot tells one hypothesis from the other as well.
    fourth = knots.thinned().thinned()
    elsewhere = Information.of(knots, others).at_every_other_knot().at_every_other_knot()
    trials = [_Trial.of(fourth, stop) for stop in stops]
    for _ in range(_ROUNDS):
        for i in range(len(trials)):
            other_stops = trials[:i] + trials[i + 1 :]
            rest = sum((stop.shown for stop in other_stops), elsewhere)
            trials[i] = trials[i].judged(rest, process)
    return [trial.believed for trial in trials]


def missed(stop: Sight) -> bool:
    """Whether a stop as :func:`doubted` leaves it more probably missed the mark than not."""
    even = 0.5 * (STOP_SD_M**2 + _MISSED_SD_M**2)
    return stop.common is not None and stop.common.sd_m**2 > even


@dataclass(frozen=True, eq=False)
class _Trial:
    """A stop while it is weighed.

    Attributes:
        fourth: every fourth knot of the offset.
        coarse: the stop as it shows these knots.
        on_mark: what it shows of them if it was on the mark.
        beside_it: what it shows if it missed the mark.
        believed: the stop, at all knots, as far as it is believed now.
        shown: what that shows of every fourth knot.
    """

    fourth: OffsetKnots
    coarse: Sight
    on_mark: Information
    beside_it: Information
    believed: Sight
    shown: Information

    @classmethod
    def of(cls, fourth: OffsetKnots, stop: Sight) -> _Trial:
        """A stop before it is weighed, believed only as far as one that missed the mark."""
        coarse = stop.at_every_other_knot().at_every_other_knot()
        on_mark, beside_it = (
            Information.of(fourth, [_within(coarse, sd_m)]) for sd_m in (STOP_SD_M, _MISSED_SD_M)
        )
        believed = _within(stop, _MISSED_SD_M)
        return cls(fourth, coarse, on_mark, beside_it, believed, shown=beside_it)

    def judged(self, rest: Information, process: OffsetProcess) -> _Trial:
        """The stop weighed against ``rest``, all that shows the offset besides: Bayes' rule for the two cases."""
        if_on_mark = (rest + self.on_mark).minus_2_log(process)
        if_missed = (rest + self.beside_it).minus_2_log(process)
        log_odds = np.log(_MISSES / (1.0 - _MISSES)) + 0.5 * (if_on_mark - if_missed)
        p_missed = 1.0 / (1.0 + np.exp(-np.clip(log_odds, -_LARGEST, _LARGEST)))
        variance = (1.0 - p_missed) * STOP_SD_M**2 + p_missed * _MISSED_SD_M**2
        sd_m = float(np.sqrt(variance))
        shown = Information.of(self.fourth, [_within(self.coarse, sd_m)])
        return replace(self, believed=_within(self.believed, sd_m), shown=shown)


def _within(stop: Sight, sd_m: float) -> Sight:
    """A stop that stood so near the mark."""
    return replace(stop, common=Common(sd_m))
