"""What matters at a corner: its judgements told as one story, cause first, and stories by harm.

Running inside the seam tightens the exit and leaves the exit cone far away: that is one thing to say, not
three. The cause leads, what came with it follows.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from lapkit.course.types import MarkerKind
from lapkit.findings.codes import Code
from lapkit.findings.drifts import FEWEST_CORNERS
from lapkit.findings.judgement import OF_ALL_RUNS, Judgement
from lapkit.findings.meaning import LEAST_DEG
from lapkit.findings.rules import OFF_CAMBER_DEG

_PULLED_DEG, _PULLED_SHARE = 2.5, 0.25
"""Lean that a pulled exit adds, and radius that it takes, where the pull is more than what comes of itself.

Measured: apexes passed 1.5 m wide by simulated riders added 2.1° and took 0.24 of the radius (medians of 23
exits), and 11 of the 23 were below both; so were 9 of 101 exits pulled in by a quarter on purpose.
"""

_OF_EXIT = 0.5
"""Share of the way from the last apex to the exit cone beyond which nothing is tight because of the apex (our choice)."""

_OFF_CAMBER_WEIGHT = 1.5
"""Where the road falls away the same lean is nearer to the limit (our choice of how much)."""

_LAPSE_WEIGHT = 0.3
"""So that whoever sorts findings by harm alone still has habits before most lapses (our choice)."""

_FAST_MPS = 25.0
"""Speed at which harm is told in degrees of lean; it changes no order."""


@dataclass(frozen=True, eq=False)
class Story:
    """Everything at one corner: the judgement that leads and those that came with it."""

    lead: Judgement
    others: tuple[Judgement, ...]

    @property
    def corner(self) -> str:
        """Where it is."""
        return self.lead.evidence.corner.name

    @property
    def harm(self) -> float:
        """The worst of its judgements that are as lasting as the one that leads."""
        lasting = [j for j in self.others if j.habit == self.lead.habit]
        return max(harm(j) for j in (self.lead, *lasting))


def harm(judgement: Judgement) -> float:
    """Lean added × speed × off camber × how sure × how often; a habit before a lapse.

    It orders findings and means nothing else: degrees of lean at 25 m/s in every lap.
    """
    e = judgement.evidence
    added = judgement.typical(judgement.added_deg)
    worth = judgement.code.means.worth_deg
    if judgement.of_the_rider:
        worth = max(worth, LEAST_DEG)
    lean = max(added, worth) if np.isfinite(added) else worth
    speed = judgement.typical(e.laps.slowest_mps) / _FAST_MPS
    weight = _OFF_CAMBER_WEIGHT if judgement.camber_deg <= OFF_CAMBER_DEG else 1.0
    often = judgement.share * (1.0 if judgement.habit else _LAPSE_WEIGHT)
    return lean * speed * weight * judgement.p * often


def most_missed(judged: Sequence[Judgement]) -> Judgement | None:
    """The cone missed as a habit in most laps, of such the one missed by most; None unless of several."""
    missed = [j for j in judged if j.code.means.of_cone and j.habit]
    if len(missed) < 2:
        return None
    return max(missed, key=lambda j: (np.count_nonzero(j.seen), j.typical(j.size)))


def stories(judged: Sequence[Judgement]) -> list[Story]:
    """One story a corner; habits before lapses, what is mended last.

    In front stands the fault that does most harm over the whole lap, at the corner where it does most:
    one focus a session. The others follow by the harm that they do.
    """
    by_corner: dict[str, list[Judgement]] = {}
    for judgement in judged:
        by_corner.setdefault(judgement.evidence.corner.name, []).append(judgement)
    wide = _passes_apexes_wide(by_corner)
    found = [_story(here, wide) for here in by_corner.values()]
    over_lap: dict[tuple[int, Code], float] = {}
    for story in found:
        key = _standing(story.lead), story.lead.code
        over_lap[key] = over_lap.get(key, 0.0) + story.harm
    worst = min(over_lap, key=lambda key: (key[0], -over_lap[key]), default=None)

    def order(story: Story) -> tuple[int, bool, float]:
        key = _standing(story.lead), story.lead.code
        return key[0], key != worst, -story.harm

    ranked = sorted(found, key=order)
    return [*ranked[:1], *sorted(ranked[1:], key=lambda s: (_standing(s.lead), -s.harm))]


def _passes_apexes_wide(by_corner: Mapping[str, Sequence[Judgement]]) -> bool:
    """Whether he passes apexes wide, as a habit, at several corners whose exits stay open: not because of an exit.

    Measured on 16 simulated riders each: who meant to pass every apex 1.5 m wide did so at 5 to 7 corners, who
    pulled in every exit by a quarter, from a wide apex, at none or one, and one of them at three.
    """
    habits = [{j.code for j in here if j.habit} for here in by_corner.values()]
    alone = [
        codes for codes in habits if Code.APEX_MISSED in codes and Code.EXIT_TIGHTENED not in codes
    ]
    return len(alone) >= FEWEST_CORNERS


def _story(here: Sequence[Judgement], wide: bool) -> Story:
    """The judgements of one corner: what lasts first, of that the cause; ``wide`` who passes apexes wide anyhow."""

    def order(judgement: Judgement) -> tuple[int, float]:
        cause = float(judgement.code.cause)
        if judgement.code is Code.EXIT_TIGHTENED and _comes_of_the_apex(judgement, here, wide):
            cause = Code.APEX_MISSED.cause + 0.5
        if judgement.of_the_rider:
            # Cones are missed in the later laps because the line moves, and not the other way round.
            cause = Code.APEX_MISSED.cause - 0.5
        return _standing(judgement), cause

    first, *rest = sorted(here, key=order)
    return Story(first, tuple(rest))


def _comes_of_the_apex(tightened: Judgement, here: Sequence[Judgement], wide: bool) -> bool:
    """Whether a tightened exit comes of itself from an apex passed wide, which then is the thing to say.

    So it is where it is tightest before half way to the exit cone, and either little was added, or the same laps
    mostly miss the apex and he passes apexes wide at other corners too, or they are not inside the marker line any
    more when they pass the exit cone: an exit that is pulled in ends inside. Measured on the same riders, 23 exits
    tightened by an apex passed 1.5 m wide and 101 pulled in by a quarter from a wide one: 20 of the 23 have the
    apex told first by what is seen at their corner alone, 11 by how little was added, and 10 of the 101; of 46
    pulled in by 15 % 16.
    """
    e = tightened.evidence
    after_m = tightened.typical(e.laps.exit_tightest_after_apex_m)
    if after_m > _OF_EXIT * (e.corner.exit_m - e.corner.last_apex_m):
        return False
    added, lost = tightened.typical(tightened.added_deg), tightened.typical(tightened.size)
    if added < _PULLED_DEG and lost < _PULLED_SHARE:
        return True
    missed = [j for j in here if j.code is Code.APEX_MISSED and j.habit == tightened.habit]
    if not any(np.mean(j.seen[tightened.shown_by]) > OF_ALL_RUNS for j in missed):
        return False
    last = e.last_marker(MarkerKind.EXIT)
    if wide or last is None:
        return wide
    return tightened.typical(e.cones[last.name].wide_of_line_m.value) >= 0.0


def _standing(judgement: Judgement) -> int:
    """What is told first, by how he rides now.

    0 is a habit, 1 one that the last run does not surely show, 2 a lapse of the last run, 3 what is mended, 4 a
    lapse of earlier runs.
    """
    if judgement.habit:
        return 1 if judgement.fading else 0
    if judgement.mended:
        return 3
    return 2 if judgement.in_last_run else 4
