"""Whose exits tighten: riders × corners, and the gist of it in words."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from lapkit.compare.exits import ExitCalls, exit_calls
from lapkit.compare.standard import standards
from lapkit.counting import corner_name, listed
from lapkit.course.course import Corner
from lapkit.findings import Code, RiderReview, numbers, untold
from lapkit.findings.effects import LEAST_LEAN_DEG
from lapkit.findings.troubles import habits
from lapkit.measuring.reviews import EventReview
from lapkit.reporter.rider_grid import OF, Cell, GridRow, of_between, rider_sentences

_RULE = (
    "Timed laps whose exit tightens, and how much more lean that took than the marker line asks for at the same speeds. "
    "The exit’s tightest radius is then surely below nine tenths of the line’s and took more lean, or it is below seven "
    "tenths. Where that is or was a habit, every lap surely below nine tenths counts. The lean is the middle one of the "
    "laps that took more."
)
_TOO_SHORT = " Not judged, the way from apex to exit being too short: {corners}."


@dataclass(frozen=True)
class ExitSummary:
    """Whose exits tighten: a column for each corner of ``head``, a row for each rider.

    Attributes:
        head: corners where exits are held against a marker line.
        words: who has it as a habit where, in sentences.
        rule: what is counted, in sentences.
        rows: the riders; a cell stands out where his page tells it as a habit.
    """

    head: list[str]
    words: list[str]
    rule: str
    rows: list[GridRow]


def exit_summary(event: EventReview, links: Mapping[str, str]) -> ExitSummary | None:
    """Whose exits tighten; None where no exit is held against a marker line.

    Args:
        event: what to tell of.
        links: rider → file name of his page.
    """
    held = standards(event.course)
    corners = [c for c in event.course.corners if held[c.name].judges_exit]
    if not corners:
        return None
    short = [corner_name(c.name) for c in event.course.corners if held[c.name].exit_too_short]
    return ExitSummary(
        head=[corner_name(c.name) for c in corners],
        words=_words(event, corners),
        rule=_RULE + (_TOO_SHORT.format(corners=listed(short)) if short else ""),
        rows=[
            GridRow(rider.rider, links.get(rider.rider, ""), _cells(rider, corners))
            for rider in event.riders
        ],
    )


def _cells(rider: RiderReview, corners: Sequence[Corner]) -> list[Cell]:
    calls, habit_at = exit_calls(rider.runs), _tightens_at(rider)
    tight = (f for f in rider.findings if f.code is Code.EXIT_TIGHTENED)
    ever_at = habit_at | {f.corner for f in tight if f.left_off}
    of = of_between(len(corners))
    return [
        _cell(calls.get(c.name), of, is_habit=c.name in habit_at, was_habit=c.name in ever_at)
        for c in corners
    ]


def _cell(calls: ExitCalls | None, of: str, *, is_habit: bool, was_habit: bool) -> Cell:
    """A corner's cell.

    Args:
        calls: laps through the corner; None where no exit could be measured.
        of: what stands between two counts.
        is_habit: whether a tightened exit is a habit of the rider there.
        was_habit: whether it is one or was one in an earlier run: then laps are counted by that rule.
    """
    if calls is None:
        return Cell("not measured", sure=False)
    seen = calls.surely_below if was_habit else calls.tightened
    if not seen:
        return Cell(f"none{of}{calls.laps}" if of == OF else f"0{of}{calls.laps}")
    text = f"{seen}{of}{calls.laps}"
    if calls.lean_added_deg >= LEAST_LEAN_DEG:
        text += f", {numbers.degrees(calls.lean_added_deg)}\N{NO-BREAK SPACE}more"
    return Cell(text, much=is_habit)


def _tightens_at(rider: RiderReview) -> set[str]:
    """Corners where an exit that tightens is a habit of his, told first there or as what comes with it."""
    return {f.corner for f in habits(rider.findings) if f.code is Code.EXIT_TIGHTENED}


def _words(event: EventReview, corners: Sequence[Corner]) -> list[str]:
    """Who has it as a habit where, most corners first; who cannot be told of one is not cleared."""
    at = {}
    for rider in event.riders:
        habit = _tightens_at(rider)
        at[rider.rider] = [corner_name(c.name) for c in corners if c.name in habit]
    if not any(at.values()):
        cleared = [exit_calls(r.runs) and not untold(r.runs, event.course) for r in event.riders]
        if all(cleared):
            return ["Nobody tightens the exit as a habit at any corner."]
        if any(cleared):
            return ["Of those of whom a habit can be told, nobody tightens the exit as one."]
        return ["Whether anybody tightens the exit as a habit cannot be told; why is said above."]
    return rider_sentences(
        at,
        corners=len(corners),
        of_one="{who} tightens the exit at {where}.",
        of_several="{who} tighten the exit at {where}.",
    )
