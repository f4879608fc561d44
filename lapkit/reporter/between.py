"""Runs against each other: what changed from run to run, and riders side by side at a corner."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import pandas as pd

from lapkit.compare.runs import all_changes
from lapkit.course.course import Corner
from lapkit.course.types import MarkerKind
from lapkit.reporter import display, words
from lapkit.reporter.review_types import RiderReview
from lapkit.units import Units

Row = tuple[str, ...]

_MEASURES = {
    "exit_radius_min_m": "exit radius",
    "lean_max_deg": "largest lean",
    "turn_in_early_m": "turn-in",
    "time_s": "time through it",
    "wide_of_line_m": "line at the {marker} cone",
}
_WORTH = {
    "exit_radius_min_m": 3.0,
    "lean_max_deg": 2.0,
    "turn_in_early_m": 1.5,
    "time_s": 0.1,
    "wide_of_line_m": 0.5,
}
"""A smaller change is not worth a word, however sure."""

_NOVICE = "novice"
_STRAIGHT_1PM = 1e-4


def change_rows(rider: RiderReview, units: Units) -> list[Row]:
    """What surely changed between a rider's runs, run by run; a novice's times are left out."""
    if len(rider.runs) < 2:
        return []
    table = all_changes(rider.runs)
    rows = []
    for r in table[table["found"].astype(bool)].itertuples():
        if abs(r.change) < _WORTH.get(r.measure, 0.0):
            continue
        if r.measure == "time_s" and rider.group.lower().startswith(_NOVICE):
            continue
        what = _MEASURES.get(r.measure, str(r.measure)).format(marker=r.marker)
        between = f"run {r.session_before} to run {r.session_after}"
        rows.append((between, words.corner_name(r.corner), what, *_change(r, units)))
    return rows


def _change(r: Any, units: Units) -> tuple[str, str]:
    """The change in words, then what it was and what it became."""
    half = 0.5 * (r.change_hi - r.change_lo)
    if r.measure == "lean_max_deg":
        size = display.rounded(abs(r.change), half, "°")
        return f"{size} {'more' if r.change > 0 else 'less'}", f"{r.before:.0f}° to {r.after:.0f}°"
    if r.measure == "time_s":
        size = display.rounded(abs(r.change), half, "s", 2)
        return (
            f"{size} {'longer' if r.change > 0 else 'shorter'}",
            f"{r.before:.2f} s to {r.after:.2f} s",
        )
    more, less = {
        "exit_radius_min_m": ("more open", "tighter"),
        "turn_in_early_m": ("earlier", "later"),
        "wide_of_line_m": ("further out", "further in"),
    }[r.measure]
    unit = units.length_m
    size = display.rounded(abs(r.change) / unit, half / unit, units.length, 1)
    ends = ""
    if r.measure == "exit_radius_min_m":
        ends = f"{r.before / unit:.0f} {units.length} to {r.after / unit:.0f} {units.length}"
    elif r.measure == "wide_of_line_m":
        ends = f"{_side(r.before, units)} to {_side(r.after, units)}"
    return f"{size} {more if r.change > 0 else less}", ends


def _side(wide_m: float, units: Units) -> str:
    side = "wide" if wide_m >= 0 else "inside"
    return f"{display.length_text(abs(wide_m), units, 1)} {side}"


Usual = dict[tuple[str, str, str], tuple[float, int]]
"""(corner, measure, marker) → usual value and number of laps."""


def usual_laps(rider: RiderReview) -> Usual:
    """What a rider's usual lap of his latest run was like, from the table ``usual``."""
    table = rider.runs[-1].tables.get("usual")
    if table is None:
        return {}
    columns = (table[c] for c in ("corner", "measure", "marker", "usual", "laps"))
    return {
        (str(corner), str(measure), "" if pd.isna(marker) else str(marker)): (
            float(value),
            int(laps),
        )
        for corner, measure, marker, value, laps in zip(*columns, strict=True)
    }


def side_by_side(
    riders: Sequence[tuple[RiderReview, Usual]], corner: Corner, units: Units
) -> tuple[Row, list[Row]]:
    """Head and rows for one corner: each rider's usual lap of his latest run, in the order given.

    Nobody is ranked, and there are no times.
    """
    last = next((m.name for m in reversed(corner.markers) if m.kind is MarkerKind.EXIT), "")
    head = ["Rider", "Group", "Run", "Laps", f"exit radius, {units.length}", f"lean, {corner.turn}"]
    head += [f"at the exit cone, from the line, {units.length}"] if last else []
    nothing = float("nan")
    rows = []
    for rider, usual in riders:
        bend, laps = usual.get((corner.name, "exit_curvature_1pm", ""), (nothing, 0))
        if not laps:
            continue
        cells = [rider.rider, rider.group or display.EMPTY, rider.runs[-1].session, str(laps)]
        radius = 1.0 / bend if bend > _STRAIGHT_1PM else nothing
        lean = usual.get((corner.name, "lean_deg", ""), (nothing, 0))[0]
        cells += [display.radius_text(radius, nothing, nothing, units, bare=True)]
        cells += [display.degrees_text(lean)]
        if last:
            wide = usual.get((corner.name, "wide_of_line_m", last), (nothing, 0))[0]
            cells.append(display.wide_text(wide, nothing, nothing, units))
        rows.append(tuple(cells))
    return tuple(head), rows
