"""Where a rider used all of the road: how near to its edges he came shows the receiver's offset.

A machine on its wheels is between the edges, and a rider who uses the road comes near them again and again, on both
sides and heading every way. How near is his habit: some ride on the kerb, some keep a metre and more
(:mod:`~lapkit.path.margins`). An offset makes him seem nearer to one edge and further from the other, and on which side
changes with the heading; a margin belongs to his left or his right whatever the heading. That keeps the two apart.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from lapkit.arrays import FloatArray
from lapkit.path.margins import MARGIN_M, MARGIN_SD_M, NearEdges
from lapkit.path.offset_knots import OffsetKnots
from lapkit.path.offset_sight import Common, Readings, Sight
from lapkit.path.tyre_track import TyreTrack

_PLACE_M = 100.0  # metres in which a rider comes to an edge and leaves it again (our choice)
_FEWEST_PLACES = 8  # on a short course
# From the reference: half a wide track, run-off and a receiver's offset (our choice).
_ON_COURSE_M = 20.0
_USED_M = 2.5  # further within an edge he was not using it
_OUTSIDE_M = 3.0  # further beyond it he had left the road, by more than an offset explains
_FEWEST = 6  # approaches; from fewer no margin can be found


@dataclass(frozen=True, eq=False)
class Approaches:
    """Approaches to the edges, as they appear with the offset left in; arrays over ``n`` of them.

    Attributes:
        time_s: when each was, seconds.
        left: unit vectors to the left of the reference, ``(n, 2)``.
        side: 1 at the left edge, −1 at the right.
        place: number of the place along the course.
        clear_m: how far within the edge he appeared to be, metres.
    """

    time_s: FloatArray
    left: FloatArray
    side: FloatArray
    place: np.ndarray
    clear_m: FloatArray

    @classmethod
    def of(cls, track: TyreTrack) -> Approaches | None:
        """The approaches of a ride; None where the course has no edges or the ride was nowhere near it."""
        line, offset_m = track.course.reference, track.offset_m
        edges = track.course.edges_at(line.wrap(track.station_m))
        near = np.abs(offset_m) < _ON_COURSE_M
        if edges is None or not np.any(near):
            return None
        count = max(int(line.length_m // _PLACE_M), _FEWEST_PLACES)
        place = np.floor(track.counted_m * (count / line.length_m)).astype(np.int64)
        within_left, within_right = edges[0] - offset_m, offset_m - edges[1]
        left = _approaches(within_left, place, near)
        right = _approaches(within_right, place, near)
        both = np.concatenate([left, right])
        return cls(
            time_s=track.time_s[both],
            left=track.left[both],
            side=np.repeat([1.0, -1.0], [len(left), len(right)]),
            place=place[both] % count,
            clear_m=np.concatenate([within_left[left], within_right[right]]),
        )

    def sights(self, knots: OffsetKnots, offset: FloatArray, turn: int) -> list[Sight]:
        """Sights of the offset; an empty list where approaches are too few.

        Args:
            knots: of the offset.
            offset: as found in the round before, metres, ``(2, knots)``.
            turn: number of the round, from 0. In the first two, when the offset is hardly known, approaches further from
                an edge take part, and how parts of the course agree is not asked yet.
        """
        to_left = np.einsum("wn,nw->n", knots.between(offset, self.time_s), self.left)
        clear = self.clear_m + self.side * to_left
        wider = _USED_M * max(1.0 - 0.5 * turn, 0.0)
        near = (clear < _USED_M + wider) & (clear > -_OUTSIDE_M - wider)
        if np.count_nonzero(near) < _FEWEST:
            return []
        at_edges = NearEdges(clear[near], self.left[near], self.side[near], self.place[near])
        margins = at_edges.margins()
        settled = turn > 1
        precision = at_edges.precision(margins, settled=settled)
        if settled:
            precision /= at_edges.disagreement(margins, precision)
        # Readings of a sight all have the same precision: each is multiplied by the root of its own.
        root = np.sqrt(precision)[:, None]
        value = at_edges.side * (MARGIN_M - self.clear_m[near])
        readings = Readings(self.time_s[near], at_edges.left * root, value * root[:, 0])
        common = Common(MARGIN_SD_M, at_edges.side[:, None] * at_edges.at_side * root)
        return [Sight.of(knots, readings, 1.0, common=common)]


def _approaches(clear_m: FloatArray, place: np.ndarray, near: np.ndarray) -> np.ndarray:
    """When he came nearest to an edge, as numbers of times.

    At each place that is the nearest of its times, provided that he was further away at the places just before and just
    after: the others are the way there and back. So a straight along an edge is one approach, however long.

    Args:
        clear_m: how far within the edge he was at each time, metres, ``(n,)``.
        place: number of the place then, counted on lap after lap, ``(n,)``.
        near: whether he was near the course, ``(n,)``; other times take no part.
    """
    ranked = np.lexsort((clear_m, place))
    ranked = ranked[near[ranked]]
    starts = np.concatenate([[True], np.diff(place[ranked]) != 0])
    nearest = ranked[starts]
    clear = clear_m[nearest]
    follows = np.diff(place[nearest]) == 1
    nearer_than_next, nearer_than_last = clear[:-1] <= clear[1:], clear[1:] < clear[:-1]
    approach = np.ones(len(nearest), dtype=bool)
    approach[:-1] &= nearer_than_next | ~follows
    approach[1:] &= nearer_than_last | ~follows
    return nearest[approach]
