"""The judgements at a corner as one story with its cause first, and the stories of all corners by the harm they do.

Running inside the seam tightens the exit and leaves the exit cone far away: that is one thing to say, not three. The cause
leads the story, what came with it follows.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import IntEnum

import numpy as np

from lapkit.course.types import MarkerKind
from lapkit.findings.codes import Code
from lapkit.findings.drifts import FEWEST_CORNERS
from lapkit.findings.judgement import OF_ALL_RUNS, Judgement
from lapkit.findings.meaning import LEAST_DEG
from lapkit.findings.rules import OFF_CAMBER_DEG

_PULLED_DEG = 2.5
"""Lean that an exit pulled in on purpose adds at least, degrees; a smaller sum comes of itself after a wide apex.

Measured with :data:`_PULLED_SHARE`: apexes that simulated riders passed 1.5 m wide added 2.1° and took 0.24 of the radius
(medians of 23 exits). Of those 23 exits 11 were below both limits, and so were 9 of 101 that were pulled in by a quarter.
"""

_PULLED_SHARE = 0.25
"""Share of the radius that an exit pulled in on purpose takes at least."""

_OF_EXIT = 0.5
"""Share of the way from last apex to exit cone beyond which nothing is tight because of the apex (our choice)."""

_OFF_CAMBER_WEIGHT = 1.5
"""Factor on harm where the road falls away: the same lean is nearer to the limit there (the size is our choice)."""

_LAPSE_WEIGHT = 0.3
"""Factor on the harm of a lapse, so that sorting by harm alone still puts habits before most lapses (our choice)."""

_FAST_MPS = 25.0
"""Speed at which harm is in degrees of lean; a common factor that changes no order."""


@dataclass(frozen=True, eq=False)
class Story:
    """All judgements at one corner: the one that leads, and those that came with it."""

    lead: Judgement
    others: tuple[Judgement, ...]

    @property
    def corner(self) -> str:
        """Name of the corner."""
        return self.lead.evidence.corner.name

    @property
    def harm(self) -> float:
        """Largest harm of its judgements that are habits, if the one that leads is a habit; else of those that are none."""
        like_lead = [j for j in self.others if j.habit == self.lead.habit]
        return max(harm(j) for j in (self.lead, *like_lead))


def harm(judgement: Judgement) -> float:
    """Lean added × speed × camber × probability × share of laps, less for a lapse.

    Lean that the radius of a pulled-in exit cost counts as added, even if he slowed down and leaned no further over the exit.

    It is in degrees of lean at 25 m/s in every lap. It serves to order findings and means nothing else.
    """
    evidence = judgement.evidence
    added = judgement.typical(judgement.added_deg)
    if judgement.code in (Code.INSIDE_SEAM, Code.EXIT_TIGHTENED):
        added = np.fmax(added, judgement.typical(evidence.laps.exit_radius_cost_deg))
    worth = judgement.code.means.worth_deg
    if judgement.of_the_rider:
        worth = max(worth, LEAST_DEG)
    lean = max(added, worth) if np.isfinite(added) else worth
    speed = judgement.typical(evidence.laps.slowest_mps) / _FAST_MPS
    weight = _OFF_CAMBER_WEIGHT if judgement.camber_deg <= OFF_CAMBER_DEG else 1.0
    often = judgement.share * (1.0 if judgement.habit else _LAPSE_WEIGHT)
    return lean * speed * weight * judgement.p * often


def most_missed(judged: Sequence[Judgement]) -> Judgement | None:
    """The cone missed in most laps, among equals by most metres; None unless several are missed as a habit."""
    missed = [j for j in judged if j.code.means.of_cone and j.habit]
    if len(missed) < 2:
        return None
    return max(missed, key=lambda j: (np.count_nonzero(j.seen), j.typical(j.size)))


def stories(judged: Sequence[Judgement]) -> list[Story]:
    """One story for each corner: habits before lapses, what is mended last.

    The first story is about the fault that does most harm over the whole lap, at the corner where it does most: one focus a
    session. The others follow by their own harm.
    """
    by_corner: dict[str, list[Judgement]] = {}
    for judgement in judged:
        by_corner.setdefault(judgement.evidence.corner.name, []).append(judgement)
    wide_everywhere = _passes_apexes_wide(by_corner)
    found = [_story(here, wide_everywhere) for here in by_corner.values()]
    if not found:
        return []
    over_lap: dict[tuple[Standing, Code], float] = {}
    for story in found:
        key = _standing(story.lead), story.lead.code
        over_lap[key] = over_lap.get(key, 0.0) + story.harm
    standing, code = min(over_lap, key=lambda key: (key[0], -over_lap[key]))
    worst = [s for s in found if (_standing(s.lead), s.lead.code) == (standing, code)]
    first = max(worst, key=lambda story: story.harm)
    others = [story for story in found if story is not first]
    return [first, *sorted(others, key=lambda story: (_standing(story.lead), -story.harm))]


def _passes_apexes_wide(by_corner: Mapping[str, Sequence[Judgement]]) -> bool:
    """Whether he passes apexes wide, as a habit, at several corners whose exits stay open, so not for the sake of an exit.

    Measured on 16 simulated riders each. Those who meant to pass every apex 1.5 m wide did so at 5 to 7 corners. Those who
    pulled in every exit by a quarter, from a wide apex, did so at none or one corner, and one of them at three.
    """
    habits = [{j.code for j in here if j.habit} for here in by_corner.values()]
    wide_only = [
        codes for codes in habits if Code.APEX_MISSED in codes and Code.EXIT_TIGHTENED not in codes
    ]
    return len(wide_only) >= FEWEST_CORNERS


def _story(here: Sequence[Judgement], wide_everywhere: bool) -> Story:
    """The judgements of one corner, the most lasting first and among those the cause.

    ``wide_everywhere`` says that the rider passes apexes wide at other corners too.
    """

    def order(judgement: Judgement) -> tuple[Standing, float]:
        cause = float(judgement.code.cause)
        tightened = judgement.code is Code.EXIT_TIGHTENED
        if tightened and _comes_of_the_apex(judgement, here, wide_everywhere):
            cause = Code.APEX_MISSED.cause + 0.5
        if judgement.of_the_rider:
            # Cones are missed in the later laps because the line drifts, and not the other way round.
            cause = Code.APEX_MISSED.cause - 0.5
        return _standing(judgement), cause

    first, *rest = sorted(here, key=order)
    return Story(first, tuple(rest))


def _comes_of_the_apex(
    tightened: Judgement, here: Sequence[Judgement], wide_everywhere: bool
) -> bool:
    """Whether a tightened exit follows by itself from an apex passed wide, which is then the thing to say.

    It does if the apex is missed as often as the exit is told of (both as a habit, or both as a lapse), the exit is
    tightest less than half way to its cone, and one of these holds:

    - little lean was added and little radius lost;
    - most of the same laps miss the apex, and he passes apexes wide at other corners too;
    - most of the same laps miss the apex, and they pass the exit cone no longer inside the marker line: an exit that is
      pulled in ends inside.

    Measured on simulated riders. Of 23 exits tightened by an apex passed 1.5 m wide, 20 have the apex told first by what is
    seen at their corner alone (11 by the first condition). So do 10 of 101 exits pulled in by a quarter from a wide apex,
    and 16 of 46 pulled in by 15 %.
    """
    evidence = tightened.evidence
    missed = [j for j in here if j.code is Code.APEX_MISSED and j.habit == tightened.habit]
    after_apex_m = tightened.typical(evidence.laps.exit_tightest_after_apex_m)
    half_way_m = _OF_EXIT * (evidence.corner.exit_m - evidence.corner.last_apex_m)
    if not missed or after_apex_m > half_way_m:
        return False
    added, lost = tightened.typical(tightened.added_deg), tightened.typical(tightened.size)
    if added < _PULLED_DEG and lost < _PULLED_SHARE:
        return True
    if not any(np.mean(j.seen[tightened.shown_by]) > OF_ALL_RUNS for j in missed):
        return False
    last = evidence.last_marker(MarkerKind.EXIT)
    if wide_everywhere or last is None:
        return wide_everywhere
    return tightened.typical(evidence.cones[last.name].wide_of_line_m.value) >= 0.0


class Standing(IntEnum):
    """How a judgement stands to the way he rides now, in the order of telling."""

    HABIT = 0
    FADING_HABIT = 1
    """A habit that the last run does not surely show."""
    LAPSE = 2
    """A lapse of the last run."""
    MENDED = 3
    EARLIER_LAPSE = 4
    """A lapse of earlier runs."""


def _standing(judgement: Judgement) -> Standing:
    if judgement.habit:
        return Standing.FADING_HABIT if judgement.fading else Standing.HABIT
    if judgement.mended:
        return Standing.MENDED
    return Standing.LAPSE if judgement.in_last_run else Standing.EARLIER_LAPSE
