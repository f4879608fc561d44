"""Runs against each other: what changed from run to run, and riders side by side at a corner."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence

from lapkit.compare.changes import Changed
from lapkit.compare.lap_values import LEAN, LINE, RADIUS, TURN_IN
from lapkit.compare.results import MeasureAt
from lapkit.compare.standard import Standard
from lapkit.compare.usual import BEND, Usual
from lapkit.counting import corner_name
from lapkit.course.course import Corner
from lapkit.findings import RiderReview
from lapkit.findings.sentences import cone_called
from lapkit.reporter import display
from lapkit.reporter.course_words import last_exit_cone
from lapkit.reporter.display import Measured
from lapkit.units import Units

Row = tuple[str, ...]

_MEASURES = {
    RADIUS: "exit radius",
    LEAN: "largest lean",
    TURN_IN: "turn-in",
    LINE: "at the {cone}",
}

_VAGUE_M = 3.0  # an interval reaching so far to either side tells no place across a road
_STRAIGHT_1PM = 1e-4  # a radius of 10 km: there is none to be told

Changes = list[tuple[str, list[tuple[str, list[str]]]]]
"""Between which runs → corner → what changed there, in words."""


def run_changes(rider: RiderReview, units: Units) -> Changes:
    """What surely changed between a rider's runs by enough to be reported, run by run.

    What came from one run to the next and shows from the first to the last as well is told once, as lasting.
    """
    found: dict[str, dict[str, list[str]]] = {}
    for r, lasts in _told_once(rider):
        what = _MEASURES[r.measure].format(cone=cone_called(r.marker))
        size, before = _change(r, units)
        said = f"{what} {size}" + (f", {before}" if before else "")
        corners = found.setdefault(_which_runs(r, lasts, rider), {})
        corners.setdefault(corner_name(r.corner), []).append(said)
    return [(between, list(corners.items())) for between, corners in found.items()]


def _told_once(rider: RiderReview) -> Iterator[tuple[Changed, bool]]:
    """The changes to tell, each with whether it shows from the first run to the last as well."""
    found = [r for r in rider.changed if r.found]
    whole = (rider.runs[0].session, rider.runs[-1].session) if len(rider.runs) > 2 else None
    over_all: dict[MeasureAt, Changed] = {}
    steps: dict[MeasureAt, list[Changed]] = defaultdict(list)
    for r in found:
        if (r.session_before, r.session_after) == whole:
            over_all[r.at] = r
        else:
            steps[r.at].append(r)
    lasting = {
        at
        for at, r in over_all.items()
        if len(steps[at]) == 1 and steps[at][0].change * r.change > 0
    }
    for r in found:
        lasts = r.at in lasting
        if not lasts or (r.session_before, r.session_after) != whole:
            yield r, lasts


def _which_runs(r: Changed, lasts: bool, rider: RiderReview) -> str:
    """Between which runs something changed, with the bikes where they are not the same."""
    bikes = {run.session: bike for run, bike in zip(rider.runs, rider.bikes, strict=False)}
    ridden = [bikes.get(session, "") for session in (r.session_before, r.session_after)]
    changed = all(ridden) and ridden[0] != ridden[1]
    before, after = (f" ({bike})" if changed else "" for bike in ridden)
    last = rider.runs[-1].session
    still = f", and still in run {last}" if lasts and r.session_after != last else ""
    return f"run {r.session_before}{before} to run {r.session_after}{after}{still}"


def _change(r: Changed, units: Units) -> tuple[str, str]:
    """The change in words, then what it was before.

    What it became is left out: rounded on its own it seldom agrees with the other two to the last digit.
    """
    half = 0.5 * (r.change_hi - r.change_lo)
    if r.measure == LEAN:
        size = display.rounded(abs(r.change), half, "°")
        return f"{size} {'more' if r.change > 0 else 'less'}", f"was {r.before:.0f}°"
    more, less = {
        RADIUS: ("more open", "tighter"),
        TURN_IN: ("earlier", "later"),
        LINE: ("further out", "further in"),
    }[r.measure]
    unit = units.length_m
    size = display.rounded(abs(r.change) / unit, half / unit, units.length, 1)
    before = ""
    if r.measure == RADIUS:
        before = f"was {r.before / unit:.0f} {units.length}"
    elif r.measure == LINE:
        before = f"was {_side(r.before, units)}"
    return f"{size} {more if r.change > 0 else less}", before


def _side(wide_m: float, units: Units) -> str:
    side = "wide" if wide_m >= 0 else "inside"
    return f"{display.length_text(abs(wide_m), units, 1)} {side}"


UsualLap = Mapping[MeasureAt, Usual]
"""What a rider's usual lap of his latest run was like (:func:`~lapkit.compare.usual.usual_of`)."""

_NOTHING = Usual(0, *[float("nan")] * 3)


def usual_words(
    usual: UsualLap, corner: Corner, standard: Standard, rider: RiderReview, units: Units
) -> str:
    """The usual lap of the latest run through one corner in a sentence; empty when it is not known."""
    bend, lean, at_cone = _usual_through(usual, corner)
    laps = bend.laps
    if not laps:
        return ""
    parts = []
    if bend.mean > _STRAIGHT_1PM:
        radius, half = 1.0 / bend.mean, _half(bend) / bend.mean**2
        held = f"exit radius {display.rounded(radius / units.length_m, half / units.length_m, units.length)}"
        if display.known(standard.exit_radius_m):
            held += f" where the line keeps {display.length_text(standard.exit_radius_m, units)}"
        parts.append(held)
    if display.known(lean.mean):
        parts.append(f"largest lean {display.rounded(lean.mean, _half(lean), '°')}")
    wide, half = at_cone.mean, _half(at_cone)
    if display.known(wide) and half <= _VAGUE_M:
        off = display.rounded(abs(wide) / units.length_m, half / units.length_m, units.length, 1)
        side = f"{off} {'wide of' if wide >= 0 else 'inside'} the line"
        if abs(wide) <= half:  # which side of it is not known
            side = f"within {display.length_text(abs(wide) + half, units, 1)} of the line"
        parts.append(f"{side} at the {cone_called(last_exit_cone(corner))}")
    if not parts:
        return ""
    run = f" of run {rider.runs[-1].session}" if len(rider.runs) > 1 else ""
    its = "its " if run else ""
    lap = f"usual lap{run}, the mean of {its}{laps} laps" if laps > 1 else f"only measured lap{run}"
    return f"Your {lap}: {', '.join(parts)}."


def _usual_through(usual: UsualLap, corner: Corner) -> tuple[Usual, Usual, Usual]:
    """Of the usual lap through a corner the exit's bend, the largest lean, and the distance from the line at the exit cone."""
    measures = ((BEND, ""), ("lean_deg", ""), (LINE, last_exit_cone(corner)))
    bend, lean, at_cone = (
        usual.get(MeasureAt(corner.name, marker, measure), _NOTHING) for measure, marker in measures
    )
    return bend, lean, at_cone


def _half(usual: Usual) -> float:
    """Half the 95 % interval of a usual value, in its own unit."""
    return display.REACH * usual.sd


def side_by_side(
    riders: Sequence[tuple[RiderReview, UsualLap]], corner: Corner, standard: Standard, units: Units
) -> tuple[Row, list[Row]]:
    """Head and rows for one corner: each rider's usual lap of his latest run, in the order given.

    Over the radii stands what the marker line keeps. Nobody is ranked, and there are no times.
    """
    last = last_exit_cone(corner)
    kept = display.radius_text(Measured(standard.exit_radius_m), units, bare=True)
    of_line = "" if kept == display.EMPTY else f" (the line {kept})"
    head = ["Rider", "Group", "Run", "Laps", f"exit radius, {units.length}{of_line}"]
    head += [f"largest lean, {corner.turn}"]
    head += [f"exit: from the line, {units.length}"] if last else []
    rows = []
    for rider, usual in riders:
        bend, lean, at_cone = _usual_through(usual, corner)
        if not bend.laps:
            continue
        cells = [rider.rider, rider.group or display.EMPTY, rider.runs[-1].session, str(bend.laps)]
        radius_m = 1.0 / bend.mean if bend.mean > _STRAIGHT_1PM else float("nan")
        cells.append(display.radius_text(Measured(radius_m), units, bare=True))
        cells.append(display.degrees_text(Measured(lean.mean)))
        if last:
            cells.append(display.wide_text(Measured(at_cone.mean), units))
        rows.append(tuple(cells))
    return tuple(head), rows
