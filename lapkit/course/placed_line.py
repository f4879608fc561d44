"""A line beside the reference: where it passes a station, and the radius it holds over 10 m between two stations.

This is the one place where the radius of a marker line is computed: for ``line.csv``, for the corner sheets, and for
the line that riders are compared with.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from lapkit.arrays import FloatArray
from lapkit.course.course import Corner
from lapkit.course.stations import StationLine, growing
from lapkit.curvature import HELD_OVER_M, radius_m

_STEP_M = 0.5  # between stretches, besides those with an end at a point of the line
_AS_TIGHT = 1e-3  # share of the largest curvature that counts as equal: nobody can tell 3 cm in a radius of 30 m


@dataclass(frozen=True, eq=False)
class HeldStretches:
    """Stretches of 10 m of a line within one phase (the whole phase if it is shorter); arrays ``(n,)``.

    ``middle_m`` is the middle of each in metres of line from turn-in, ``station_m`` the reference's station there, and
    ``curvature_1pm`` the curvature held over the stretch, positive into the turn.
    """

    middle_m: FloatArray
    station_m: FloatArray
    curvature_1pm: FloatArray

    def tightest(self) -> tuple[float, float]:
        """The smallest radius held and the middle of its stretch, metres; infinite where nothing turns in."""
        most = np.max(self.curvature_1pm)
        # A line of largest radius holds it over much of the corner, so this is the middle of that.
        places = self.middle_m[self.curvature_1pm >= most - _AS_TIGHT * abs(most)]
        return float(radius_m(np.maximum(most, 0.0))), float(places[len(places) // 2])


@dataclass(frozen=True, eq=False)
class PlacedLine:
    """A line beside the reference.

    Attributes:
        line: the line.
        station_m, along_m: stations of its points along the reference and along itself, metres, ``(n,)`` each.
        offset_m: offsets of its points from the reference, metres, left positive, ``(n,)``.
        round_m: length of a lap of the reference, metres; None on an open course.
    """

    line: StationLine
    station_m: FloatArray
    along_m: FloatArray
    offset_m: FloatArray
    round_m: float | None

    @classmethod
    def on(cls, reference: StationLine, line: StationLine) -> PlacedLine:
        """Place a line beside the reference; it must run in the same direction."""
        station, offset = reference.follow(line.x_m, line.y_m)
        ahead = growing(station)
        along = line.station_m[ahead]
        return cls(line, station[ahead], along, offset[ahead], reference.period_m)

    def beside(self, station_m: FloatArray) -> np.ndarray:
        """Whether the line, which may be drawn in part, runs beside stations of the reference, any shape."""
        return self.line.closed | self._within(self._behind_start(station_m))

    def passes(self, from_m: float, to_m: float) -> bool:
        """Whether the line runs all the way between two stations, of which the second may count on past a lap's end."""
        begin = self._behind_start(from_m)
        return bool(self.line.closed or (self._within(begin) & self._within(begin + to_m - from_m)))

    def _behind_start(self, station_m: FloatArray | float) -> FloatArray:
        """How far stations lie beyond the line's first point, metres, any shape."""
        way = np.asarray(station_m) - self.station_m[0]
        return way if self.round_m is None else np.mod(way, self.round_m)

    def _within(self, behind_start_m: FloatArray) -> np.ndarray:
        reach = self.station_m[-1] - self.station_m[0]
        return (behind_start_m >= 0.0) & (behind_start_m <= reach)

    def along(self, station_m: float) -> float:
        """Metres along the line where it passes a station of the reference."""
        if self.round_m is None:
            return float(np.interp(station_m, self.station_m, self.along_m))
        laps, rest = np.divmod(station_m - self.station_m[0], self.round_m)
        along = np.interp(self.station_m[0] + rest, self.station_m, self.along_m)
        return float(along + (laps * self.line.length_m if self.line.closed else 0.0))

    def held(self, corner: Corner, from_m: float, to_m: float) -> HeldStretches:
        """The stretches of 10 m between two stations of a corner."""
        turn_in, first, last = (self.along(s) for s in (corner.turn_in_m, from_m, to_m))
        length = min(HELD_OVER_M, last - first)
        start = self._starts(first, last, length)
        turned = self.line.heading_at(start + length) - self.line.heading_at(start)
        share = (start + 0.5 * length - first) / (last - first)
        return HeldStretches(
            middle_m=start + 0.5 * length - turn_in,
            station_m=from_m + share * (to_m - from_m),
            curvature_1pm=corner.turn.sign * turned / length,
        )

    def _starts(self, first: float, last: float, length: float) -> FloatArray:
        """Where stretches of a length begin between two distances, metres along the line.

        They begin every half metre, and wherever one can be the tightest: heading is linear from point to point of the
        line, so the angle that a stretch turns through has its extremes where one of its ends is at such a point.
        """
        count = max(int(np.ceil((last - first - length) / _STEP_M)), 0)
        even = np.linspace(first, last - length, count + 1)
        step = self.line.step_m
        points = step * np.arange(np.ceil(first / step), np.floor(last / step) + 1.0)
        bent = np.concatenate([points, points - length])
        return np.unique(np.concatenate([even, bent[(bent > first) & (bent < last - length)]]))
