"""What changed from run to run of a rider, in words."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from typing import NamedTuple

from lapkit.compare.changes import Changed
from lapkit.compare.lap_values import LEAN, LINE, RADIUS, TURN_IN
from lapkit.compare.results import MeasureAt
from lapkit.counting import corner_name
from lapkit.course.course import Course
from lapkit.findings import RiderReview, untold
from lapkit.findings.sentences import cone_called
from lapkit.findings.untold import LAP_TIMES_ONLY, NO_LAP
from lapkit.reporter import display
from lapkit.reporter.display import Measured
from lapkit.units import Units

_MEASURES = {
    RADIUS: "exit radius",
    LEAN: "largest lean",
    TURN_IN: "turn-in",
    LINE: "at the {cone}",
}
_MORE_AND_LESS = {
    RADIUS: ("more open", "tighter"),
    LEAN: ("more", "less"),
    TURN_IN: ("earlier", "later"),
    LINE: ("further out", "further in"),
}


class CornerChanges(NamedTuple):
    """A corner, and what changed there."""

    corner: str
    changes: list[str]


class BetweenRuns(NamedTuple):
    """Between which runs, and what changed corner by corner."""

    runs: str
    corners: list[CornerChanges]


def can_change(rider: RiderReview, course: Course) -> bool:
    """Whether there are two runs that tell radius and lean, so that something could have changed from one to the other."""
    bare = (NO_LAP, *LAP_TIMES_ONLY)
    return sum(untold([run], course) not in bare for run in rider.runs) > 1


def run_changes(rider: RiderReview, units: Units) -> list[BetweenRuns]:
    """What surely changed between a rider's runs by enough to be reported, run by run.

    A change from one run to the next that shows from the first run to the last as well is told once, as lasting.
    """
    found = [change for change in rider.changed if change.found]
    whole = rider.runs[0].session, rider.runs[-1].session
    lasting = _lasting(found, whole)
    by_runs: dict[str, dict[str, list[str]]] = {}
    for change in found:
        lasts = change.at in lasting
        if lasts and _sessions(change) == whole:
            continue
        corners = by_runs.setdefault(_which_runs(change, rider, lasts=lasts), {})
        corners.setdefault(corner_name(change.corner), []).append(_words(change, units))
    return [
        BetweenRuns(runs, [CornerChanges(*each) for each in corners.items()])
        for runs, corners in by_runs.items()
    ]


def _sessions(change: Changed) -> tuple[str, str]:
    return change.session_before, change.session_after


def _lasting(found: Sequence[Changed], whole: tuple[str, str]) -> set[MeasureAt]:
    """Where one change from a run to the next shows from the first run to the last as well, the same way.

    Args:
        found: the changes.
        whole: the first run and the last.
    """
    over_all: dict[MeasureAt, Changed] = {}
    steps: dict[MeasureAt, list[Changed]] = defaultdict(list)
    for change in found:
        if _sessions(change) == whole:
            over_all[change.at] = change
        else:
            steps[change.at].append(change)
    return {
        at
        for at, change in over_all.items()
        if len(steps[at]) == 1 and steps[at][0].change * change.change > 0
    }


def _which_runs(change: Changed, rider: RiderReview, *, lasts: bool) -> str:
    """Between which runs something changed, with the bikes where these differ."""
    before, after = _sessions(change)
    bikes = {run.session: bike for run, bike in zip(rider.runs, rider.bikes, strict=False)}
    bike_before, bike_after = bikes.get(before, ""), bikes.get(after, "")
    last = rider.runs[-1].session
    still = f", and still in run {last}" if lasts and after != last else ""
    if bike_before and bike_after and bike_before != bike_after:
        return f"run {before} ({bike_before}) to run {after} ({bike_after}){still}"
    return f"run {before} to run {after}{still}"


def _words(change: Changed, units: Units) -> str:
    """A change, and what the value was before.

    The later value is left out: rounded on its own, it rarely agrees with the other two to the last digit.
    """
    what = _MEASURES[change.measure].format(cone=cone_called(change.marker))
    more, less = _MORE_AND_LESS[change.measure]
    words = f"{what} {_size(change, units)} {more if change.change > 0 else less}"
    before = _before(change, units)
    return f"{words}, was {before}" if before else words


def _size(change: Changed, units: Units) -> str:
    """How large a change is, with half its interval."""
    size, half = abs(change.change), 0.5 * (change.change_hi - change.change_lo)
    if change.measure == LEAN:
        return display.rounded(size, half, "°")
    return display.rounded(size / units.length_m, half / units.length_m, units.length, 1)


def _before(change: Changed, units: Units) -> str:
    """What the value was before; empty for a turn-in, which is told by its change alone."""
    before = change.before
    if change.measure == LEAN:
        return f"{before:.0f}°"
    if change.measure == RADIUS:
        return f"{before / units.length_m:.0f} {units.length}"
    if change.measure == LINE:
        words = display.wide_text(Measured(before), units)
        size, _, side = words.partition(" ")
        return f"{size} {units.length} {side}" if side else "on the line"
    return ""
