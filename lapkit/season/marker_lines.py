"""Where the marker line of a course was another than at its event before: what changed there may come of the cones."""

from __future__ import annotations

from collections.abc import Mapping
from itertools import groupby
from typing import NamedTuple

from lapkit.season.asked import Asked

_OTHER_RADIUS = 0.05
"""A line whose radius at the exit differs by more than this share is another one. An exit counts as tightened below nine
tenths of the line's, so half of that may change what riders are told (our choice)."""


class _Line(NamedTuple):
    """What the season knows of a marker line at a corner: its radius at the exit, and the seam that is counted there."""

    exit_radius_m: float | None
    counted_seam: int | None

    def is_other_than(self, before: _Line) -> bool:
        """Whether it clearly is another line; not where either is unknown."""
        now_m, then_m = self.exit_radius_m, before.exit_radius_m
        if now_m is None or then_m is None:
            return False
        return self.counted_seam != before.counted_seam or (
            abs(now_m - then_m) > _OTHER_RADIUS * then_m
        )


def other_lines(asked: Asked) -> Mapping[int, tuple[str, ...]]:
    """Event → corners asked for at which the marker line was another than at the course's event before, in riding order.

    A line moved sideways, with the radius it had and on the same side of every seam, is not seen.
    """
    rows = asked.file.execute(_LINES, {"corner": asked.corner})
    found: dict[int, tuple[str, ...]] = {}
    for _, of_course in groupby(rows, key=lambda row: row["course"]):
        before: dict[str, _Line] = {}
        for event, corners in groupby(of_course, key=lambda row: row["event_id"]):
            lines = {
                row["corner"]: _Line(row["exit_radius_m"], row["counted_seam"]) for row in corners
            }
            found[event] = tuple(
                corner
                for corner, line in lines.items()
                if corner in before and line.is_other_than(before[corner])
            )
            before = lines
    return found


_LINES = """
SELECT e.course, e.event_id, c.corner,
  (SELECT l.exit_radius_min_m / l.exit_radius_ratio FROM corners AS l
   WHERE l.event_id = c.event_id AND l.corner = c.corner AND l.exit_radius_ratio > 0.0 LIMIT 1) AS exit_radius_m,
  (SELECT MIN(s.seam_order) FROM seam_summary AS s
   WHERE s.event_id = c.event_id AND s.corner = c.corner AND s.counted) AS counted_seam
FROM event_corners AS c JOIN season_events AS e USING (event_id)
WHERE :corner IS NULL OR c.corner = :corner
ORDER BY e.course, e.place, c.corner_order
"""
"""The marker line at every corner of every event. All laps of an event are measured against the same one."""
