"""What a season is asked: how a rider rode each corner, what changed after which event, who has trouble."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path

from lapkit.counting import corner_name
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
)
from lapkit.season.asked import FEWEST_LAPS, Asked
from lapkit.season.file import opened
from lapkit.season.habit_changes import Attended, habit_changes
from lapkit.season.marker_lines import other_lines
from lapkit.season.trouble import troubles


def ask(season: Path, *, rider: str | None = None, corner: str | None = None) -> Answers:
    """Everything the season says, of one rider or one corner when they are named.

    Raises:
        SeasonError: the file cannot be used.
        OptionError: the season has no such rider or corner.
    """
    with opened(season) as file:
        rider, corner = _known(file, "rider", rider), _known(file, "corner", corner)
        asked = Asked(file, rider, corner)
        named = rider is not None or corner is not None
        return Answers(
            rider=rider,
            corner=corner,
            events=tuple(_events(asked)),
            ridden=tuple(_ridden(asked)) if named else (),
            changes=tuple(_changes(asked)),
            trouble=tuple(troubles(asked)),
            habit_changes=tuple(_habit_changes(asked)),
        )


def _known(file: sqlite3.Connection, kind: str, name: str | None) -> str | None:
    """The rider or corner of that name, which may also be given as pages call it: ``Corner 3``; None for None."""
    if name is None:
        return None
    order = "MIN(corner_order), corner" if kind == "corner" else kind
    question = f"SELECT {kind} FROM rider_corner_event GROUP BY {kind} ORDER BY {order}"
    names = [row[0] for row in file.execute(question)]
    called = {corner_name(one).casefold(): one for one in names} if kind == "corner" else {}
    known = name if name in names else called.get(name.casefold())
    if known is None:
        raise no_such(kind, name, names, begins="the season has")
    return known


def _events(asked: Asked) -> Iterable[Event]:
    courses, other_line = asked.courses(), other_lines(asked)
    rows = asked.file.execute(
        "SELECT event_id, place, title, day, course, COUNT(DISTINCT rider) AS riders "
        "FROM season_events LEFT JOIN corner_summary USING (event_id) "
        "GROUP BY event_id ORDER BY place"
    )
    for row in rows:
        yield Event(
            place=row["place"],
            title=row["title"],
            day=row["day"],
            course=courses[row["course"]],
            riders=row["riders"],
            other_line=other_line.get(row["event_id"], ()),
        )


def _ridden(asked: Asked) -> Iterable[Ridden]:
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


def _changes(asked: Asked) -> list[Change]:
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


def _habit_changes(asked: Asked) -> list[HabitChange]:
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
    found = habit_changes(attended, asked.habits_told(), FEWEST_LAPS)
    return sorted(found, key=lambda each: (each.after_place, each.seen_place))
