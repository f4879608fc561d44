"""Whether changes between two runs are found, on simulated riders whose change is known; run by hand.

    python tests/benchmarks/changes.py [--tuning] [--each N]

Riders of four styles on three courses ride two runs of eight laps: the same twice, or otherwise at one corner in one
of them. What is put in is made so large that the rider, without his scatter, would really ride it: half a lane at the
exit cone, or 15 % of the exit's radius, after he has rounded his line off. With his scatter a rider's eight laps
change by more or less than that, so those whose laps really changed by as much are counted too.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np
import pandas as pd
from shares import share

from lapkit.compare.changes import Changed, RunChanges
from lapkit.compare.results import RunOf, RunResult
from lapkit.compare.run import measure_run
from lapkit.path.ridden import ride_path
from lapkit.simulate.courses import built_in
from lapkit.simulate.receiver import Receiver, observe
from lapkit.simulate.ride import ride
from lapkit.simulate.style import STYLES, Habit, RiderStyle
from lapkit.simulate.truth import truth_tables
from lapkit.splitter import split

TUNING_SEED = 53_000
TEST_SEED = 3_110_000
COURSES = ("sample", "flowing", "twisty")
LAPS = 8
RADIUS = "exit_radius_min_m"
LINE = "wide_of_line_m"
HALF_A_LANE_M = 2.0
ASKED = {RADIUS: 0.15, LINE: HALF_A_LANE_M}
"""Measure → how far it is changed: a share of the exit's radius, metres at the exit cone."""

_ROUNDS = 4
_NEAR_ENOUGH = 0.04
_OTHER_LAPS = 10  # seeds so far on: not the laps that are looked at
_MOST = {RADIUS: 0.45, LINE: 3.5}

Truth = dict[str, pd.DataFrame]


@dataclass(frozen=True)
class Case:
    """A simulated rider of two runs; in one of them ``measure`` was changed at ``corner``, or nothing was."""

    name: str
    course: str
    style: RiderStyle
    seed: int
    measure: str = ""
    corner: str = ""
    in_first: bool = False


@dataclass(frozen=True, eq=False)
class Outcome:
    """A case with its two runs as measured and as they were, and the changes that are reported."""

    case: Case
    results: tuple[RunResult, RunResult]
    truths: tuple[Truth, Truth]

    def reported(self) -> pd.DataFrame:
        """Changes that are to be reported."""
        table = pd.DataFrame(RunChanges(self.results).every(), columns=list(Changed._fields))
        return table[table["found"].astype(bool)]

    @property
    def really(self) -> float:
        """By how much the laps really changed, as a share of what was asked for; 0 without a change."""
        case = self.case
        if not case.measure:
            return 0.0
        own = [true_value(t, case.measure, case.corner) for t in self.truths]
        return size_of(case.measure, *(own[::-1] if case.in_first else own)) / ASKED[case.measure]


def true_value(truth: Truth, measure: str, corner: str) -> float:
    """Mean over the timed laps of a measure at a corner, of the line at its exit cone."""
    if measure == RADIUS:
        rows = truth["corners"].query("kind == 'timed'")
    else:
        rows = truth["markers"].query("kind_of_lap == 'timed' and kind == 'exit'")
    return float(rows.loc[rows["corner"] == corner, measure].mean())


def size_of(measure: str, plain: float, other: float) -> float:
    """How much further in or tighter, in the unit of :data:`ASKED`."""
    return (plain - other) / (plain if measure == RADIUS else 1.0)


def habit_of(measure: str, amount: float) -> Habit:
    """The habit that changes a measure."""
    return Habit(tighten_exit=amount) if measure == RADIUS else Habit(exit_wide_m=-amount)


def amount_for(course: str, style: RiderStyle, measure: str, corner: str, seed: int) -> float:
    """How much to put in for a rider to change by what was asked for on average over his scatter.

    Found by riding: the same laps, with the same random numbers, without it and with it.
    """

    def value(amount: float) -> float:
        own = replace(style, habit_at={corner: habit_of(measure, amount)})
        return true_value(
            truth_tables(ride(built_in(course), own, laps=LAPS, seed=seed)), measure, corner
        )

    plain, asked = value(0.0), ASKED[measure]
    amount = asked
    for _ in range(_ROUNDS):
        got = size_of(measure, plain, value(amount)) / asked
        if abs(got - 1.0) < _NEAR_ENOUGH:
            break
        amount = float(np.clip(amount / np.clip(got, 0.4, 2.5), 0.0, _MOST[measure]))
    return amount


def cases(seed: int, each: int) -> Iterator[Case]:
    """``each`` riders a measure, and twice as many who change nothing."""
    rng = np.random.default_rng(seed)
    for i in range(4 * each):
        measure = (RADIUS, LINE, "", "")[i % 4]
        course = COURSES[int(rng.integers(len(COURSES)))]
        name = list(STYLES)[int(rng.integers(len(STYLES)))]
        style = STYLES[name]
        lean = round(style.lean_deg + float(rng.uniform(-2.0, 2.0)), 1)
        corners = [c.name for c in built_in(course).corners if c.seams]
        corner = corners[int(rng.integers(len(corners)))]
        own, first = int(rng.integers(2**31)), bool(rng.integers(2))
        style = replace(style, lean_deg=lean)
        if not measure:
            yield Case(f"{name} {i}", course, style, own)
            continue
        amount = amount_for(course, style, measure, corner, own + _OTHER_LAPS)
        style = replace(style, habit_at={corner: habit_of(measure, amount)})
        yield Case(f"{name} {i}", course, style, own, measure, corner, first)


def outcome(case: Case) -> Outcome:
    """Ride both runs, log and measure them."""
    course = built_in(case.course)
    results, truths = [], []
    for number in range(2):
        kept = case.measure and (number == 0) == case.in_first
        style = case.style if kept else replace(case.style, habit_at={})
        seed = case.seed + 2 * number
        ridden = ride(course, style, laps=LAPS, seed=seed, epoch_s=1.78e9 + 3600.0 * number)
        path = ride_path(observe(ridden, Receiver(), seed=seed + 1), course.plane, course=course)
        laps = split(path, course)
        results.append(measure_run(path, laps, course, RunOf(case.name, str(number + 1))))
        truths.append(truth_tables(ridden))
    return Outcome(case, tuple(results), tuple(truths))


def beside(case: Case) -> set[str]:
    """The changed corner and its neighbours, which it may really have changed."""
    names = [c.name for c in built_in(case.course).corners]
    if not case.corner:
        return set()
    i = names.index(case.corner)
    return {names[(i + k) % len(names)] for k in (-1, 0, 1)}


class Found(NamedTuple):
    """A case, by how much it really changed (:attr:`Outcome.really`), and the changes that are reported."""

    case: Case
    really: float
    reported: pd.DataFrame

    def here(self) -> pd.DataFrame:
        """What is reported of the corner that was changed."""
        return self.reported[self.reported["corner"] == self.case.corner]


def table(found: list[Found]) -> list[tuple[str, str, str]]:
    """Lines of the table: what, the figure to reach, the figure."""
    lines = []
    for measure, what in ((RADIUS, "exit tightened or opened by 15 %"), (LINE, "half a lane")):
        put_in = [each for each in found if each.case.measure == measure]
        ridden = [each for each in put_in if each.really >= 1.0]
        for name, some in ((f"{what}, put in", put_in), (f"{what}, and really ridden", ridden)):
            at_corner = [len(each.here()) > 0 for each in some]
            itself = [measure in set(each.here()["measure"]) for each in some]
            lines.append((f"{name}: found at its corner", "≥ 90 %", share(at_corner)))
            lines.append(("… in the very measure", "", share(itself)))
    quiet = [not len(each.reported) for each in found if not each.case.measure]
    lines.append(("no change reported where none was put in", "≥ 95 %", share(quiet)))
    nearby = [
        set(each.reported["corner"]) <= beside(each.case) for each in found if each.case.measure
    ]
    lines.append(("none reported away from the corner changed", "", share(nearby)))
    return lines


def failure(each: Found) -> str:
    """What was reported though nothing was put in, or nothing though something was; empty when all is well."""
    case, reported = each.case, each.reported
    if bool(case.measure) == bool(len(reported)):
        return ""
    what = ", ".join(f"{r.measure} {r.corner} {r.marker}" for r in reported.itertuples())
    return f"{case.name} on {case.course} {case.corner} {case.measure}: {what}"


def main() -> None:
    """Print the table, and what failed."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--tuning", action="store_true", help="riders that limits may be set by")
    parser.add_argument("--each", type=int, default=50, help="riders a measure changed")
    args = parser.parse_args()
    found = []
    for case in cases(TUNING_SEED if args.tuning else TEST_SEED, args.each):
        one = outcome(case)
        found.append(Found(case, one.really, one.reported()))
        if failed := failure(found[-1]):
            print(failed, file=sys.stderr)
    for what, aim, figure in table(found):
        print(f"| {what} | {aim} | {figure} |")


if __name__ == "__main__":
    main()
