"""The one thing done well: there nearly always is one."""

from __future__ import annotations

from collections.abc import Collection, Sequence

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
from lapkit.findings.stories import harm
from lapkit.units import Units

ON_LINE_M = 1.0
"""Within this of the marker line at every cone counts as on it."""

NEAR_M = 1.5
"""Further from it than this is not near, though it be the nearest."""

_SURELY = 1.96  # standard deviations to either end of a 95 % interval


def done_well(
    evidence: Sequence[Evidence],
    judged: Sequence[Judgement],
    between: RunChanges,
    units: Units,
) -> list[Finding]:
    """One finding of kind ``well``; none only where hardly a lap of any corner could be judged.

    The first of these that there is: a habit surely mended, an exit opened from the first run to the last, a corner
    without trouble ridden on the line or near it, a cone passed where it should be, the most even of the corners
    without trouble, the most even of all. Neither a corner with trouble is praised as near the line nor a cone that a
    fault is about: praise would take back what is told of them.

    Args:
        evidence: the corners that may be praised.
        judged: all that was found, facts and exits told aside too.
        between: the rider's runs, and what changed between them.
        units: what he reads.
    """
    known = [e for e in evidence if e.count]
    if not known:
        return []
    troubled = {j.evidence.corner.name for j in judged}
    untroubled = [e for e in known if e.corner.name not in troubled]
    well = (
        _mended(judged, between)
        or _opened(known, between, units)
        or _near_line(untroubled, units)
        or _at_cone(known, {(j.evidence.corner.name, j.at_cone) for j in judged}, units)
        or _steady(untroubled, units)
        or _steady(known, units)
    )
    return [well] if well else []


def _mended(judged: Sequence[Judgement], between: RunChanges) -> Finding | None:
    """A habit that he surely left off; of several at one corner the cause, as with faults.

    He opened the exit: that it then took less lean came with it.
    """
    mended: dict[str, Judgement] = {}
    for judgement in sorted(judged, key=lambda j: j.code.cause):
        if judgement.mended and surely_mended(judgement, between):
            mended.setdefault(judgement.evidence.corner.name, judgement)
    if not mended:
        return None
    best = max(mended.values(), key=lambda j: (not j.in_last_run, j.share * harm(j)))
    e = best.evidence
    parts = sentences.by_run(best.seen, e.run, e.sessions)
    text = Code.MENDED.means.text.format(what=best.code.means.short, runs=parts)
    return _well(e, Code.MENDED, best.typical(best.size), text, best.place)


def _opened(evidence: Sequence[Evidence], between: RunChanges, units: Units) -> Finding | None:
    """An exit that is surely wider in the last run than in the first."""
    if len(between.runs) < 2:
        return None
    found = [
        c for c in between.changes(0, len(between.runs) - 1).values() if c.found and c.change > 0.0
    ]
    opened = [c for c in found if c.measure == RADIUS]
    for each in sorted(opened, key=lambda c: c.p):
        e = next((e for e in evidence if e.corner.name == each.corner), None)
        if e is None or not each.before < TIGHTENED_BELOW * e.standard.exit_radius_m:
            continue
        text = Code.OPENED.means.text.format(
            before=numbers.metres(each.before, units),
            after=numbers.metres(each.after, units),
            since=e.sessions[0],
        )
        return _well(e, Code.OPENED, each.change, text)
    return None


def _near_line(evidence: Sequence[Evidence], units: Units) -> Finding | None:
    """The corner ridden nearest to the marker line.

    One whose exit is mostly tighter than the line's is not praised, however near the cones it is ridden.
    """
    evidence = [
        e for e in evidence if not float(np.median(e.laps.exit_radius_ratio)) < TIGHTENED_BELOW
    ]
    found = [(_farthest_m(e), i) for i, e in enumerate(evidence)]
    found = [each for each in found if each[0] <= NEAR_M]
    if not found:
        return None
    size, i = min(found)
    e = evidence[i]
    on_line = size <= ON_LINE_M and e.count >= FEWEST_LAPS
    code = Code.ON_LINE if on_line else Code.NEAR_LINE
    text = code.means.text.format(lap=_lap(e), size=numbers.metres(max(size, 0.1), units))
    return _well(e, code, size, text, lap=_typical(e, [m.name for m in e.corner.markers]))


def _at_cone(
    evidence: Sequence[Evidence],
    faulty: Collection[tuple[str, str]],
    units: Units,
) -> Finding | None:
    """The cone that the usual lap passes nearest to where the marker line does; none of corner and cone ``faulty``."""
    found = [
        (_away_m(e, m.name), i, m.name)
        for i, e in enumerate(evidence)
        for m in e.corner.markers
        if (e.corner.name, m.name) not in faulty
    ]
    found = [each for each in found if each[0] <= ON_LINE_M]
    if not found:
        return None
    size, i, marker = min(found)
    facts = {
        "cone": sentences.cone_called(marker),
        "size": numbers.metres(max(size, 0.1), units),
        "lap": _lap(evidence[i]),
    }
    e, text = evidence[i], Code.AT_CONE.means.text.format(**facts)
    place = Place.of_cone(e.marker(marker))
    return _well(e, Code.AT_CONE, size, text, place, _typical(e, [marker]))


def _steady(evidence: Sequence[Evidence], units: Units) -> Finding | None:
    """The corner ridden most evenly, by its tightest radius; a lap or two are not even."""
    evidence = [e for e in evidence if e.count >= FEWEST_LAPS]
    if not evidence:
        return None
    e = min(evidence, key=_unevenness)
    radius = e.laps.radius_min_m
    text = Code.STEADY.means.text.format(
        low=numbers.metres(radius.min(), units), high=numbers.metres(radius.max(), units)
    )
    return _well(e, Code.STEADY, float(np.ptp(radius)), text)


def _unevenness(e: Evidence) -> float:
    """Spread of the tightest radius from lap to lap, a share of its mean."""
    radius = e.laps.radius_min_m
    return float(np.std(radius) / np.mean(radius))


def _lap(e: Evidence) -> str:
    """The lap that is praised, in words: the same usual lap that the page tells of."""
    if e.count == 1:
        return "the only measured lap"
    if len(np.unique(e.run[e.now])) > 1:
        return "the usual lap over all runs"
    if len(e.sessions) == 1:
        return "the usual lap"
    return f"the usual lap of run {e.session(int(np.argmax(e.now)))}"


def _away_m(e: Evidence, marker: str) -> float:
    """How far from the marker line the usual lap may be at a marker, metres: its distance, and the doubt about that."""
    usual, sd = e.usual_now(LINE, marker)
    return abs(usual) + _SURELY * sd


def _farthest_m(e: Evidence) -> float:
    """Distance of the usual lap from the marker line at the cone where it is largest, metres."""
    away = [_away_m(e, m.name) for m in e.corner.markers]
    known = [metres for metres in away if np.isfinite(metres)]
    return max(known) if known else float("nan")


def _typical(e: Evidence, markers: Sequence[str]) -> int:
    """Index of the lap that is the median of now in how far it is from the line at the farthest of these markers."""
    away = np.abs([e.cones[name].wide_of_line_m.value for name in markers])
    farthest = np.fmax.reduce(np.where(np.isnan(away), -np.inf, away))
    known = np.flatnonzero(np.isfinite(farthest) & e.now)
    order = known[np.argsort(farthest[known], kind="stable")]
    return int(order[(len(order) - 1) // 2])


def _well(
    e: Evidence,
    code: Code,
    size: float,
    text: str,
    place: Place | None = None,
    lap: int = -1,
) -> Finding:
    """The finding; at the last apex unless it has a place, shown by the lap of an index here, the last one's if not given."""
    place = place or Place(e.corner.last_apex_m)
    return Finding(
        rider=e.rider,
        corner=e.corner.name,
        code=code,
        laps_seen=e.count,
        laps_counted=e.count,
        p=1.0,
        size=float(size),
        text=text,
        kind=Kind.WELL,
        station_m=place.station_m,
        marker=place.name,
        lap=int(e.number[lap]),
        session=e.session(lap),
    )
