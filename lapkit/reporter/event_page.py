"""The summary after the event: who to talk to, who ran inside the seam, which corner troubles most."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import pandas as pd

from lapkit.course.course import Corner
from lapkit.findings import Finding, Kind
from lapkit.findings.sentences import SHORT
from lapkit.reporter import display, words
from lapkit.reporter.between import Row, change_rows, side_by_side, usual_laps
from lapkit.reporter.figures import corner_icon, course_map, svg_of
from lapkit.reporter.page import render
from lapkit.reporter.review_types import EventReview, RiderReview
from lapkit.units import Units

_FEW = 4


@dataclass(frozen=True)
class Cell:
    """A cell of the seam table; ``much`` when it is more than half of the laps."""

    text: str
    much: bool = False


def event_page(
    event: EventReview,
    *,
    units: str,
    links: Mapping[str, str],
    changes: Mapping[str, Sequence[Row]] | None = None,
) -> str:
    """The event's page, complete in itself.

    Args:
        event: what to show.
        units: ``metric`` or ``us``.
        links: rider → file name of his page.
        changes: rider → what :func:`~lapkit.reporter.between.change_rows` gave; worked out when None.
    """
    shown = Units.named(units)
    if changes is None:
        changes = {r.rider: change_rows(r, shown) for r in event.riders}
    usual = [(r, usual_laps(r)) for r in event.riders]
    seamed = [c for c in event.course.corners if c.seams]
    drawn = svg_of(
        course_map(event.course, shown),
        "map-",
        "The course",
        "The course and its corners, north up.",
    )
    return render(
        "event.html.j2",
        title=f"{event.title or 'Event'} – summary",
        version=event.provenance.get("version", ""),
        heading=event.title or "Event",
        facts=_facts(event, shown),
        map=drawn,
        corners=[
            {
                "name": words.corner_name(c.name),
                "turn": str(c.turn),
                "icon": corner_icon(event.course, c),
            }
            for c in event.course.corners
        ],
        riders=[_rider(r, links) for r in _urgent_first(event.riders)],
        seam_head=[words.corner_name(c.name) for c in seamed],
        seam_rows=_seams(event, seamed, links),
        troubles=_troubles(event),
        changes=[(r.rider, *row) for r in event.riders for row in changes[r.rider]],
        tables=[
            (words.corner_name(c.name), *side_by_side(usual, c, shown))
            for c in event.course.corners
        ],
        unusable=[(u.rider, u.session, u.file, u.reason) for u in event.unusable],
        logs=_logs(event, shown),
        notes=[*event.notes, *([words.LEFT_OUT] if event.course.found else [])],
    )


def _facts(event: EventReview, units: Units) -> list[str]:
    laps = event.tables["laps"]
    timed = int((laps["kind"].astype(str) == "timed").sum())
    start = laps["start_utc"].dropna().astype(str)
    when = [display.date_text(start.min())] if len(start) else []
    riders = f"{len(event.riders)} rider{'' if len(event.riders) == 1 else 's'}"
    return [*when, riders, f"{timed} timed laps", units.words]


def _first(rider: RiderReview) -> Finding | None:
    return next((f for f in rider.findings if f.kind == Kind.WORK), None)


def _urgent_first(riders: tuple[RiderReview, ...]) -> list[RiderReview]:
    """Riders with something to work on: habits before lapses, surest and most often seen in front."""

    def key(rider: RiderReview) -> tuple[bool, bool, float]:
        work = _first(rider)
        if work is None:
            return True, True, 0.0
        return False, not work.habit, -work.p * work.laps_seen / max(work.laps_counted, 1)

    return sorted(riders, key=key)


def _rider(rider: RiderReview, links: Mapping[str, str]) -> dict[str, Any]:
    work = _first(rider)
    return {
        "name": rider.rider,
        "group": rider.group,
        "link": links.get(rider.rider, ""),
        "corner": words.corner_name(work.corner) if work else "",
        "text": work.text if work else "Nothing stands out.",
        "more": [
            f"{words.corner_name(f.corner)}: {SHORT.get(f.code, f.text)}"
            for f in rider.findings
            if f.kind == Kind.MIND
        ],
    }


def _seams(
    event: EventReview, corners: list[Corner], links: Mapping[str, str]
) -> list[tuple[str, str, list[Cell]]]:
    """Riders × corners for the innermost seam, each cell in words and a number."""
    laps = event.tables["laps"]
    timed = laps.loc[laps["kind"].astype(str) == "timed", ["rider", "session", "lap"]]
    seams = event.tables["seams"].merge(timed, on=["rider", "session", "lap"])
    calls: dict[tuple[str, str, str], Counter[str]] = {}
    for row in seams.itertuples():
        key = str(row.rider), str(row.corner), str(row.seam)
        calls.setdefault(key, Counter())[str(row.call)] += 1
    return [
        (
            rider.rider,
            links.get(rider.rider, ""),
            [
                _seam_cell(calls.get((rider.rider, c.name, c.seams[0].name), Counter()))
                for c in corners
            ],
        )
        for rider in event.riders
    ]


def _seam_cell(calls: Counter[str]) -> Cell:
    count = sum(calls.values())
    if not count:
        return Cell("not ridden")
    inside, outside, unclear = calls["inside"], calls["outside"], calls["unclear"]
    parts = []
    if inside:
        parts.append(f"inside {inside}\N{NO-BREAK SPACE}of\N{NO-BREAK SPACE}{count}")
    elif outside:
        parts.append(f"outside {outside}\N{NO-BREAK SPACE}of\N{NO-BREAK SPACE}{count}")
    if unclear:
        parts.append(f"too close to call {unclear}")
    return Cell(", ".join(parts), much=2 * inside > count)


def _troubles(event: EventReview) -> list[tuple[str, str, str, str]]:
    """Corners by how many riders have a habit there, and what it is."""
    rows = []
    for corner in event.course.corners:
        said = [
            (r.rider, f)
            for r in event.riders
            for f in r.findings
            if f.corner == corner.name and f.kind != Kind.WELL and f.habit
        ]
        if not said:
            continue
        riders = list(dict.fromkeys(name for name, _ in said))
        does: dict[str, list[str]] = {}
        for name, finding in said:
            names = does.setdefault(_short(finding.code, finding.marker), [])
            if name not in names:
                names.append(name)
        counts = Counter({what: len(names) for what, names in does.items()})
        told = "; ".join(f"{what}: {_who(does[what])}" for what, _ in counts.most_common())
        look = ""
        if len(event.riders) > 2 and 2 * max(counts.values()) > len(event.riders):
            look = "More than half do the same here: look at the cone before the riders."
        rows.append((len(riders), words.corner_name(corner.name), told, look))
    rows.sort(key=lambda row: -row[0])
    return [
        (name, f"{n} of {len(event.riders)} riders", what, look) for n, name, what, look in rows
    ]


def _who(riders: list[str]) -> str:
    return ", ".join(riders) if len(riders) <= _FEW else f"{len(riders)} riders"


def _short(code: str, marker: str) -> str:
    what = SHORT.get(code, code.replace("_", " "))
    return f"{what} ({marker})" if marker and marker not in what else what


def _logs(event: EventReview, units: Units) -> list[tuple[str, ...]]:
    logs: pd.DataFrame = event.tables["logs"]
    return [
        (
            str(r.rider),
            str(r.session),
            words.VERDICTS.get(str(r.verdict), str(r.verdict)),
            words.log_words(r, units),
        )
        for r in logs.itertuples()
    ]
