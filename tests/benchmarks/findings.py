"""Whether what is said first is right, on simulated riders whose habits are known; run by hand.

    python tests/benchmarks/findings.py [--tuning] [--each N]

Riders of four styles on three courses: with one habit, at every corner or at one, with a line that moves wide over
the run, or on the marker line. With ``changes.py``, which rides what changes between two runs, it prints the table of
"What to say first" in DEVELOPERS.md.
Limits in :mod:`lapkit.findings` are set by looking at ``--tuning`` alone: its random numbers are not those of the table.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd
from shares import brier, share

from lapkit.compare.corners import TIGHTENED_BELOW
from lapkit.compare.results import RunOf
from lapkit.compare.run import measure_run
from lapkit.findings import Finding, Kind, find
from lapkit.findings.rules import OFF_LINE_M
from lapkit.path.ridden import ride_path
from lapkit.path.summary import CALL_AT
from lapkit.simulate.courses import built_in
from lapkit.simulate.receiver import Receiver, observe
from lapkit.simulate.ride import ride
from lapkit.simulate.style import STYLES, Habit, RiderStyle
from lapkit.simulate.truth import truth_tables
from lapkit.splitter import split

TUNING_SEED = 41_500
TEST_SEED = 1_480_000
COURSES = ("sample", "flowing", "twisty")
LAPS = 8
DRIFT_M = 2.0
"""Wider at the apexes in the last lap of a run than in the first."""

BORDER = 0.02
"""About the error of one lap's exit radius: so near to the limit, either side may be called."""

HABITS = {
    "inside_seam": Habit(inside_seam_exit=True),
    "exit_tightened": Habit(tighten_exit=0.25),
    "turn_in_early": Habit(early_turn_in_m=8.0),
    "apex_missed": Habit(apex_wide_m=1.5),
}
"""Code of the finding → what was put in."""


@dataclass(frozen=True)
class Case:
    """A simulated rider: his style in each run, and what was put in at which corner (all when empty)."""

    name: str
    course: str
    runs: tuple[RiderStyle, ...]
    seed: int
    habit: str = ""
    corner: str = ""

    @property
    def on_line(self) -> bool:
        """Nothing was put in."""
        return not self.habit and not any(style.drift_wide_m for style in self.runs)


@dataclass(frozen=True, eq=False)
class Outcome:
    """What was found for a case, with its measures beside the truth."""

    case: Case
    findings: tuple[Finding, ...]
    corners: pd.DataFrame
    seams: pd.DataFrame
    markers: pd.DataFrame

    @property
    def first(self) -> Finding | None:
        """The first thing said to him, praise apart."""
        return next((f for f in self.findings if f.kind not in (Kind.WELL, Kind.FACT)), None)


def cases(seed: int, each: int) -> Iterator[Case]:
    """``each`` riders a habit and with a drift, and twice as many on the line."""
    rng = np.random.default_rng(seed)
    styles = list(STYLES.values())

    def drawn(i: int) -> tuple[str, RiderStyle, str, int]:
        course = COURSES[i % len(COURSES)]
        style = styles[int(rng.integers(len(styles)))]
        style = replace(style, lean_deg=style.lean_deg + float(rng.uniform(-2.0, 2.0)))
        names = [c.name for c in built_in(course).corners if c.seams]
        return course, style, names[int(rng.integers(len(names)))], int(rng.integers(2**31))

    for code, habit in HABITS.items():
        for i in range(each):
            course, style, corner, own = drawn(i)
            one = i % 2 == 1
            style = replace(style, habit_at={corner: habit}) if one else replace(style, habit=habit)
            yield Case(f"{code} {i}", course, (style,), own, code, corner if one else "")
    for i in range(each):
        course, style, _, own = drawn(i)
        yield Case(f"drift {i}", course, (replace(style, drift_wide_m=DRIFT_M / (LAPS - 1)),), own)
    for i in range(2 * each):
        course, style, _, own = drawn(i)
        yield Case(f"on line {i}", course, (style, style), own)


def outcome(case: Case) -> Outcome:
    """Ride it, log it, measure it, and find what to say."""
    course = built_in(case.course)
    results, corners, seams, markers = [], [], [], []
    for number, style in enumerate(case.runs):
        seed = case.seed + 2 * number
        ridden = ride(course, style, laps=LAPS, seed=seed, epoch_s=1.78e9 + 3600.0 * number)
        path = ride_path(observe(ridden, Receiver(), seed=seed + 1), course.plane, course=course)
        session = str(number + 1)
        result = measure_run(path, split(path, course), course, RunOf(case.name, session))
        results.append(result)
        truth = truth_tables(ridden)
        laps = result.tables["laps"]
        timed = laps.loc[laps["kind"].astype(str) == "timed", "lap"]
        for name, keys, into in (
            ("corners", ["lap", "corner"], corners),
            ("seams", ["lap", "corner", "seam"], seams),
            ("markers", ["lap", "corner", "marker"], markers),
        ):
            both = result.tables[name].merge(truth[name], on=keys, suffixes=("", "_true"))
            into.append(both[both["lap"].isin(timed)])
    return Outcome(
        case=case,
        findings=find(tuple(results), course),
        corners=pd.concat(corners, ignore_index=True),
        seams=pd.concat(seams, ignore_index=True),
        markers=pd.concat(markers, ignore_index=True),
    )


def f1(called: np.ndarray, true: np.ndarray) -> float:
    """Harmonic mean of precision and recall."""
    return 2.0 * float(np.sum(called & true)) / float(np.sum(called) + np.sum(true))


def habit_first(each: Outcome) -> bool:
    """The habit put in is the first thing said, at its corner."""
    first, case = each.first, each.case
    return first is not None and first.code == case.habit and case.corner in ("", first.corner)


def quiet_corners(each: Outcome, *, really: bool) -> list[bool]:
    """For each corner, or each that the usual lap really rode on the line: nothing is said of it.

    A rider rounds off the line he means to ride, over the distance in which he can roll the machine. In a quick S
    that alone takes him off it.
    """
    named = {f.corner for f in each.findings if f.kind not in (Kind.WELL, Kind.FACT)}
    ratio = each.corners.groupby("corner")["exit_radius_ratio_true"].median()
    wide = each.markers.groupby(["corner", "marker"])["wide_of_line_m_true"].median().abs()
    on_line = (ratio >= TIGHTENED_BELOW) & (wide.groupby("corner").max() <= OFF_LINE_M)
    return [name not in named for name in (on_line.index[on_line] if really else on_line.index)]


def drifts_told(each: Outcome) -> list[bool]:
    """For each corner: that a line which moves wide over the run does so is told."""
    told = {f.corner for f in each.findings if f.code == "drifts_wide"}
    return [corner.name in told for corner in built_in(each.case.course).corners]


def drifts_invented(each: Outcome) -> bool:
    """Something is said to drift."""
    return any(f.code.startswith("drifts") for f in each.findings)


def lanes_right(found: list[Outcome]) -> list[bool]:
    """For each lane at a cone that is sure enough to be told: it is the one that was ridden."""
    markers = pd.concat([o.markers for o in found])
    markers = markers[markers["p_lane"] >= CALL_AT]
    return (markers["lane"] == markers["lane_true"]).tolist()


def table(found: list[Outcome]) -> list[tuple[str, str, str]]:
    """Lines of the table: what, the figure, the figure to reach."""
    corners = pd.concat([o.corners for o in found])
    corners = corners[corners["exit_radius_ratio_true"].notna() & corners["p_tightened"].notna()]
    p, true = corners["p_tightened"].to_numpy(), corners["exit_radius_ratio_true"].to_numpy() < 0.9
    off = np.abs(corners["exit_radius_ratio_true"].to_numpy() / TIGHTENED_BELOW - 1.0)
    far, wrong = off > BORDER, (p >= 0.5) != true
    seams = pd.concat([o.seams for o in found])
    seams = seams[seams["p_inside"].notna() & seams["inside_share_true"].notna()]
    inside = seams["inside_share_true"].to_numpy() > 0.5
    on_line = [o for o in found if o.case.on_line]
    shares = (
        ("habit put in is the first finding", [habit_first(o) for o in found if o.case.habit], 90),
        (
            "corners on the line without a finding",
            [quiet for o in on_line for quiet in quiet_corners(o, really=True)],
            95,
        ),
        (
            "… corners of riders who mean to be on it",
            [quiet for o in on_line for quiet in quiet_corners(o, really=False)],
            95,
        ),
    )
    drifting = [o for o in found if not o.case.habit and not o.case.on_line]
    # In steps of 3 %: forecasts are grouped by their value, and these have none in common.
    tightened = brier(np.round(32.0 * p) / 32.0, true.astype(float))
    inner = brier(seams["p_inside"].to_numpy(), inside.astype(float))
    return [
        ("tightened exits: F1", f"{f1(p >= 0.5, true):.3f} of {len(true)} passes", "≥ 0.95"),
        ("… further than 2 % from the limit", f"{f1(p[far] >= 0.5, true[far]):.3f}", ""),
        ("… of its errors, within 2 % of it", share((~far[wrong]).tolist()), ""),
        ("tightened exits: Brier", str(tightened), "≤ 0.05"),
        ("inside the seam: Brier", f"{inner} of {len(inside)} passes", "≤ 0.03"),
        ("lanes at cones called, right", share(lanes_right(found)), ""),
        *((what, share(hits), f"≥ {aim} %") for what, hits, aim in shares),
        (
            "line that moves 2 m wide over a run: told, of corners",
            share([told for o in drifting for told in drifts_told(o)]),
            "",
        ),
        (
            "riders who keep to the line told of no drift",
            share([not drifts_invented(o) for o in on_line]),
            "",
        ),
    ]


def failures(each: Outcome) -> Iterator[str]:
    """What went otherwise than it should, a line each."""
    case = each.case
    if case.habit and not habit_first(each):
        first = each.first
        said = "nothing" if first is None else f"{first.code} at {first.corner}: {first.text}"
        yield f"{case.name} on {case.course} {case.corner}: first was {said}"
    if case.on_line:
        for f in each.findings:
            if f.kind not in (Kind.WELL, Kind.FACT):
                yield f"{case.name} on {case.course}: {f.code} at {f.corner}: {f.text}"


def main() -> None:
    """Print the table, and what failed."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--tuning", action="store_true", help="riders that limits may be set by")
    parser.add_argument("--each", type=int, default=6, help="riders a habit")
    args = parser.parse_args()
    found = []
    for case in cases(TUNING_SEED if args.tuning else TEST_SEED, args.each):
        found.append(outcome(case))
        for line in failures(found[-1]):
            print(line, file=sys.stderr, flush=True)
    for what, figure, aim in table(found):
        print(f"| {what} | {aim} | {figure} |")


if __name__ == "__main__":
    main()
