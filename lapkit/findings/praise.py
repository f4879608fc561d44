"""The one thing done well; there nearly always is one."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import replace

import numpy as np

from lapkit.compare.changes import RunChanges
from lapkit.compare.corners import TIGHTENED_BELOW
from lapkit.compare.lap_values import LINE, RADIUS
from lapkit.findings import numbers, sentences
from lapkit.findings.codes import Code
from lapkit.findings.evidence import FEWEST_LAPS, Evidence
from lapkit.findings.finding import Finding, Kind
from lapkit.findings.judgement import Judgement
from lapkit.findings.mended import surely_mended
from lapkit.findings.place import Place
from lapkit.findings.sentences import Detail
from lapkit.findings.stories import harm
from lapkit.rounding import REACH
from lapkit.units import Units

ON_LINE_M = 1.0
"""A usual lap within this of the marker line at every cone is on it, metres."""

NEAR_M = 1.5
"""A usual lap further away than this is not near the line, even if it is the nearest, metres."""


def done_well(
    evidence: Sequence[Evidence],
    judged: Sequence[Judgement],
    between: RunChanges,
    units: Units,
) -> list[Finding]:
    """One finding of kind ``well``; none if hardly any lap could be judged at any corner.

    It is the first of these that there is:

    - a habit that he surely mended;
    - an exit that he surely opened from the first run to the last;
    - a corner without trouble that he rides on the marker line or near it;
    - a cone that he passes where he should;
    - the most even of the corners without trouble, else the most even of all, with a word that this goes for nothing else.

    A corner with trouble is not praised as near the line, nor a cone that a fault is about: praise would take back what is
    said of them.

    Args:
        evidence: the corners that may be praised.
        judged: all judgements, including facts and exits that are no fault.
        between: the rider's runs, and what changed between them.
        units: units that he reads.
    """
    known = [e for e in evidence if e.count]
    if not known:
        return []
    troubled = {j.evidence.corner.name for j in judged}
    untroubled = [e for e in known if e.corner.name not in troubled]
    faulty_cones = {(j.evidence.corner.name, j.at_cone) for j in judged}
    well = (
        _mended(judged, between)
        or _opened(known, between, units)
        or _near_line(untroubled, units)
        or _at_cone(known, faulty_cones, units)
        or _steady(untroubled, units)
        or _steady_alone(known, units)
    )
    return [well] if well else []


def _mended(judged: Sequence[Judgement], between: RunChanges) -> Finding | None:
    """A habit that he surely gave up.

    Of several at one corner it is the cause, as with faults: he opened the exit, and less lean came with it.
    """
    mended: dict[str, Judgement] = {}
    for judgement in sorted(judged, key=lambda j: j.code.cause):
        if judgement.mended and surely_mended(judgement, between):
            mended.setdefault(judgement.evidence.corner.name, judgement)
    if not mended:
        return None
    best = max(mended.values(), key=lambda j: (not j.in_last_run, j.share * harm(j)))
    evidence = best.evidence
    text = Code.MENDED.means.text.format(
        what=best.code.means.short,
        runs=sentences.by_run(best.seen, evidence.run, evidence.sessions),
    )
    return _well(evidence, Code.MENDED, text, best.typical(best.size), place=best.place)


def _opened(candidates: Sequence[Evidence], between: RunChanges, units: Units) -> Finding | None:
    """An exit tighter than the marker line's in the first run that is surely wider in the last."""
    if len(between.runs) < 2:
        return None
    changes = between.changes(0, len(between.runs) - 1).values()
    opened = [c for c in changes if c.found and c.measure == RADIUS and c.change > 0.0]
    by_corner = {each.corner.name: each for each in candidates}
    for change in sorted(opened, key=lambda c: c.p):
        evidence = by_corner.get(change.corner)
        if evidence is None:
            continue
        if change.before < TIGHTENED_BELOW * evidence.standard.exit_radius_m:
            text = Code.OPENED.means.text.format(
                before=numbers.metres(change.before, units),
                after=numbers.metres(change.after, units),
                since=evidence.sessions[0],
            )
            return _well(evidence, Code.OPENED, text, change.change)
    return None


def _near_line(candidates: Sequence[Evidence], units: Units) -> Finding | None:
    """The corner ridden nearest to the marker line.

    A corner whose exit is mostly tighter than the line's is not praised, however near the cones it is ridden.
    """
    open_exits = [each for each in candidates if not _mostly_tightened(each)]
    nearest = min(open_exits, key=_farthest_m, default=None)
    if nearest is None or (away_m := _farthest_m(nearest)) > NEAR_M:
        return None
    on_line = away_m <= ON_LINE_M and nearest.count >= FEWEST_LAPS
    code = Code.ON_LINE if on_line else Code.NEAR_LINE
    text = code.means.text.format(lap=_lap(nearest), size=numbers.metres(max(away_m, 0.1), units))
    example = _median_lap(nearest, [m.name for m in nearest.corner.ridden_past])
    return _well(nearest, code, text, away_m, example=example)


def _mostly_tightened(evidence: Evidence) -> bool:
    """Whether the exit of the median lap is below :data:`TIGHTENED_BELOW`; not where its radius is unknown."""
    return bool(np.median(evidence.laps.exit_radius_ratio) < TIGHTENED_BELOW)


def _at_cone(
    candidates: Sequence[Evidence], faulty: Collection[tuple[str, str]], units: Units
) -> Finding | None:
    """The cone at which the usual lap is nearest to the marker line; ``faulty`` are pairs of corner and cone left out."""
    near = [
        (away_m, each, marker)
        for each in candidates
        for marker in each.corner.ridden_past
        if (each.corner.name, marker.name) not in faulty
        and (away_m := _away_m(each, marker.name)) <= ON_LINE_M
    ]
    if not near:
        return None
    away_m, evidence, marker = min(near, key=lambda cone: cone[0])
    text = Code.AT_CONE.means.text.format(
        cone=sentences.cone_called(marker.name),
        size=numbers.metres(max(away_m, 0.1), units),
        lap=_lap(evidence),
    )
    example = _median_lap(evidence, [marker.name])
    place = Place.of_cone(marker)
    return _well(evidence, Code.AT_CONE, text, away_m, place=place, example=example)


def _steady(candidates: Sequence[Evidence], units: Units) -> Finding | None:
    """The corner with the most even tightest radius; one or two laps show no evenness."""
    enough = [each for each in candidates if each.count >= FEWEST_LAPS]
    steadiest = min(enough, key=_unevenness, default=None)
    if steadiest is None:
        return None
    radius = steadiest.laps.radius_min_m
    text = Code.STEADY.means.text.format(
        low=numbers.metres(radius.min(), units), high=numbers.metres(radius.max(), units)
    )
    return _well(steadiest, Code.STEADY, text, float(np.ptp(radius)))


def _steady_alone(candidates: Sequence[Evidence], units: Units) -> Finding | None:
    """As :func:`_steady`, of corners with trouble: whoever rides the same wrong line in every lap is even, too."""
    steady = _steady(candidates, units)
    return replace(steady, text=f"{steady.text} {Detail.EVEN_ALONE}") if steady else None


def _unevenness(evidence: Evidence) -> float:
    """Standard deviation of the tightest radius from lap to lap, as a share of its mean."""
    radius = evidence.laps.radius_min_m
    return float(np.std(radius) / np.mean(radius))


def _lap(evidence: Evidence) -> str:
    """The lap that is praised, in words: the usual lap, as the page tells of it."""
    if evidence.count == 1:
        return "the only measured lap"
    if len(np.unique(evidence.run[evidence.last_run])) > 1:
        return "the usual lap over all runs"
    if len(evidence.sessions) == 1:
        return "the usual lap"
    return f"the usual lap of run {evidence.session(int(np.argmax(evidence.last_run)))}"


def _away_m(evidence: Evidence, marker: str) -> float:
    """Distance from the marker line that the usual lap surely keeps within at a marker, metres; NaN where not known."""
    usual = evidence.usual_in_last_run(LINE, marker)
    return abs(usual.mean) + REACH * usual.sd


def _farthest_m(evidence: Evidence) -> float:
    """:func:`_away_m` at the cone where it is largest, metres; infinite where it is known at none."""
    away = [_away_m(evidence, marker.name) for marker in evidence.corner.ridden_past]
    return max((metres for metres in away if np.isfinite(metres)), default=float("inf"))


def _median_lap(evidence: Evidence, markers: Sequence[str]) -> int:
    """Index of the last run's median lap by distance from the line, at the one of these markers where that is largest."""
    away = np.abs([evidence.cones[name].wide_of_line_m.value for name in markers])
    farthest = np.fmax.reduce(np.where(np.isnan(away), -np.inf, away))
    known = np.flatnonzero(np.isfinite(farthest) & evidence.last_run)
    order = known[np.argsort(farthest[known], kind="stable")]
    return int(order[(len(order) - 1) // 2])


def _well(
    evidence: Evidence,
    code: Code,
    text: str,
    size: float,
    *,
    place: Place | None = None,
    example: int = -1,
) -> Finding:
    """The finding. Without a ``place`` it points to the last apex; without an ``example`` it shows the last lap."""
    place = place or Place(evidence.corner.last_apex_m)
    return Finding(
        rider=evidence.rider,
        corner=evidence.corner.name,
        code=code,
        laps_seen=evidence.count,
        laps_counted=evidence.count,
        p=1.0,
        size=float(size),
        text=text,
        kind=Kind.WELL,
        station_m=place.station_m,
        marker=place.name,
        lap=int(evidence.number[example]),
        session=evidence.session(example),
    )
