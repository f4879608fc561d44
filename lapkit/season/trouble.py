"""Which corner troubles whom over a season: by what he does there in more than half of his laps, or is told of."""

from __future__ import annotations

import sqlite3
from collections import Counter
from collections.abc import Sequence
from typing import NamedTuple

from lapkit.season.answers import Trouble
from lapkit.season.asked import FEWEST_LAPS, Asked

HABIT = 0.5
"""More than this share of a rider's laps makes what he does there a habit."""

_Whose = tuple[str, str, str]
"""Course, corner and rider."""


def troubles(asked: Asked) -> list[Trouble]:
    """A record for each corner that troubles a rider, those that trouble most riders first within a course."""
    courses, habits = asked.courses(), _habits_that_led(asked)
    lasts, told = _lasts(asked.file), asked.habits_told()
    found = []
    for row in asked.rows("trouble", order="corner_order, rider"):
        whose = row["course"], row["corner"], row["rider"]
        led = habits.get(whose, [])
        lasting = {what for what, events in led if events > HABIT * row["events"]}
        shares = [share for share in _SHARES if share.troubles(row)]
        if not lasting and not shares:
            continue
        last = lasts[whose]
        told_there = told.get((last["event_id"], row["corner"], row["rider"]), [])
        found.append(
            Trouble(
                corner=row["corner"],
                course=courses[row["course"]],
                rider=row["rider"],
                tightened=row["tightened"],
                tightened_counted=row["tightened_counted"],
                inside=row["inside"],
                called=row["called"],
                events=row["events"],
                habits=tuple(led),
                lately=_lately(last, shares, lasting, set(told_there)),
            )
        )
    riders = Counter((each.course, each.corner) for each in found)
    # Corners that trouble as many stay in riding order.
    return sorted(found, key=lambda each: (each.course, -riders[each.course, each.corner]))


def _lasts(file: sqlite3.Connection) -> dict[_Whose, sqlite3.Row]:
    """What was counted at each rider's last event, corner by corner."""
    rows = file.execute(
        """
        WITH lasts AS (
          SELECT course, corner, rider, event_id, MAX(place), radius_laps, tightened, tightened_counted
          FROM rider_corner_event GROUP BY course, corner, rider)
        SELECT lasts.*, COALESCE(SUM(s.inside), 0) AS inside,
          COALESCE(SUM(s.inside + s.outside), 0) AS called
        FROM lasts LEFT JOIN seam_summary AS s ON s.event_id = lasts.event_id
          AND s.corner = lasts.corner AND s.rider = lasts.rider AND s.counted
        GROUP BY course, lasts.corner, lasts.rider
        """
    )
    return {(row["course"], row["corner"], row["rider"]): row for row in rows}


class _Share(NamedTuple):
    """Two columns of a row: laps that did something, and laps that could be counted."""

    did: str
    of: str

    def is_habit(self, row: sqlite3.Row) -> bool:
        """Whether it was done in more than half of the laps."""
        return bool(row[self.did] > HABIT * row[self.of])

    def troubles(self, row: sqlite3.Row) -> bool:
        """Whether that is so of laps enough."""
        return self.is_habit(row) and row[self.of] >= FEWEST_LAPS


_SHARES = (_Share("tightened", "tightened_counted"), _Share("inside", "called"))
"""What makes a corner a trouble by its count of laps."""


def _lately(
    last: sqlite3.Row, shares: Sequence[_Share], lasting: set[str], told: set[str]
) -> bool | None:
    """Whether what troubles a rider over the season did so at his last event; None where that cannot be told.

    Args:
        last: what was counted there.
        shares: those that make it a trouble.
        lasting: habits that trouble him, in a few words.
        told: habits that he was told of there.
    """
    if lasting & told or any(share.is_habit(last) for share in shares):
        return True
    known = [last[share.of] for share in shares] + ([last["radius_laps"]] if lasting else [])
    return False if min(known) >= FEWEST_LAPS else None


def _habits_that_led(asked: Asked) -> dict[_Whose, list[tuple[str, int]]]:
    """Habits that led at one event at least, each with the number of events at which it was told; led most first."""
    found: dict[_Whose, list[tuple[str, int]]] = {}
    for row in asked.rows("rider_habits", "led", order="led DESC, events DESC, what"):
        whose = row["course"], row["corner"], row["rider"]
        found.setdefault(whose, []).append((row["what"], row["events"]))
    return found
