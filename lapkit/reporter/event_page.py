"""The summary after the event: who to talk to, who ran inside the seam, which corner troubles most."""

from __future__ import annotations

from collections.abc import Mapping

import pandas as pd

from lapkit.findings import Finding, Kind
from lapkit.reporter import display
from lapkit.reporter.page import render
from lapkit.reporter.review_types import EventReview, RiderReview


def event_page(event: EventReview, *, units: str, links: Mapping[str, str]) -> str:
    """The event's page, complete in itself.

    Args:
        event: what to show.
        units: ``metric`` or ``us``.
        links: rider → file name of his page.
    """
    shown = display.Units(units)
    laps = event.tables["laps"]
    timed = int((laps["kind"].astype(str) == "timed").sum())
    start = laps["start_utc"].dropna().astype(str)
    when = f"{display.date_text(start.min())} · " if len(start) else ""
    return render(
        "event.html.j2",
        title=f"{event.title} – lapkit",
        version=event.provenance.get("version", ""),
        heading=event.title or "Event",
        subtitle=f"{when}{len(event.riders)} riders, {timed} timed laps",
        riders=[_rider(r, links) for r in _urgent_first(event.riders)],
        seam_head=("rider", *(c.name for c in event.course.corners if c.seams)),
        seam_rows=_seams(event),
        corners=_corners(event),
        runs=_runs(event, shown),
        unusable=[(u.rider, u.session, u.file, u.reason) for u in event.unusable],
    )


def _first(rider: RiderReview) -> Finding | None:
    return next((f for f in rider.findings if f.kind == Kind.WORK), None)


def _urgent_first(riders: tuple[RiderReview, ...]) -> list[RiderReview]:
    """Riders with something to work on, surest and most often seen in front."""

    def key(rider: RiderReview) -> tuple[int, float]:
        work = _first(rider)
        if work is None:
            return 1, 0.0
        return 0, -work.p * work.laps_seen / max(work.laps_counted, 1)

    return sorted(riders, key=key)


def _rider(rider: RiderReview, links: Mapping[str, str]) -> dict[str, str]:
    work = _first(rider)
    text = f"{work.corner}: {work.text}" if work else "nothing stands out."
    return {
        "name": rider.rider,
        "group": rider.group,
        "link": links.get(rider.rider, ""),
        "text": text,
    }


def _seams(event: EventReview) -> list[tuple[str, ...]]:
    """Riders × corners for the innermost seam, each cell in words and a number."""
    marked = [c for c in event.course.corners if c.seams]
    if not marked:
        return []
    seams = _timed(event, "seams")
    rows = []
    for rider in event.riders:
        cells = [rider.rider]
        for corner in marked:
            here = seams[
                (seams["rider"] == rider.rider)
                & (seams["corner"] == corner.name)
                & (seams["seam"] == corner.seams[0].name)
            ]
            cells.append(_seam_cell(here["call"].astype(str)))
        rows.append(tuple(cells))
    return rows


def _seam_cell(calls: pd.Series) -> str:
    if not len(calls):
        return "not ridden"
    inside, unclear = int((calls == "inside").sum()), int((calls == "unclear").sum())
    if unclear == len(calls):
        return f"too close to call, {unclear}"
    text = (
        f"inside {inside} of {len(calls)}"
        if inside
        else f"outside, {len(calls) - unclear} of {len(calls)}"
    )
    return f"{text}; {unclear} too close" if unclear and inside else text


def _timed(event: EventReview, name: str) -> pd.DataFrame:
    laps = event.tables["laps"]
    timed = laps.loc[laps["kind"].astype(str) == "timed", ["rider", "session", "lap"]]
    return event.tables[name].merge(timed, on=["rider", "session", "lap"])


def _corners(event: EventReview) -> list[tuple[str, str, str]]:
    rows = []
    for corner in event.course.corners:
        of_corner = [
            (r.rider, f)
            for r in event.riders
            for f in r.findings
            if f.corner == corner.name and f.kind != Kind.WELL and f.habit
        ]
        riders = dict.fromkeys(name for name, _ in of_corner)
        if riders:
            codes = pd.Series([f.code.replace("_", " ") for _, f in of_corner]).value_counts()
            what = ", ".join(f"{code} ({count})" for code, count in codes.items())
            rows.append((corner.name, f"{len(riders)}: {', '.join(riders)}", what))
    return sorted(rows, key=lambda row: -int(row[1].split(":")[0]))


def _runs(event: EventReview, units: display.Units) -> list[tuple[str, ...]]:
    corners = _timed(event, "corners")
    logs = event.tables["logs"].set_index(["rider", "session"])
    rows = []
    for (rider, session), run in corners.groupby(["rider", "session"], sort=False):
        ratio = display.share_text(float(run["exit_radius_ratio"].median()))
        lean = display.degrees_text(float(run["lean_max_deg"].median()), float("nan"), float("nan"))
        verdict = logs["verdict"].get((rider, session), "")
        verdict = verdict if isinstance(verdict, str) else str(verdict.iloc[0])
        rows.append((str(rider), str(session), str(run["lap"].nunique()), ratio, lean, verdict))
    return rows
