"""The tables of a corner's section, lap by lap: cones, lanes and seams, radius and lean."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from lapkit.compare.standard import Standard
from lapkit.findings.sentences import seam_called
from lapkit.reporter import display
from lapkit.reporter.course_words import last_exit_cone
from lapkit.reporter.display import Measured
from lapkit.reporter.laps_at_corner import Bend, LapAtCorner
from lapkit.reporter.rider_at_corner import RiderAtCorner
from lapkit.units import Units

_MOST_CONES = 3  # that a small screen shows first: the last ones, where the exit is
_SHARE = "exit: share of the line’s radius"
_ON_LINE = "the line’s lean at this speed"
_LINE_BESIDE = {"inside": ", as the line is", "outside": ", the line is inside"}


class Table(NamedTuple):
    """Head and rows of a table; ``main`` are the heads of the columns that a small screen shows first."""

    head: tuple[str, ...] = ()
    rows: tuple[tuple[str, ...], ...] = ()
    main: tuple[str, ...] = ()


def cones_table(here: RiderAtCorner) -> Table:
    """How far from each cone the tyres passed; empty at a corner without cones."""
    names = [m.name for m in here.corner.markers]
    if not names:
        return Table()
    head = ("Run", "Lap", *_cone_heads(here))
    rows = [(lap.session, str(lap.lap), *_gaps(lap, names, here.units)) for lap in here.laps]
    # As many as a small screen has room for, and of a longer corner its end.
    main = head[-_MOST_CONES:] if len(names) > _MOST_CONES else ()
    return Table(head, tuple(rows), main)


def _cone_heads(here: RiderAtCorner) -> list[str]:
    """The cones' names, each with the marker line's own distance from it: a lap can be as near as the line is."""
    heads = []
    for of_cone in here.standard.markers:
        gap = display.gap_text(Measured(of_cone.line_gap_m), here.units)
        of_line = "" if gap == display.EMPTY else f" (the line {gap})"
        heads.append(f"{of_cone.marker.name}, {here.units.length}{of_line}")
    return heads


def _gaps(lap: LapAtCorner, names: Sequence[str], units: Units) -> list[str]:
    passed = [lap.cones.get(name) for name in names]
    return [display.gap_text(cone.gap_m, units) if cone else display.EMPTY for cone in passed]


def lanes_table(here: RiderAtCorner) -> Table:
    """Distance from the marker line and lane at each cone, and the side of each seam at the exit.

    Empty where the corner has neither a marker line nor seams.
    """
    corner, units = here.corner, here.units
    names, seams = [m.name for m in corner.markers], [s.name for s in corner.seams]
    lined = any(
        display.known(cone.wide_of_line_m.value) for lap in here.laps for cone in lap.cones.values()
    )
    head = ["Run", "Lap"]
    head += [_from_line(name, units) for name in names] if lined else []
    head += [f"{name}: lane" for name in names] if seams else []
    head += [_side_of(seam) for seam in seams]
    if len(head) == 2:
        return Table()
    rows = []
    for lap in here.laps:
        cells = [lap.session, str(lap.lap)]
        cells += _distances_from_line(lap, names, units) if lined else []
        cells += _lanes(lap, names) if seams else []
        cells += _seam_sides(lap, seams, here.standard)
        rows.append(tuple(cells))
    return Table(tuple(head), tuple(rows), _exit_heads(head, here))


def _from_line(cone: str, units: Units) -> str:
    return f"{cone}: from the line, {units.length}"


def _side_of(seam: str) -> str:
    return f"exit: {seam_called(seam)}"


def _distances_from_line(lap: LapAtCorner, names: Sequence[str], units: Units) -> list[str]:
    passed = [lap.cones.get(name) for name in names]
    return [
        display.wide_text(cone.wide_of_line_m, units) if cone else display.EMPTY for cone in passed
    ]


def _lanes(lap: LapAtCorner, names: Sequence[str]) -> list[str]:
    passed = [lap.cones.get(name) for name in names]
    return [display.lane_text(cone.lane, cone.p_lane) if cone else display.EMPTY for cone in passed]


def _seam_sides(lap: LapAtCorner, seams: Sequence[str], standard: Standard) -> list[str]:
    """The side of each seam that the lap was called on, and whether the marker line runs inside of it too."""
    outside_of = {seam.name for seam in standard.seams_to_mind}
    cells = []
    for seam in seams:
        call = lap.seam_calls.get(seam, display.EMPTY)
        cells.append(call if seam in outside_of else call + _LINE_BESIDE.get(call, ""))
    return cells


def _exit_heads(head: Sequence[str], here: RiderAtCorner) -> tuple[str, ...]:
    """The columns that a small screen shows first: where the exit was left, which the table is asked for most."""
    cone = last_exit_cone(here.corner)
    wanted = {_from_line(cone, here.units), f"{cone}: lane"}
    counted = here.standard.counted_seam
    wanted |= {_side_of(counted.name)} if counted else set()
    return tuple(h for h in head if h in wanted)


def laps_table(here: RiderAtCorner) -> Table:
    """Radius, lean and speed of each lap: over the whole corner, then in its exit, which findings are about."""
    turn, units = here.corner.turn, here.units
    lined = any(display.known(lap.line_exit_radius_min_m) for lap in here.laps)
    whole = [f"tightest radius, {units.length}", f"largest lean, {turn}"]
    leaving = [f"exit: radius, {units.length}", f"exit: largest lean, {turn}"]
    if lined:
        whole.append(_ON_LINE)
        leaving.append(f"exit: {_ON_LINE}")
    speeds = [f"{where}, {units.speed}" for where in ("in", "slowest", "out")]
    share = [_SHARE] if lined else []
    head = ("Run", "Lap", *whole, *leaving, *share, *speeds, "seconds", "data")
    rows = tuple(_lap_row(lap, units, lined=lined) for lap in here.laps)
    return Table(head, rows, tuple(leaving))


def _lap_row(lap: LapAtCorner, units: Units, *, lined: bool) -> tuple[str, ...]:
    share = [display.share_text(lap.exit_radius_ratio)] if lined else []
    speeds = (lap.entry_speed_mps, lap.slowest_mps, lap.exit_speed_mps)
    return (
        lap.session,
        str(lap.lap),
        *_bend_cells(lap.whole, units, lined=lined),
        *_bend_cells(lap.exit, units, lined=lined),
        *share,
        *(display.speed_text(speed, units) for speed in speeds),
        display.seconds_text(lap.time_s),
        lap.quality,
    )


def _bend_cells(bend: Bend, units: Units, *, lined: bool) -> list[str]:
    cells = [
        display.radius_text(bend.radius_min_m, units, bare=True),
        display.degrees_text(bend.lean_max_deg),
    ]
    if lined:
        cells.append(display.degrees_text(Measured(bend.lean_on_line_deg)))
    return cells
