"""The tables of a corner's section, lap by lap: cones, lanes and seams, radius and lean."""

from __future__ import annotations

from typing import Any, NamedTuple

import pandas as pd

from lapkit.course.types import MarkerKind
from lapkit.reporter import display
from lapkit.reporter.rider_at_corner import RiderAtCorner
from lapkit.units import Units

_MOST_CONES = 3  # that a small screen shows first: the last ones, where the exit is
_SHARE = "exit: share of the line’s radius"
_ON_LINE = "the line’s lean at this speed"
_BESIDE_LINE = {"inside": ", as the line is", "outside": ", the line is inside"}


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


def cones_table(here: RiderAtCorner) -> Table:
    """How far from each cone the tyres passed."""
    names, units = [m.name for m in here.corner.markers], here.units
    head = ("Run", "Lap", *_cone_heads(here))
    rows = []
    for (session, lap), row in _by_lap(here.tables["markers"], "marker").items():
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


def _cone_heads(here: RiderAtCorner) -> list[str]:
    """The cones' names, each with how far from it the marker line itself stays, which tells much from little."""
    heads = []
    for marker, gap_m in zip(here.corner.markers, here.standard.line_gap_m, strict=True):
        gap = display.gap_text(gap_m, float("nan"), float("nan"), here.units)
        of_line = "" if gap == display.EMPTY else f" (the line {gap})"
        heads.append(f"{marker.name}, {here.units.length}{of_line}")
    return heads


def lanes_table(here: RiderAtCorner) -> Table:
    """Distance from the marker line and lane at each cone, and the side of each seam at the exit."""
    corner, standard, tables, units = here.corner, here.standard, here.tables, here.units
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
            _call_words(str(c.call), seam not in minded) if c else display.EMPTY
            for seam, c in zip(seams, called, strict=True)
        ]
        rows.append(tuple(cells))
    # On a small screen where the exit was left, which is what the table is asked for most.
    last = next((m.name for m in reversed(corner.markers) if m.kind is MarkerKind.EXIT), "")
    main = {f"{last}: from the line, {units.length}", f"{last}: lane"}
    main |= {f"exit: {s.name}" for s in standard.seams_to_mind[:1]}
    shown = tuple(h for h in head if h in main)
    return Table(tuple(head), tuple(rows), shown) if len(head) > 2 else Table()


def _call_words(call: str, line_inside: bool) -> str:
    """The side of a seam that a lap was called on; where the marker line itself runs inside, that too."""
    return call + (_BESIDE_LINE.get(call, "") if line_inside else "")


def laps_table(here: RiderAtCorner) -> Table:
    """Radius, lean and speed of each lap: over the whole corner, then in its exit, which findings are about."""
    corner, tables, units = here.corner, here.tables, here.units
    lined = bool(tables["corners"]["line_exit_radius_min_m"].notna().any())
    m, v = units.length, units.speed
    whole = [f"tightest radius, {m}", f"largest lean, {corner.turn}"]
    leaving = [f"exit: radius, {m}", f"exit: largest lean, {corner.turn}"]
    if lined:
        whole.append(_ON_LINE)
        leaving += [f"exit: {_ON_LINE}", _SHARE]
    head = ["Run", "Lap", *whole, *leaving, f"in, {v}", f"slowest, {v}", f"out, {v}"]
    rows = []
    for r in tables["corners"].itertuples():
        cells = [str(r.session), str(r.lap)]
        cells += _radius_and_lean(r, "", units, lined)
        cells += _radius_and_lean(r, "exit_", units, lined)
        cells += [display.share_text(r.exit_radius_ratio)] if lined else []
        cells += [
            display.speed_text(x, units)
            for x in (r.entry_speed_mps, r.slowest_mps, r.exit_speed_mps)
        ]
        rows.append((*cells, display.seconds_text(r.time_s), str(r.quality)))
    main = [h for h in leaving if h != _SHARE]
    return Table((*head, "seconds", "data"), tuple(rows), tuple(main))


def _radius_and_lean(row: Any, part: str, units: Units, lined: bool) -> list[str]:
    """Tightest radius and largest lean of a lap, and the lean that the marker line asks for at its speeds.

    ``part`` begins the columns' names: ``exit_``, or nothing of the whole corner.
    """

    def held(name: str, unit: str) -> tuple[float, float, float]:
        lo, hi = (getattr(row, f"{part}{name}_{end}_{unit}") for end in ("lo", "hi"))
        return getattr(row, f"{part}{name}_{unit}"), lo, hi

    cells = [
        display.radius_text(*held("radius_min", "m"), units, bare=True),
        display.degrees_text(*held("lean_max", "deg")),
    ]
    return cells + (
        [display.degrees_text(getattr(row, f"{part}lean_on_line_deg"))] if lined else []
    )
