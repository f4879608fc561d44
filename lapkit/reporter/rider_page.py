"""The rider's page: what to work on first, then corner by corner, laps, logs, how to read it."""

from __future__ import annotations

from typing import Any

import pandas as pd

from lapkit.compare.results import CornerTrace
from lapkit.course.course import Corner, Course
from lapkit.findings import Finding, Kind
from lapkit.reporter import display
from lapkit.reporter.figures import along, overhead, straightened, svg_of
from lapkit.reporter.page import render
from lapkit.reporter.review_types import EventReview, RiderReview

_LEFT_OUT = (
    "There is no track file: the loop and its corners were found from the logs, so cones, seams, lanes and the "
    "marker line are left out, and corners are numbered from the start line."
)


def rider_page(event: EventReview, rider: RiderReview, *, units: str) -> str:
    """One rider's page, complete in itself.

    Args:
        event: course, notes and provenance.
        rider: whose page.
        units: ``metric`` or ``us``.
    """
    shown = display.Units(units)
    tables = {
        name: pd.concat([r.tables[name] for r in rider.runs], ignore_index=True)
        for name in ("laps", "corners", "markers", "seams", "logs")
    }
    traces = [t for run in rider.runs for t in run.traces]
    by_kind = {k: [f for f in rider.findings if f.kind == k] for k in Kind}
    work = next(iter(by_kind[Kind.WORK]), None)
    corners = [
        _corner(event.course, c, traces, rider, tables, shown, i)
        for i, c in enumerate(event.course.corners)
    ]
    picture, caption = _first_picture(event.course, work, traces, shown)
    timed = int((tables["laps"]["kind"].astype(str) == "timed").sum())
    return render(
        "rider.html.j2",
        title=f"{rider.rider} – lapkit",
        version=event.provenance.get("version", ""),
        rider=rider.rider,
        subtitle=_subtitle(event, rider, tables["laps"], timed),
        work=work,
        work_picture=picture,
        work_caption=caption,
        nothing=_nothing(event.course, timed),
        minds=by_kind[Kind.MIND],
        wells=by_kind[Kind.WELL],
        others=by_kind[Kind.OTHER],
        notes=[*event.notes, *([_LEFT_OUT] if event.course.found else [])],
        corners=corners,
        laps=_laps(tables["laps"], shown),
        logs=_logs(tables["logs"]),
    )


def _subtitle(event: EventReview, rider: RiderReview, laps: pd.DataFrame, timed: int) -> str:
    start = laps["start_utc"].dropna().astype(str)
    when = display.date_text(start.min()) if len(start) else ""
    parts = [event.title if event.title != rider.rider else "", rider.group, rider.bike, when]
    runs = f"{len(rider.runs)} {'run' if len(rider.runs) == 1 else 'runs'}, {timed} timed laps"
    return " · ".join([p for p in parts if p and p != display.EMPTY] + [runs])


def _nothing(course: Course, timed: int) -> str:
    if not timed:
        return "There is no whole lap from start line to start line in these logs."
    if course.marker_line is None:
        return "Without cones and a marker line there is nothing to hold the laps against; radius and lean are below."
    return "Nothing was off the coach’s line often enough and surely enough to be called."


def _spoken_of(findings: list[Finding], traces: list[CornerTrace]) -> tuple[str, int] | None:
    """The lap to bring forward: the one a finding shows, else the first."""
    for finding in findings:
        if any((t.session, t.lap) == (finding.session, finding.lap) for t in traces):
            return finding.session, finding.lap
    return (traces[0].session, traces[0].lap) if traces else None


def _first_picture(
    course: Course, work: Finding | None, traces: list[CornerTrace], units: display.Units
) -> tuple[Any, str]:
    corner = next((c for c in course.corners if work and c.name == work.corner), None)
    if corner is None:
        return None, ""
    here = [t for t in traces if t.corner == corner.name]
    spoken = _spoken_of([work], here)
    figure = overhead(course, corner, here, spoken, units)
    title = f"{corner.name} from above"
    return svg_of(
        figure, "first-", title, "Edges, seams, cones, marker line and every lap."
    ), _caption(spoken)


def _caption(spoken: tuple[str, int] | None) -> str:
    lap = f" Thick: run {spoken[0]}, lap {spoken[1]}." if spoken else ""
    return f"From above. Dashed: marker line. Grey: your laps.{lap}"


def _corner(
    course: Course,
    corner: Corner,
    traces: list[CornerTrace],
    rider: RiderReview,
    tables: dict[str, pd.DataFrame],
    units: display.Units,
    number: int,
) -> dict[str, Any]:
    here = [t for t in traces if t.corner == corner.name]
    findings = [f for f in rider.findings if f.corner == corner.name]
    spoken = _spoken_of(findings, here)
    of_corner = {
        n: t[t["corner"] == corner.name]
        for n, t in tables.items()
        if n in ("corners", "markers", "seams")
    }
    head = (
        "run",
        "lap",
        "tightest radius",
        "exit radius",
        "of the line’s",
        "largest lean",
        "in",
        "slowest",
        "out",
        "data",
    )
    name = corner.name if corner.name[:1].isalpha() else f"Corner {corner.name}"
    return {
        "id": f"corner-{number + 1}",
        "name": name,
        "turn": str(corner.turn),
        "cues": corner.cues,
        "hazards": corner.hazards,
        "findings": findings,
        "pictures": _pictures(course, corner, here, spoken, units, f"c{number}-"),
        "head": head,
        "rows": [_lap_row(r, units) for r in of_corner["corners"].itertuples()],
        "cone_head": ("run", "lap", "cone", "gap", "from the line", "lane", "speed", "lean"),
        "cones": [_cone_row(r, units) for r in of_corner["markers"].itertuples()],
        "seams": _seam_rows(of_corner["seams"]),
    }


def _pictures(
    course: Course,
    corner: Corner,
    here: list[CornerTrace],
    spoken: tuple[str, int] | None,
    units: display.Units,
    mark: str,
) -> list[dict[str, Any]]:
    """The corner's three drawings with their captions; none where no lap can be drawn."""
    drawings = (
        ("a-", overhead, f"{corner.name} from above", _caption(spoken)),
        (
            "s-",
            straightened,
            f"{corner.name} straightened",
            "Straightened: metres along, inside below. The band is where the thick lap may have been.",
        ),
        (
            "r-",
            along,
            f"Radius and lean along {corner.name}",
            "Radius (up is more open) and lean. Dotted uprights: turn-in, apex cones and exit.",
        ),
    )
    return [
        {
            "svg": svg_of(draw(course, corner, here, spoken, units), mark + key, title, caption),
            "caption": caption,
        }
        for key, draw, title, caption in drawings
        if here
    ]


def _lap_row(r: Any, units: display.Units) -> tuple[str, ...]:
    return (
        str(r.session),
        str(r.lap),
        display.radius_text(r.radius_min_m, r.radius_min_lo_m, r.radius_min_hi_m, units),
        display.radius_text(
            r.exit_radius_min_m, r.exit_radius_min_lo_m, r.exit_radius_min_hi_m, units
        ),
        display.share_text(r.exit_radius_ratio),
        display.degrees_text(r.lean_max_deg, r.lean_max_lo_deg, r.lean_max_hi_deg),
        display.speed_text(r.entry_speed_mps, units),
        display.speed_text(r.slowest_mps, units),
        display.speed_text(r.exit_speed_mps, units),
        str(r.quality),
    )


def _cone_row(r: Any, units: display.Units) -> tuple[str, ...]:
    return (
        str(r.session),
        str(r.lap),
        str(r.marker),
        display.gap_text(r.gap_m, r.gap_lo_m, r.gap_hi_m, units),
        display.wide_text(r.wide_of_line_m, units),
        f"{int(r.lane)}" if display.known(r.lane) else display.EMPTY,
        display.speed_text(r.speed_mps, units),
        display.degrees_text(r.lean_deg, r.lean_lo_deg, r.lean_hi_deg),
    )


def _seam_rows(seams: pd.DataFrame) -> list[tuple[str, str]]:
    rows = []
    for seam, of_seam in seams.groupby("seam", sort=False):
        calls = of_seam["call"].astype(str).value_counts()
        words = [
            f"{calls[c]} laps {w}"
            for c, w in (
                ("inside", "inside"),
                ("outside", "outside"),
                ("unclear", "too close to call"),
            )
            if c in calls
        ]
        rows.append((str(seam), ", ".join(words)))
    return rows


def _laps(laps: pd.DataFrame, units: display.Units) -> list[tuple[str, ...]]:
    return [
        (
            str(r.session),
            str(r.lap),
            str(r.kind),
            display.clock_text(r.time_s),
            display.length_text(r.distance_m, units),
            "" if pd.isna(r.note) else str(r.note),
        )
        for r in laps.itertuples()
    ]


def _logs(logs: pd.DataFrame) -> list[dict[str, str]]:
    sources = {
        "hold_point": "Position was set by the stops at the hold point",
        "base_log": "Position was set by the base log",
        "edges": "Position was held between the track’s edges only",
        "none": "Nothing told the receiver’s position offset, so most seam calls are too close to call",
    }
    rows = []
    for r in logs.itertuples():
        velocity = "with velocity" if r.has_velocity else "positions only"
        words = f"{r.rate_hz:.0f} fixes a second, {velocity}. {sources.get(str(r.offset_from), '')} (within about {2 * r.position_sd_m:.1f} m). {r.note}"
        rows.append({"session": str(r.session), "verdict": str(r.verdict), "text": words})
    return rows
