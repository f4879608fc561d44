"""Which corners trouble an event's riders, on the summary's page and on its sheet."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from lapkit.counting import corner_name, listed
from lapkit.findings import Finding, sentences
from lapkit.findings.troubles import Trouble, all_round, troubles
from lapkit.measuring.reviews import EventReview

ALL_ROUND = "The same at most corners, so it is the rider’s and not the corner’s:"
"""What stands above the habits that a rider has all round the course."""

_FEW = 4  # riders to be named; more are counted


class TroubleLine(NamedTuple):
    """A corner, how many riders have a habit there, what they do, and what to look at before them."""

    corner: str
    who: str
    what: list[str]
    look: str


def all_round_lines(event: EventReview) -> list[str]:
    """What riders do at most corners, each with who does it."""
    riders: dict[str, list[str]] = {}
    for rider, habit in all_round(_findings(event), event.course).items():
        riders.setdefault(habit.in_short, []).append(rider)
    return [f"{habit}: {', '.join(who)}" for habit, who in riders.items()]


def trouble_lines(event: EventReview) -> list[TroubleLine]:
    """Corners by how many riders have a habit there.

    What a rider does at most corners is not told at each of them again, and a corner with nothing else has no line
    (:func:`nothing_else`). Where so many do the same that the cone may be to blame, the line ends with that.
    """
    return [
        TroubleLine(
            corner=corner_name(each.corner),
            who=f"{len(each.riders)} of {len(event.riders)} riders{_told_above(each)}",
            what=[f"{habit}: {_named(who)}" for habit, who in each.here_only],
            look=sentences.EventText.LOOK_AT_THE_CONE if each.is_the_cone else "",
        )
        for each in troubles(_findings(event), event.course)
        if not _only_above(each)
    ]


def nothing_else(event: EventReview) -> str:
    """Corners that only riders trouble who do the same at most corners, in a sentence; empty without one."""
    corners = [
        corner_name(each.corner)
        for each in troubles(_findings(event), event.course)
        if _only_above(each)
    ]
    return f"Nothing else at {listed(corners)}." if corners else ""


def _only_above(trouble: Trouble) -> bool:
    return not trouble.here_only and not trouble.is_the_cone


def _findings(event: EventReview) -> dict[str, tuple[Finding, ...]]:
    return {r.rider: r.findings for r in event.riders}


def _told_above(trouble: Trouble) -> str:
    """Which of a corner's riders stand among those who do the same at most corners."""
    own = {rider for _, who in trouble.here_only for rider in who}
    above = [rider for rider in trouble.riders if rider not in own]
    if not above:
        return ""
    return f", {listed(above) if len(above) <= _FEW else len(above)} as above"


def _named(riders: Sequence[str]) -> str:
    return ", ".join(riders) if len(riders) <= _FEW else f"{len(riders)} riders"
