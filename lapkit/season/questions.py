"""What a season is asked: how a rider rode each corner, what changed after which event, who has trouble."""

from __future__ import annotations

import sqlite3
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import NamedTuple

from lapkit.errors import no_such
from lapkit.season.answers import (
    Answers,
    Change,
    Changed,
    Event,
    HabitChange,
    Median,
    Ridden,
    SeamCalls,
    Trouble,
)
from lapkit.season.habit_changes import Attended, habit_changes
from lapkit.season.store import opened

HABIT = 0.5
"""More than this share of a rider's laps makes what he does there a habit."""

FEWEST_LAPS = 5
"""Of fewer laps than this no habit is told."""

_Whose = tuple[str, str, str]
"""Course, corner and rider."""


def ask(season: Path, *, rider: str | None = None, corner: str | None = None) -> Answers:
    """Everything the season says, of one rider or one corner when they are named.

    Raises:
        SeasonError: the file cannot be used.
        OptionError: the season has no such rider or corner.
    """
    with opened(season) as file:
        for kind, name in (("rider", rider), ("corner", corner)):
            if name is not None:
                _must_be_there(file, kind, name)
        asked = _Asked(file, rider, corner)
        named = rider is not None or corner is not None
        return Answers(
            rider=rider,
            corner=corner,
            events=tuple(_events(file)),
            ridden=tuple(_ridden(asked)) if named else (),
            changes=tuple(_changes(asked)),
            trouble=tuple(_trouble(asked)),
            habit_changes=tuple(_habit_changes(asked)),
        )


def _must_be_there(file: sqlite3.Connection, kind: str, name: str) -> None:
    order = "MIN(corner_order), corner" if kind == "corner" else kind
    question = f"SELECT {kind} FROM rider_corner_event GROUP BY {kind} ORDER BY {order}"
    names = [row[0] for row in file.execute(question)]
    if name not in names:
        raise no_such(kind, name, names, begins="the season has")


@dataclass(frozen=True)
class _Asked:
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


def _courses(file: sqlite3.Connection) -> dict[str, int]:
    """Courses with their numbers from 1, in the order first ridden."""
    rows = file.execute("SELECT course FROM season_events GROUP BY course ORDER BY MIN(place)")
    return {row[0]: number for number, row in enumerate(rows, 1)}


def _events(file: sqlite3.Connection) -> Iterable[Event]:
    courses = _courses(file)
    rows = file.execute(
        "SELECT place, title, start_utc, course, COUNT(DISTINCT rider) AS riders "
        "FROM season_events LEFT JOIN corner_summary USING (event_id) "
        "GROUP BY event_id ORDER BY place"
    )
    for row in rows:
        number = courses[row["course"]]
        yield Event(row["place"], row["title"], row["start_utc"], number, row["riders"])


def _ridden(asked: _Asked) -> Iterable[Ridden]:
    seams: dict[tuple[str, str, int], list[SeamCalls]] = {}
    for row in asked.rows("seam_calls", order="seam_order"):
        laps = row["inside"], row["outside"], row["unclear"]
        calls = SeamCalls(row["seam"], *laps, bool(row["counted"]))
        seams.setdefault((row["rider"], row["corner"], row["place"]), []).append(calls)
    habits = {
        (row["rider"], row["corner"], row["event_id"]): row["what"]
        for row in asked.rows("habits", "story_order = 0")
    }
    for row in asked.rows("rider_corner_event", order="course, corner_order, rider, place"):
        yield Ridden(
            rider=row["rider"],
            corner=row["corner"],
            turn=row["turn"],
            place=row["place"],
            laps=row["laps"],
            radius_m=Median(row["radius_min_m"], row["radius_min_lo_m"], row["radius_min_hi_m"]),
            lean_deg=Median(row["lean_max_deg"], row["lean_max_lo_deg"], row["lean_max_hi_deg"]),
            tightened=row["tightened"],
            tightened_counted=row["tightened_counted"],
            habit=habits.get((row["rider"], row["corner"], row["event_id"]), ""),
            seams=tuple(seams.get((row["rider"], row["corner"], row["place"]), ())),
        )


def _changes(asked: _Asked) -> list[Change]:
    found: list[tuple[int, Change]] = []  # each with its corner's place in riding order
    for row in asked.rows("changes", "(radius_clear OR lean_clear OR tightened_clear)"):
        changes = []
        if row["radius_clear"]:
            changes.append(_change(row, Changed.RADIUS, "radius_before_m", "radius_after_m"))
        if row["lean_clear"]:
            changes.append(_change(row, Changed.LEAN, "lean_before_deg", "lean_after_deg"))
        if row["tightened_clear"]:
            change = _change(row, Changed.TIGHTENED, "tightened_before", "tightened_after")
            of = row["counted_before"], row["counted_after"]
            changes.append(replace(change, before_of=of[0], after_of=of[1]))
        found += [(row["corner_order"], change) for change in changes]
    for row in asked.rows("seam_changes", "inside_clear"):
        change = _change(row, Changed.INSIDE, "inside_before", "inside_after")
        of = row["called_before"], row["called_after"]
        inside = replace(change, before_of=of[0], after_of=of[1], seam=row["seam"])
        found.append((row["corner_order"], inside))
    found.sort(key=lambda f: (f[1].after_place, f[1].seen_place, f[0], f[1].rider))
    return [change for _, change in found]


def _change(row: sqlite3.Row, what: Changed, before: str, after: str) -> Change:
    """A change from its row of a view, with the columns that hold its value before and after."""
    return Change(
        rider=row["rider"],
        corner=row["corner"],
        after_place=row["after_place"],
        seen_place=row["seen_place"],
        what=what,
        before=row[before],
        after=row[after],
    )


def _told_by_event(asked: _Asked) -> dict[tuple[int, str, str], list[str]]:
    """(event, corner, rider) → the habits he was told of there, what led first."""
    told: dict[tuple[int, str, str], list[str]] = {}
    for row in asked.rows("habits", order="story_order"):
        told.setdefault((row["event_id"], row["corner"], row["rider"]), []).append(row["what"])
    return told


def _habit_changes(asked: _Asked) -> list[HabitChange]:
    attended = (
        Attended(
            course=row["course"],
            corner=row["corner"],
            rider=row["rider"],
            place=row["place"],
            event=row["event_id"],
            laps=row["radius_laps"],
        )
        for row in asked.rows("rider_corner_event", order="course, corner_order, rider, place")
    )
    found = habit_changes(attended, _told_by_event(asked), FEWEST_LAPS)
    return sorted(found, key=lambda each: (each.after_place, each.seen_place))


def _habits_that_led(asked: _Asked) -> dict[_Whose, list[tuple[str, int]]]:
    """Habits that led at one event at least, each with the number of events at which it was told; led most first."""
    found: dict[_Whose, list[tuple[str, int]]] = {}
    for row in asked.rows("rider_habits", "led", order="led DESC, events DESC, what"):
        whose = row["course"], row["corner"], row["rider"]
        found.setdefault(whose, []).append((row["what"], row["events"]))
    return found


def _trouble(asked: _Asked) -> list[Trouble]:
    courses, habits = _courses(asked.file), _habits_that_led(asked)
    lasts, told = _lasts(asked.file), _told_by_event(asked)
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
