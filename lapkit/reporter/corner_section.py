"""A corner's section of the rider's page: pictures, and the tables under them."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

import pandas as pd
from markupsafe import Markup
from matplotlib.figure import Figure

from lapkit.compare.quality import Quality
from lapkit.compare.results import CornerTrace
from lapkit.compare.standard import Standard, standards
from lapkit.course.course import Corner, Course
from lapkit.course.types import MarkerKind
from lapkit.findings import Finding
from lapkit.reporter import display, words
from lapkit.reporter.figures import along, corner_icon, overhead, straightened, svg_of
from lapkit.reporter.figures.along import leaves_the_panels
from lapkit.reporter.figures.style import Spoken
from lapkit.reporter.page import data_block
from lapkit.reporter.readings import readings
from lapkit.units import Units

_MOST_CONES = 3
_SHARE = "exit, share of the line’s"


@dataclass(frozen=True)
class Picture:
    """A picture with its caption and the table under it.

    ``main`` are the heads of the columns that a small screen shows first. ``own`` is what the caption begins
    with that no other corner's has: on paper the rest stands once.
    """

    kind: str
    svg: Markup
    caption: str
    label: str
    head: tuple[str, ...] = ()
    rows: tuple[tuple[str, ...], ...] = ()
    main: tuple[str, ...] = ()
    own: str = ""


def corner_section(
    course: Course,
    corner: Corner,
    number: int,
    findings: Sequence[Finding],
    traces: Sequence[CornerTrace],
    tables: Mapping[str, pd.DataFrame],
    units: Units,
) -> dict[str, Any]:
    """What the template needs for one corner.

    Args:
        course, corner: where.
        number: of the corner on the course, from 0.
        findings: of this rider at this corner, most urgent first.
        traces: his laps through it.
        tables: his rows of the contract's tables for it, timed laps only.
        units: what he reads.
    """
    spoken = _spoken_of(findings)
    standard = standards(course)[corner.name]
    measured = _measured(traces, tables["corners"])
    return {
        "id": f"corner-{number + 1}",
        "name": words.corner_name(corner.name),
        "turn": str(corner.turn),
        "icon": corner_icon(course, corner),
        "facts": words.corner_facts(corner, standard.exit_radius_m, units),
        "cues": corner.cues,
        "hazards": corner.hazards,
        "findings": findings,
        "pictures": _pictures(course, corner, number, findings, measured, tables, units)
        if measured
        else _places_alone(course, corner, number, traces, units),
        "data": data_block(readings(corner, measured, spoken, units)) if measured else None,
    }


def _measured(traces: Sequence[CornerTrace], corners: pd.DataFrame) -> list[CornerTrace]:
    """Laps whose radius and lean at the corner are known; what a coarse log bends in between is invented."""
    known = corners[corners["quality"] != Quality.POOR]
    kept = set(zip(known["session"].astype(str), known["lap"], strict=True))
    return [t for t in traces if (t.session, t.lap) in kept]


def _spoken_of(findings: Sequence[Finding]) -> Spoken:
    """The lap to bring forward: that of the most urgent finding."""
    return (findings[0].session, findings[0].lap) if findings else None


def _pictures(
    course: Course,
    corner: Corner,
    number: int,
    findings: Sequence[Finding],
    traces: Sequence[CornerTrace],
    tables: Mapping[str, pd.DataFrame],
    units: Units,
) -> list[Picture]:
    """The corner from above, pulled straight, and along its metres; each with what its table holds."""
    name, standard = words.corner_name(corner.name), standards(course)[corner.name]
    runs = list(dict.fromkeys(t.session for t in traces))
    above = words.picture_caption(findings, runs, standard.line is not None)
    bend = _BARE
    if standard.line is not None:
        bend = _BEND.format(lap="the thick lap" if findings else "the latest lap")
    own = words.thick_lap(findings[0]) if findings else ""
    other_way = _OTHER_WAY if leaves_the_panels(corner, traces) else ""

    def picture(
        kind: str, draw: Callable[..., Figure], title: str, caption: str, table: Table, own: str
    ) -> Picture:
        figure = draw(course, corner, traces, _spoken_of(findings), units)
        svg = svg_of(figure, f"c{number + 1}{kind}-", title, caption)
        return Picture(kind, svg, caption, _TABLES[kind], *table, own)

    cones, lanes = _cones(corner, tables, units), _lanes(standard, tables, units)
    laps, through = _laps(corner, tables, units), f"Radius and lean through {name}"
    bend = f"{other_way} {bend}".strip()
    return [
        picture("plan", overhead, f"{name} from above", above, cones, own),
        picture("line", straightened, f"{name} pulled straight", _STRAIGHT, lanes, ""),
        picture("bend", along, through, bend, laps, other_way),
    ]


def _places_alone(
    course: Course, corner: Corner, number: int, traces: Sequence[CornerTrace], units: Units
) -> list[Picture]:
    """Where laps too coarsely logged for radius and lean may have run; without tables of dashes."""
    name, lined = words.corner_name(corner.name), standards(course)[corner.name].line is not None
    above = words.picture_caption((), list(dict.fromkeys(t.session for t in traces)), lined)
    drawn = (
        ("plan", overhead, f"{name} from above", above),
        ("line", straightened, f"{name} pulled straight", _STRAIGHT),
    )
    return [
        Picture(
            kind,
            svg_of(
                draw(course, corner, traces, None, units), f"c{number + 1}{kind}-", title, caption
            ),
            caption,
            _TABLES[kind],
        )
        for kind, draw, title, caption in drawn
        if traces
    ]


_STRAIGHT = (
    "Pulled straight: along from turn-in, the inside below. Shade: where the lap may have been."
)
_BEND = (
    "Black dashes: what the marker line has, and the lean that it would have asked for at the speed of "
    "{lap}."
)
_OTHER_WAY = "A line breaks off where you lean further the other way."
_BARE = "Every lap’s radius and lean along the corner."
_TABLES = {
    "plan": "How far from the cones, lap by lap",
    "line": "Lanes and seams, lap by lap",
    "bend": "Radius, lean and speed, lap by lap",
}


class Table(NamedTuple):
    """Head and rows of a table; ``main`` are the heads of the columns that a small screen shows first."""

    head: tuple[str, ...] = ()
    rows: tuple[tuple[str, ...], ...] = ()
    main: tuple[str, ...] = ()


def _by_lap(table: pd.DataFrame, key: str) -> dict[tuple[str, int], dict[str, Any]]:
    """Rows of a table by run and lap, then by the name in a column."""
    found: dict[tuple[str, int], dict[str, Any]] = {}
    for row in table.itertuples():
        found.setdefault((str(row.session), int(row.lap)), {})[str(getattr(row, key))] = row
    return found


def _cones(corner: Corner, tables: Mapping[str, pd.DataFrame], units: Units) -> Table:
    """How far from each cone the tyres passed."""
    names = [m.name for m in corner.markers]
    head = ("Run", "Lap", *(f"{n}, {units.length}" for n in names))
    rows = []
    for (session, lap), row in _by_lap(tables["markers"], "marker").items():
        cells = (
            display.gap_text(r.gap_m, r.gap_lo_m, r.gap_hi_m, units)
            if (r := row.get(n))
            else display.EMPTY
            for n in names
        )
        rows.append((session, str(lap), *cells))
    # As many as a small screen has room for, and of a longer corner its end.
    main = head[-_MOST_CONES:] if len(names) > _MOST_CONES else ()
    return Table(head, tuple(rows), main) if names else Table()


def _lanes(standard: Standard, tables: Mapping[str, pd.DataFrame], units: Units) -> Table:
    """Distance from the marker line and lane at each cone, and the side of each seam at the exit."""
    corner = standard.corner
    names, seams = [m.name for m in corner.markers], [s.name for s in corner.seams]
    minded = {s.name for s in standard.seams_to_mind}
    lined = bool(tables["markers"]["wide_of_line_m"].notna().any())
    calls = _by_lap(tables["seams"], "seam")
    head = ["Run", "Lap"]
    head += [f"{n}: from the line, {units.length}" for n in names] if lined else []
    head += [f"{n}: lane" for n in names] if seams else []
    head += [f"exit: {s}" for s in seams]
    rows = []
    for at, row in _by_lap(tables["markers"], "marker").items():
        cells = [at[0], str(at[1])]
        passed = [row.get(n) for n in names]
        if lined:
            cells += [
                display.wide_text(r.wide_of_line_m, r.wide_lo_m, r.wide_hi_m, units)
                if r
                else display.EMPTY
                for r in passed
            ]
        if seams:
            cells += [display.lane_text(r.lane, r.p_lane) if r else display.EMPTY for r in passed]
        called = [calls.get(at, {}).get(s) for s in seams]
        cells += [
            words.call_words(str(c.call), seam not in minded) if c else display.EMPTY
            for seam, c in zip(seams, called, strict=True)
        ]
        rows.append(tuple(cells))
    # On a small screen where the exit was left, which is what the table is asked for most.
    last = next((m.name for m in reversed(corner.markers) if m.kind is MarkerKind.EXIT), "")
    main = {f"{last}: from the line, {units.length}", f"{last}: lane"}
    main |= {f"exit: {s.name}" for s in standard.seams_to_mind[:1]}
    shown = tuple(h for h in head if h in main)
    return Table(tuple(head), tuple(rows), shown) if len(head) > 2 else Table()


def _laps(corner: Corner, tables: Mapping[str, pd.DataFrame], units: Units) -> Table:
    """Radius, lean and speed of each lap."""
    lined = bool(tables["corners"]["line_exit_radius_min_m"].notna().any())
    m, v = units.length, units.speed
    head = ["Run", "Lap", f"tightest radius, {m}", f"exit radius, {m}"]
    head += [_SHARE] if lined else []
    head += [f"largest lean, {corner.turn}"]
    head += ["the line’s at this speed"] if lined else []
    head += [f"in, {v}", f"slowest, {v}", f"out, {v}", "seconds", "data"]
    rows = []
    for r in tables["corners"].itertuples():
        exit_ = (r.exit_radius_min_m, r.exit_radius_min_lo_m, r.exit_radius_min_hi_m)
        lean = (r.lean_max_deg, r.lean_max_lo_deg, r.lean_max_hi_deg)
        cells = [
            str(r.session),
            str(r.lap),
            display.radius_text(
                r.radius_min_m, r.radius_min_lo_m, r.radius_min_hi_m, units, bare=True
            ),
            display.radius_text(*exit_, units, bare=True),
        ]
        cells += [display.share_text(r.exit_radius_ratio)] if lined else []
        cells += [display.degrees_text(*lean)]
        cells += [display.degrees_text(r.lean_on_line_deg)] if lined else []
        cells += [
            display.speed_text(x, units)
            for x in (r.entry_speed_mps, r.slowest_mps, r.exit_speed_mps)
        ]
        rows.append((*cells, display.seconds_text(r.time_s), str(r.quality)))
    main = [h for h in head[3 : head.index(f"in, {v}")] if h != _SHARE]
    return Table(tuple(head), tuple(rows), tuple(main))
