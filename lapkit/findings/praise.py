"""The one thing done well; there nearly always is one."""

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
"""A usual lap within this of the marker line at every cone is on it, metres."""

NEAR_M = 1.5
"""A usual lap further away than this is not near the line, even if it is the nearest, metres."""

_SURELY = 1.96  # standard deviations to either end of a 95 % interval


def done_well(
    evidence: Sequence[Evidence],
    judged: Sequence[Judgement],
    between: RunChanges,
    units: Units,
) -> list[Finding]:
    """One finding of kind ``well``; none if hardly a lap could be judged anywhere.

    It is the first of these that there is:

    - a habit that he surely mended;
    - an exit that he surely opened from the first run to the last;
    - a corner without trouble that he rides on the marker line or near it;
    - a cone that he passes where he should;
    - the most even of the corners without trouble, else the most even of all.

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
        or _steady(known, units)
    )
    return [well] if well else []


def _mended(judged: Sequence[Judgement], between: RunChanges) -> Finding | None:
    """A habit that he surely left off.

    Of several at one corner it is the cause, as with faults: he opened the exit, and less lean came with it.
    """
    mended: dict[str, Judgement] = {}
    for judgement in sorted(judged, key=lambda j: j.code.cause):
        if judgement.mended and surely_mended(judgement, between):
            mended.setdefault(judgement.evidence.corner.name, judgement)
    if not mended:
        return None
    best = max(mended.values(), key=lambda j: (not j.in_last_run, j.share * harm(j)))
    e = best.evidence
    text = Code.MENDED.means.text.format(
        what=best.code.means.short, runs=sentences.by_run(best.seen, e.run, e.sessions)
    )
    return _well(e, Code.MENDED, text, best.typical(best.size), place=best.place)


def _opened(evidence: Sequence[Evidence], between: RunChanges, units: Units) -> Finding | None:
    """An exit tighter than the marker line's in the first run that is surely wider in the last."""
    if len(between.runs) < 2:
        return None
    changes = between.changes(0, len(between.runs) - 1).values()
    opened = [c for c in changes if c.found and c.measure == RADIUS and c.change > 0.0]
    corners = {e.corner.name: e for e in evidence}
    for change in sorted(opened, key=lambda c: c.p):
        e = corners.get(change.corner)
        if e is not None and change.before < TIGHTENED_BELOW * e.standard.exit_radius_m:
            text = Code.OPENED.means.text.format(
                before=numbers.metres(change.before, units),
                after=numbers.metres(change.after, units),
                since=e.sessions[0],
            )
            return _well(e, Code.OPENED, text, change.change)
    return None


def _near_line(evidence: Sequence[Evidence], units: Units) -> Finding | None:
    """The corner ridden nearest to the marker line.

    A corner whose exit is mostly tighter than the line's is not praised, however near the cones it is ridden.
    """
    open_exits = [
        e for e in evidence if not float(np.median(e.laps.exit_radius_ratio)) < TIGHTENED_BELOW
    ]
    e = min(open_exits, key=_farthest_m, default=None)
    if e is None or (away_m := _farthest_m(e)) > NEAR_M:
        return None
    on_line = away_m <= ON_LINE_M and e.count >= FEWEST_LAPS
    code = Code.ON_LINE if on_line else Code.NEAR_LINE
    text = code.means.text.format(lap=_lap(e), size=numbers.metres(max(away_m, 0.1), units))
    example = _median_lap(e, [m.name for m in e.corner.markers])
    return _well(e, code, text, away_m, example=example)


def _at_cone(
    evidence: Sequence[Evidence], faulty: Collection[tuple[str, str]], units: Units
) -> Finding | None:
    """The cone at which the usual lap is nearest to the marker line; ``faulty`` are pairs of corner and cone left out."""
    near = [
        (_away_m(e, marker.name), e, marker)
        for e in evidence
        for marker in e.corner.markers
        if (e.corner.name, marker.name) not in faulty and _away_m(e, marker.name) <= ON_LINE_M
    ]
    if not near:
        return None
    away_m, e, marker = min(near, key=lambda each: each[0])
    text = Code.AT_CONE.means.text.format(
        cone=sentences.cone_called(marker.name),
        size=numbers.metres(max(away_m, 0.1), units),
        lap=_lap(e),
    )
    example = _median_lap(e, [marker.name])
    return _well(e, Code.AT_CONE, text, away_m, place=Place.of_cone(marker), example=example)


def _steady(evidence: Sequence[Evidence], units: Units) -> Finding | None:
    """The corner with the most even tightest radius; one or two laps show no evenness."""
    e = min((e for e in evidence if e.count >= FEWEST_LAPS), key=_unevenness, default=None)
    if e is None:
        return None
    radius = e.laps.radius_min_m
    text = Code.STEADY.means.text.format(
        low=numbers.metres(radius.min(), units), high=numbers.metres(radius.max(), units)
    )
    return _well(e, Code.STEADY, text, float(np.ptp(radius)))


def _unevenness(e: Evidence) -> float:
    """Standard deviation of the tightest radius from lap to lap, as a share of its mean."""
    radius = e.laps.radius_min_m
    return float(np.std(radius) / np.mean(radius))


def _lap(e: Evidence) -> str:
    """The lap that is praised, in words: the usual lap, as the page tells of it."""
    if e.count == 1:
        return "the only measured lap"
    if len(np.unique(e.run[e.now])) > 1:
        return "the usual lap over all runs"
    if len(e.sessions) == 1:
        return "the usual lap"
    return f"the usual lap of run {e.session(int(np.argmax(e.now)))}"


def _away_m(e: Evidence, marker: str) -> float:
    """Distance from the marker line that the usual lap surely keeps within at a marker, metres; NaN where not known."""
    usual, sd = e.usual_now(LINE, marker)
    return abs(usual) + _SURELY * sd


def _farthest_m(e: Evidence) -> float:
    """:func:`_away_m` at the cone where it is largest, metres; infinite where it is known at none."""
    away = [_away_m(e, marker.name) for marker in e.corner.markers]
    return max((metres for metres in away if np.isfinite(metres)), default=float("inf"))


def _median_lap(e: Evidence, markers: Sequence[str]) -> int:
    """Index of the median lap of now by its distance from the line, at the one of these markers where that is largest."""
    away = np.abs([e.cones[name].wide_of_line_m.value for name in markers])
    farthest = np.fmax.reduce(np.where(np.isnan(away), -np.inf, away))
    known = np.flatnonzero(np.isfinite(farthest) & e.now)
    order = known[np.argsort(farthest[known], kind="stable")]
    return int(order[(len(order) - 1) // 2])


def _well(
    e: Evidence,
    code: Code,
    text: str,
    size: float,
    *,
    place: Place | None = None,
    example: int = -1,
) -> Finding:
    """The finding. Without a ``place`` it points to the last apex; without an ``example`` it shows the last lap."""
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
        lap=int(e.number[example]),
        session=e.session(example),
    )
