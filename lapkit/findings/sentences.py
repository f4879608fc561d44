"""Every sentence that findings are told in but what is said first, which stands with its code (:mod:`lapkit.findings.codes`).

Plain English with the trade's words; left and right, inside and wide, early and late in place of
signs; how sure in words. A template is filled from the facts that
:mod:`lapkit.findings.figures` works out.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from lapkit.compare.lap_values import LEAN, LINE, RADIUS, TURN_IN
from lapkit.counting import listed
from lapkit.findings.codes import Code

TEXTS: dict[str, str] = {
    "exit_tighter": "The exit is tighter than the marker line’s {often}: {radius} radius{radius_aside} where the marker "
    "line keeps {line_radius}, tightest {after_apex} after the last apex.",
    "was": "No longer a habit: {what}, {runs}.",
    "was_more": "{what}: {runs}.",
}
"""What is said first in place of a code's own words."""

DETAILS: dict[str, str] = {
    "radius": "The exit’s tightest radius is {radius}{radius_aside} where the marker line keeps {line_radius}.",
    "lean": "At the exit it takes {lean} more lean to the {turn} than the marker line would at that speed.",
    "lean_took": "At the exit it took {lean} more lean to the {turn} than the marker line would have at that "
    "speed.",
    "off_camber": "The road falls away by {camber} there: seen from the road, the lean is that much more still.",
    "with_it": "What comes with it: {others}.",
    "also_at": "Seen at {corners} too.",
    "of_the_rider": "Alike at so many corners, it comes with the run and not with one corner: tiring, or the tyres.",
    "runs": "Run by run: {runs}.",
    "tighter_runs": "Tighter {runs}.",
    "than_at_apex": "At the apex the radius was still {radius}; the line was pulled in after that.",
    "lean_saved": "On the marker line the same speeds would have taken {lean} less lean to the {turn}{where}.",
    "lane": "At the {cone} that is lane {lane}; lane {lane_set} is the one to be in.",
    "most_missed": "Of all cones this one is missed most.",
    "nothing_to_work_on": "Nothing to work on: ask why, and the cones are worth a look.",
    "ask_why": "That is no fault: ask why, and the cones are worth a look.",
    "would_have": "On the marker line the same speeds would have taken {lean} less lean to the {turn}{where}: that is "
    "margin. Ridden there with the lean and drive that were used, it would have been {speed} more at the "
    "slowest point and {seconds} less over the corner. That is arithmetic and no advice.",
    "sure": "How sure: {sure}.",
    "was_sure": "How sure that it was so: {sure}.",
    "which_laps": "Tighter in {laps}.",
    "no_more_lean": "Over the whole exit it mostly takes no more lean than the marker line asks for at the same "
    "speeds: no fault by itself.",
    "little_tighter": "It is only a little tighter than the marker line’s: no fault by itself.",
    "called": "{count} as an exit that tightens: too few for a habit.",
    "called_in": "{count} as an exit that tightens ({laps}): too few for a habit.",
    "lapse": "A lapse, not a habit.",
    "lapses": "Lapses, not a habit.",
}
"""What is added to it."""

EVENT: dict[str, str] = {
    "talk_first": "Talk to {rider} first: {what} at {where}.",
    "talk_next": "Then {rider}: {what} at {where}.",
    "corner_troubles": "{corner} troubles {count} of {riders} riders. {what}.",
    "look_at_the_cone": "More than half do the same here: look at the cone before the riders.",
    "cone_missed": "The cone missed most is the {cone} at {corner}: by {riders} {often}, typically by {size}.",
    "inside_openly": "At {corner} {riders} ran inside the {seam} with a longer radius than the marker line’s: "
    "no fault. Ask why, and look at the cones.",
    "inside_seam": "Inside the {seam} at {corner}: {who}.",
    "apart": "{rider} rides {corner} unlike the others{group}: {how}.",
    "tighter": "a tighter exit",
    "opener": "a more open exit",
    "wider": "further out at the {cone}",
    "further_in": "further in at the {cone}",
    "changed": "{rider}, from run {before} to run {after}: {what}.",
    "unusable": "{rider}, run {session}: the log could not be used, {reason}.",
}
"""What is said of an event."""

CHANGED: dict[str, tuple[str, str]] = {
    RADIUS: ("the exit is tighter", "the exit is more open"),
    LINE: ("further in at the {cone}", "further out at the {cone}"),
    TURN_IN: ("turning in later", "turning in earlier"),
    LEAN: ("less lean", "more lean"),
}
"""A measure that became smaller, and larger, from one run to another."""

ORDINALS = {"1": "first", "2": "second", "3": "third", "4": "fourth"}
"""Seams that a track walk numbers, as a coach names them."""

SURE = (
    (0.99, "almost certain"),
    (0.95, "very likely"),
    (0.9, "likely"),
    (0.0, "not certain"),
)
"""From how probable on, in words."""


def thing(name: str, what: str) -> str:
    """A cone or a seam by its name: ``exit cone``, ``second seam``, ``seam A``; the word stands once."""
    number = name.lower().removeprefix("seam").strip()
    if what == "seam" and number in ORDINALS:
        return f"{ORDINALS[number]} seam"
    if what in name.lower() or not name:
        return name or what
    return f"{name} {what}" if what == "cone" else f"{what} {name}"


def in_short(code: Code, marker: str) -> str:
    """A fault in a few words, with the name of its cone or seam where it is about one; empty for praise and facts."""
    at = code.means.short_at
    if not marker or not at:
        return code.means.short
    return at.format(thing=thing(marker, "seam" if code is Code.INSIDE_SEAM else "cone"))


def often(seen: int, counted: int) -> str:
    """How often: ``in 6 of 8 laps``, ``in all 8 laps``, ``in one of 8 laps``, ``in none of 8 laps``."""
    if not seen:
        return "not in the one lap" if counted == 1 else f"in none of {counted} laps"
    if seen == counted:
        return "in the one lap" if counted == 1 else f"in all {counted} laps"
    return f"in {'one' if seen == 1 else seen} of {counted} laps"


def at_corners(shown: int, of: int) -> str:
    """At how many corners: ``at 5 of 7 corners``, ``at all 7 corners``."""
    return f"at all {of} corners" if shown == of else f"at {shown} of {of} corners"


def these_count(called: int, of: int) -> str:
    """How many of so many laps count as something: ``2 of these 5 laps count``, ``All 3 laps count``, ``It counts``."""
    if called == of:
        return "It counts" if of == 1 else f"All {of} laps count"
    return f"One of these {of} laps counts" if called == 1 else f"{called} of these {of} laps count"


def by_run(seen: np.ndarray, run: np.ndarray, sessions: Sequence[str]) -> str:
    """How often in each run: ``in all 6 laps of run 1 and in none of 6 laps of run 2``.

    Args:
        seen: laps in which it holds, shape ``(laps,)``.
        run: number of the run that each belongs to, ``(laps,)``.
        sessions: names of the runs by that number.
    """
    return listed(
        [
            f"{often(int(seen[run == i].sum()), int((run == i).sum()))} of run {sessions[i]}"
            for i in np.unique(run)
        ]
    )


def which_laps(seen: np.ndarray, run: np.ndarray, lap: np.ndarray, sessions: Sequence[str]) -> str:
    """The laps by their numbers: ``lap 5 of run 1``, ``laps 2 and 5 of run 1 and lap 3 of run 2``.

    Args:
        seen: laps in which it holds, shape ``(laps,)``.
        run: number of the run that each belongs to, ``(laps,)``.
        lap: its number within that run, ``(laps,)``.
        sessions: names of the runs by that number.
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
