"""From judgements to findings: what can hurt first, one thing to work on, two to mind, one done well."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np
import pandas as pd

from lapkit.compare.results import RunResult
from lapkit.course.course import Course
from lapkit.findings import sentences
from lapkit.findings.evidence import Evidence, gather
from lapkit.findings.finding import Finding, Kind
from lapkit.findings.judgement import FEWEST_LAPS, Judgement
from lapkit.findings.rules import OFF_CAMBER_DEG, judgements
from lapkit.findings.sentences import Units

COLUMNS = ("rider", "corner", "code", "laps_seen", "laps_counted", "p", "size", "text", "cue")
"""Columns of the table ``findings``, as the contract names them; ``kind`` and ``marker`` follow."""

ON_LINE_M = 1.0
"""Within this of the marker line at every cone counts as on it."""

_MINDED = 2
_OFF_CAMBER_WEIGHT = 1.5
_IN_DEGREES = ("lean_off_camber", "lean_added")
# What a finding without added lean is worth, in degrees of lean, so that consistency comes after
# harm.
_BASE_DEG = {"cone_wrong_side": 2.0, "exit_tightened": 1.5, "inside_seam": 1.5, "uneven": 0.3}
_LEAST_DEG = 0.5


def find(
    runs: Sequence[RunResult], course: Course, group: str = "", *, units: str = "metric"
) -> tuple[Finding, ...]:
    """What to say to one rider, most urgent first.

    Args:
        runs: his runs in time order.
        course: what they were ridden on.
        group: his riding group; nothing in a finding ranks by lap time, whatever the group.
        units: ``metric`` or ``us``.

    Raises:
        OptionError: there are no such units.
    """
    chosen = Units.named(units)
    evidence = gather(runs, course)
    judged = sorted((j for e in evidence for j in judgements(e)), key=_harm, reverse=True)
    found, spoken = [], set[str]()
    for judgement in judged:
        # A corner is spoken of once on the first page; what else goes on there follows later.
        first = judgement.evidence.corner.name not in spoken and not judgement.mended
        kind = Kind.OTHER
        if first and len(spoken) <= _MINDED:
            kind = Kind.MIND if spoken else Kind.WORK
            spoken.add(judgement.evidence.corner.name)
        found.append(_finding(judgement, kind, runs, chosen))
    found.sort(key=lambda f: [Kind.WORK, Kind.MIND, Kind.OTHER].index(f.kind))
    return (*found, *_done_well(evidence, judged, runs, chosen))


def findings_table(findings: Iterable[Finding]) -> pd.DataFrame:
    """Findings as the contract's table."""
    columns = [*COLUMNS, "kind", "marker"]
    rows = [
        [str(v) if c == "kind" else v for c in columns for v in [getattr(f, c)]] for f in findings
    ]
    return pd.DataFrame(rows, columns=columns)


def _harm(judgement: Judgement) -> float:
    """Lean added × speed × off camber × how sure × how often; a habit before a lapse."""
    e = judgement.evidence
    added = judgement.typical(judgement.added_deg)
    lean = max(added if np.isfinite(added) else 0.0, _BASE_DEG.get(judgement.code, _LEAST_DEG))
    speed = judgement.typical(e.lap("slowest_mps"))
    camber = _OFF_CAMBER_WEIGHT if e.corner.camber_deg <= OFF_CAMBER_DEG else 1.0
    often = judgement.share if judgement.habit else 0.3 * judgement.share
    return lean * (speed if np.isfinite(speed) else 1.0) * camber * judgement.p * often


def _finding(judgement: Judgement, kind: Kind, runs: Sequence[RunResult], units: Units) -> Finding:
    e = judgement.evidence
    facts = _facts(judgement, units)
    text = sentences.TEXTS[judgement.code].format(**facts)
    if judgement.mended:
        text = sentences.TEXTS["mended"].format(what=sentences.SHORT[judgement.code])
    shown = judgement.shown
    return Finding(
        rider=e.rider,
        corner=e.corner.name,
        code=judgement.code,
        laps_seen=int(np.count_nonzero(judgement.seen)),
        laps_counted=e.count,
        p=float(judgement.p),
        size=judgement.typical(judgement.size),
        text=text,
        cue=e.corner.cues[0] if e.corner.cues else "",
        kind=kind,
        station_m=judgement.station_m,
        marker=judgement.marker,
        lap=int(e.laps["lap"].iloc[shown]),
        session=runs[int(e.run[shown])].session,
        habit=judgement.habit,
        details=_details(judgement, units),
    )


def _facts(judgement: Judgement, units: Units) -> dict[str, str]:
    """What the sentence's template may ask for."""
    e = judgement.evidence
    size = judgement.typical(judgement.size)

    def metres_of(column: str) -> str:
        value = judgement.typical(e.lap(column)) if column in e.laps else float("nan")
        return sentences.metres(value, units)

    return {
        "often": sentences.often(int(np.count_nonzero(judgement.seen)), e.count),
        "radius": metres_of("exit_radius_min_m"),
        "line_radius": metres_of("line_exit_radius_min_m"),
        "after_apex": metres_of("exit_tightest_after_apex_m"),
        "seam": judgement.marker,
        "marker": judgement.marker,
        "size": sentences.metres(size, units),
        "lean": sentences.degrees(size),
    }


def _details(judgement: Judgement, units: Units) -> tuple[str, ...]:
    e = judgement.evidence
    told = []
    added = judgement.typical(judgement.added_deg)
    if judgement.code not in _IN_DEGREES and np.isfinite(added) and round(added) >= 1:
        lean = sentences.degrees(added)
        told.append(sentences.DETAILS["lean"].format(lean=lean, turn=e.corner.turn.value))
    if e.corner.camber_deg <= OFF_CAMBER_DEG:
        camber = sentences.degrees(e.corner.camber_deg)
        told.append(sentences.DETAILS["off_camber"].format(camber=camber))
    told.append(sentences.DETAILS["sure"].format(sure=sentences.sure(judgement.p)))
    if not judgement.habit and not judgement.mended:
        told.append(sentences.DETAILS["lapse"])
    return tuple(told)


def _done_well(
    evidence: Sequence[Evidence],
    judged: Sequence[Judgement],
    runs: Sequence[RunResult],
    units: Units,
) -> list[Finding]:
    """The corner ridden closest to the marker line; one without any trouble where there is one."""
    troubled = {j.evidence.corner.name for j in judged}
    far = [
        (e.corner.name in troubled, _farthest_m(e), e) for e in evidence if e.count >= FEWEST_LAPS
    ]
    far = [one for one in far if np.isfinite(one[1])]
    if not far:
        return []
    trouble, size, e = min(far, key=lambda one: one[:2])
    code = "near_line" if trouble or size > ON_LINE_M else "on_line"
    text = sentences.TEXTS[code].format(
        often=sentences.often(e.count, e.count), size=sentences.metres(max(size, 0.1), units)
    )
    last = e.count - 1
    return [
        Finding(
            rider=e.rider,
            corner=e.corner.name,
            code=code,
            laps_seen=e.count,
            laps_counted=e.count,
            p=1.0,
            size=size,
            text=text,
            kind=Kind.WELL,
            station_m=e.corner.last_apex_m,
            lap=int(e.laps["lap"].iloc[last]),
            session=runs[int(e.run[last])].session,
        )
    ]


def _farthest_m(e: Evidence) -> float:
    """Distance of the usual lap from the marker line at the cone where it is largest, metres."""
    away = [abs(e.usual("wide_of_line_m", m.name)[0]) for m in e.corner.markers]
    return float(np.max(away)) if away else float("nan")
