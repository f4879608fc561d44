"""What a season is asked: its file, and the one rider and the one corner that the questions are about."""

from __future__ import annotations

import sqlite3
from dataclasses import dataclass

FEWEST_LAPS = 5
"""Fewer laps than this, of one event or counted over all, show neither a habit nor that one was given up (our choice).

The habits that pages told of are taken as they were told, and pages ask for fewer laps.
"""


@dataclass(frozen=True)
class Asked:
    """A season, and the one rider and the one corner that it is asked about; None for all of them."""

    file: sqlite3.Connection
    rider: str | None
    corner: str | None

    def rows(self, source: str, also: str = "1", *, order: str = "") -> sqlite3.Cursor:
        """Rows of a table or view that are of the rider and the corner asked for.

        Args:
            source: its name; it has the columns ``rider`` and ``corner``.
            also: another condition, as SQL.
            order: what to order by, as SQL; as SQLite finds them when empty.
        """
        names = {"rider": self.rider, "corner": self.corner}
        known = {column: name for column, name in names.items() if name is not None}
        where = " AND ".join([*(f"{column} = :{column}" for column in known), also])
        question = f"SELECT * FROM {source} WHERE {where}"
        return self.file.execute(f"{question} ORDER BY {order}" if order else question, known)

    def courses(self) -> dict[str, int]:
        """Courses with their numbers from 1, in the order first ridden."""
        rows = self.file.execute(
            "SELECT course FROM season_events GROUP BY course ORDER BY MIN(place)"
        )
        return {row[0]: number for number, row in enumerate(rows, 1)}

    def habits_told(self) -> dict[tuple[int, str, str], list[str]]:
        """(event, corner, rider) → his habits there in a few words, as his page told him, the leading one first."""
        told: dict[tuple[int, str, str], list[str]] = {}
        for row in self.rows("habits", order="story_order"):
            told.setdefault((row["event_id"], row["corner"], row["rider"]), []).append(row["what"])
        return told
