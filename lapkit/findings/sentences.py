"""The sentences of findings, except what is said first of each, which stands with its code (:mod:`lapkit.findings.codes`).

They are plain English with the words of the trade. Left and right, inside and wide, early and late stand in place of signs,
and words in place of probabilities. The members of the enumerations are templates;
:mod:`lapkit.findings.figures` works out most of what fills them.
"""

from __future__ import annotations

from collections.abc import Sequence
from enum import StrEnum

import numpy as np

from lapkit.compare.lap_values import LEAN, LINE, RADIUS, TURN_IN
from lapkit.counting import all_of, listed
from lapkit.findings.codes import Code


class Lead(StrEnum):
    """What is said first in place of the text of a finding's own code."""

    EXIT_LAPSE = (
        "The exit {tightens} {often}, in {far_off} of them to {radius} radius{radius_aside} where the marker line keeps "
        "{line_radius}, tightest {after_apex} after the last apex."
    )
    EXIT_ASIDE = (
        "The exit is tighter than the marker line’s {often}: {radius} radius{radius_aside} against {line_radius}, tightest "
        "{after_apex} after the last apex."
    )
    WAS = "No longer a habit: {what}, {runs}."
    WAS_MORE = "{what}: {runs}."


class Exit(StrEnum):
    """What an exit does that has a smaller radius than the marker line's."""

    TIGHTENS = "tightens"
    IS_TIGHTER = "is tighter than the marker line’s"


class Detail(StrEnum):
    """What is added to what is said first."""

    RADIUS = "The exit’s tightest radius is {radius}{radius_aside} where the marker line keeps {line_radius}."
    LEAN = "The exit takes {lean} more lean to the {turn} than it would on the marker line at the same speed."
    LEAN_TOOK = (
        "The exit took {lean} more lean to the {turn} than it would have on the marker line at the same "
        "speed."
    )
    OFF_CAMBER = "The road falls away by {camber} there: seen from the road, the lean is that much more still."
    WITH_IT = "What comes with it: {others}."
    ALSO_AT = "Seen at {corners} too."
    THE_SAME_AT = "{what} at {corners} too."
    OF_THE_RIDER = "Alike at so many corners, it comes with the run and not with one corner: tiring, or the tyres."
    RUNS = "Run by run: {runs}."
    TIGHTER_RUNS = "Tighter {runs}."
    THAN_AT_APEX = "At the apex the radius was still {radius}; the line was pulled in after that."
    LEAN_SAVED = "On the marker line the same speeds would have taken {lean} less lean to the {turn}{where}: that is margin."
    LINE_ASKS_MORE = (
        "On the marker line the same speeds would have taken {lean} more lean to the {turn} before the exit: it is ridden with "
        "less speed, not with more lean."
    )
    LANE = "At the {cone} you are in lane {lane}; lane {lane_set} is the one to be in."
    MOST_MISSED = "Of all the cones it is the one that you miss most."
    NOTHING_TO_WORK_ON = "Nothing to work on: ask why, and the cones are worth a look."
    ASK_WHY = "That is no fault: ask why, and the cones are worth a look."
    WOULD_HAVE = (
        "On the marker line the same speeds would have taken {lean} less lean to the {turn}{where}: that is "
        "margin. Ridden there with the lean and drive that were used, it would have been {speed} more at the "
        "slowest point and {seconds} less over the corner. That is arithmetic and no advice."
    )
    SAME_AS_MOST = "More than half of the riders do the same here: the cones or the marker line may be what is off."
    EVEN_ALONE = "The evenness is done well; what is said of the line there stands."
    SURE = "How sure: {sure}."
    WAS_SURE = "How sure that it was so: {sure}."
    WHICH_LAPS = "Tighter in {laps}."
    NO_MORE_LEAN = "It mostly takes no more lean than the marker line would at the same speed: no fault by itself."
    LITTLE_TIGHTER = "It is only a little tighter: no fault by itself."
    CALLED = "Tight enough to mind in {laps}: {few} for a habit."
    WORTH_A_LOOK = "{exits} tighter than the marker line’s, though: worth a look."
    UNCLEAR = "In {others} the log cannot tell which side of the seam it was."
    LAPSE = "A lapse, not a habit."
    LAPSES = "Lapses, not a habit."
    NO_CUE = "Ask your coach what to try here: no cue was left for this corner."
    FEW_LAPS = "Too few laps to tell a habit from a lapse."


class EventText(StrEnum):
    """What is said of an event."""

    TALK_FIRST = "Talk to {rider} first: {what} at {where}."
    TALK_NEXT = "Then {rider}: {what} at {where}."
    CORNER_TROUBLES = "{corner} troubles {count} of {riders} riders. {what}."
    LOOK_AT_THE_CONE = "More than half do the same here: look at the cone before the riders."
    CONE_MISSED = "The cone missed most is the {cone} at {corner}: {riders}, {often}."
    INSIDE_OPENLY = (
        "At {corner} {riders} ran inside the {seam} with a longer radius than the marker line’s: "
        "no fault. Ask why, and look at the cones."
    )
    INSIDE_SEAM = "Inside the {seam} at {corner}: {who}."
    APART = "{rider} rides {corners} unlike the others{group}: {how}."
    TIGHTER = "a tighter exit"
    OPENER = "a more open exit"
    WIDER = "further out at the {cone}"
    FURTHER_IN = "further in at the {cone}"
    CHANGED = "{rider}, from run {before} to run {after}: {what}."
    UNUSABLE = "{rider}, run {session}: the log could not be used, {reason}."


CHANGED: dict[str, tuple[str, str]] = {
    RADIUS: ("the exit is tighter", "the exit is more open"),
    LINE: ("further in at the {cone}", "further out at the {cone}"),
    TURN_IN: ("turning in later", "turning in earlier"),
    LEAN: ("less lean", "more lean"),
}
"""Measure → what is said when it became smaller, and larger, from one run to another."""

ORDINALS = {"1": "first", "2": "second", "3": "third", "4": "fourth"}
"""Number of a seam, as a track walk gives it → what a coach calls it."""

SURE = (
    (0.99, "almost certain"),
    (0.95, "very likely"),
    (0.9, "likely"),
    (0.0, "not certain"),
)
"""Least probability and the words for it, most probable first."""


def cone_called(name: str) -> str:
    """A cone by its name: ``exit cone``; the word is not repeated where the name has it already."""
    return f"{name} cone" if name and "cone" not in name.lower() else name or "cone"


def seam_called(name: str) -> str:
    """A seam by its name: ``second seam``, ``seam A``; the word is not repeated where the name has it already."""
    number = name.lower().removeprefix("seam").strip()
    if number in ORDINALS:
        return f"{ORDINALS[number]} seam"
    return f"seam {name}" if name and "seam" not in name.lower() else name or "seam"


def in_short(code: Code, marker: str) -> str:
    """A fault in a few words, with the name of the cone or seam that it is about, if any; empty for praise and facts."""
    at = code.means.short_at
    if not marker or not at:
        return code.means.short
    called = seam_called if code is Code.INSIDE_SEAM else cone_called
    return at.format(thing=called(marker))


def often(seen: int, counted: int) -> str:
    """How often: ``in 6 of 8 laps``, ``in all 8 laps``, ``in both laps``, ``in one of 8 laps``, ``in none of 8 laps``."""
    if not seen:
        none = {1: "not in the one lap", 2: "in neither lap"}
        return none.get(counted, f"in none of {counted} laps")
    if seen == counted:
        return f"in {all_of(counted, 'lap')}"
    return f"in {'one' if seen == 1 else seen} of {counted} laps"


def at_corners(shown: int, of: int) -> str:
    """At how many corners: ``at 5 of 7 corners``, ``at all 7 corners``, ``at both corners``."""
    if shown == of:
        return f"at {all_of(of, 'corner')}"
    return f"at {shown} of {of} corners"


def of_these(called: int, of: int) -> str:
    """How many of these laps: ``2 of these 5 laps``, ``one of these 5 laps``, ``all 3 laps``, ``both laps``, ``that lap``."""
    if called == of:
        return "that lap" if of == 1 else all_of(of, "lap")
    return f"{'one' if called == 1 else called} of these {of} laps"


def others(unclear: int, of: int) -> str:
    """How many of the other laps: ``the other lap``, ``the other 3 laps``, ``one of the other 3 laps``."""
    if unclear == of:
        return "the other lap" if of == 1 else f"the other {of} laps"
    return f"{'one' if unclear == 1 else unclear} of the other {of} laps"


def by_run(seen: np.ndarray, run: np.ndarray, sessions: Sequence[str]) -> str:
    """How often in each run: ``in all 6 laps of run 1 and in none of 6 laps of run 2``.

    Args:
        seen: laps in which it holds, ``(laps,)``.
        run: index of the run that each lap belongs to, ``(laps,)``.
        sessions: name of each run.
    """
    parts = []
    for number in np.unique(run):
        of_run = seen[run == number]
        how_often = often(int(np.count_nonzero(of_run)), len(of_run))
        parts.append(f"{how_often} of run {sessions[number]}")
    return listed(parts)


def which_laps(seen: np.ndarray, run: np.ndarray, lap: np.ndarray, sessions: Sequence[str]) -> str:
    """The laps by their numbers: ``lap 5 of run 1``, ``laps 2 and 5 of run 1 and lap 3 of run 2``.

    Args:
        seen: laps in which it holds, ``(laps,)``.
        run: index of the run that each lap belongs to, ``(laps,)``.
        lap: number of each lap within its run, ``(laps,)``.
        sessions: name of each run.
    """
    parts = []
    for number in np.unique(run[seen]):
        laps = [str(n) for n in lap[seen & (run == number)]]
        noun = "lap" if len(laps) == 1 else "laps"
        parts.append(f"{noun} {listed(laps)} of run {sessions[number]}")
    return listed(parts)


def sure(p: float) -> str:
    """How sure, in words."""
    return next(word for least, word in SURE if p >= least)
