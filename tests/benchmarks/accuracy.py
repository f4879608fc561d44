"""How good: simulated riders with known truth, receivers over a grid; run by hand.

    python tests/benchmarks/accuracy.py [--quick] [--rides 4]

Prints, for each receiver and for all courses and styles pooled, every line of "How good" in DEVELOPERS.md,
the share of 95 % intervals that hold the truth, and (``×``) the ratio of each error to that of the best
stationary smoother of the same log, its one level tuned with the true lean all round the lap in hand.
"""

from __future__ import annotations

import argparse
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from lapkit.compare.results import RunOf
from lapkit.compare.run import measure_run
from lapkit.path.attitude import Attitude
from lapkit.path.banded import gram
from lapkit.path.model import NormalEquations, positions, solve, velocities
from lapkit.path.observed import observe_log
from lapkit.path.places import Places
from lapkit.path.priors import both_axes, smooth_band
from lapkit.path.ridden import RiddenPath, ride_path
from lapkit.path.unknowns import Groups, columns
from lapkit.simulate.courses import built_in
from lapkit.simulate.motion import Ride
from lapkit.simulate.receiver import Receiver, observe
from lapkit.simulate.ride import ride
from lapkit.simulate.style import STYLES
from lapkit.simulate.truth import truth_tables
from lapkit.splitter import split

COURSES = ("sample", "flowing", "twisty")
KEYS = {
    "laps": ["lap"],
    "corners": ["lap", "corner"],
    "markers": ["lap", "corner", "marker"],
    "seams": ["lap", "corner", "seam"],
}
ERRORS = ("lap ms", "radius %", "exit %", "lean °", "max lean °", "gap m", "all round °")
LEVELS = 6.0 * 2.0 ** np.arange(-2.0, 3.1, 0.5)

Beside = dict[str, pd.DataFrame]


@dataclass(frozen=True)
class Case:
    """A receiver of the grid."""

    name: str
    receiver: Receiver


def grid() -> list[Case]:
    """Receivers: rates with and without velocity, then a quiet and a poor one."""
    cases = []
    for rate in (5.0, 10.0, 18.0, 25.0):
        cases.append(Case(f"{rate:g} Hz velocity", Receiver(rate_hz=rate)))
        cases.append(Case(f"{rate:g} Hz positions", Receiver(rate_hz=rate, velocity_mps=None)))
    quiet = Receiver(bias_m=0.4, wander_m=0.03, white_m=0.01, velocity_mps=0.03)
    poor = Receiver(bias_m=2.0, wander_m=0.5, white_m=0.3, velocity_mps=0.2)
    return [*cases, Case("10 Hz quiet", quiet), Case("10 Hz poor", poor)]


def peer_of(path: RiddenPath, lean_deg: np.ndarray, at: np.ndarray) -> RiddenPath:
    """The best stationary smoother of the same log: same noise, mass path taken as the antenna's."""
    seen = observe_log(path.log, path.plane)
    knots = path.estimate.solution.knots
    n = len(seen.time_s)
    upright = Attitude.of(np.ones(n), *np.zeros((3, n)), np.ones(n))
    position = gram(knots, positions(seen, 0.0, upright, Places.of(knots, seen.time_s)))
    velocity = None
    if seen.has_velocity:
        at_velocities = Places.of(knots, seen.velocity_time_s)
        velocity = gram(knots, velocities(seen, 0.0, upright, at_velocities))

    seen = NormalEquations.of(position, velocity, path.estimate.noise)

    def smoothed(level: float) -> RiddenPath:
        band = columns(
            Groups.of(knots), both_axes(smooth_band(knots, np.full(knots.intervals, level)))
        )
        solution = solve(knots, seen, band)
        estimate = replace(path.estimate, solution=solution)
        return replace(path, ensemble=replace(path.ensemble, estimate=estimate))

    return min(map(smoothed, LEVELS), key=lambda peer: lean_rms(peer, lean_deg, at))


def lean_rms(path: RiddenPath, lean_deg: np.ndarray, at: np.ndarray) -> float:
    """Error of the lean at times all round the lap, degrees."""
    return float(np.sqrt(np.mean(np.square(path.as_received(at).lean_deg[0] - lean_deg))))


def beside_truth(path: RiddenPath, ridden: Ride) -> dict[str, pd.DataFrame]:
    """What is measured of timed laps, with the truth beside it."""
    result = measure_run(path, split(path, ridden.course), ridden.course, RunOf("r", "1"))
    truth = truth_tables(ridden)
    out = {
        name: result.tables[name].merge(truth[name], on=keys, suffixes=("", "_true"))
        for name, keys in KEYS.items()
    }
    timed = out["laps"].loc[out["laps"]["kind"].astype(str) == "timed", "lap"]
    return {name: frame[frame["lap"].isin(timed)] for name, frame in out.items()}


def one(course_name: str, style: str, case: Case, seed: int, laps: int) -> list[Beside]:
    """Measure one simulated ride, and its peer's path."""
    course = built_in(course_name)
    ridden = ride(course, STYLES[style], laps=laps, seed=seed, epoch_s=1.78e9)
    path = ride_path(observe(ridden, case.receiver, seed=seed + 1), course.plane, course=course)
    time = np.arange(path.start_s + 100.0, path.end_s - 100.0, 0.5)
    exact = ridden.at(time - ridden.epoch_s).lean_deg
    measured = []
    for each in (path, peer_of(path, exact, time)):
        all_round = pd.DataFrame({"rms": [lean_rms(each, exact, time)]})
        beside = beside_truth(each, ridden)
        corners = beside["corners"].assign(style=style)
        measured.append({**beside, "corners": corners, "all round": all_round})
    return measured


def held(frame: pd.DataFrame, lo: str, hi: str, truth: str) -> float:
    """Share of intervals that hold the truth."""
    known = frame[lo].notna() & frame[truth].notna()
    inside = (frame[lo] <= frame[truth]) & (frame[truth] <= frame[hi])
    return float(inside[known].mean())


def rms(values: pd.Series) -> float:
    """Root mean square."""
    return float(np.sqrt(np.mean(np.square(values.dropna()))))


def figures(parts: list[Beside]) -> dict[str, float]:
    """The lines of "How good" over some rides."""
    t = {k: pd.concat([p[k] for p in parts], ignore_index=True) for k in parts[0]}
    laps, corners, markers, seams = (t[k] for k in KEYS)
    truth = corners["radius_min_m_true"]
    away = 100 * (corners["radius_min_m"] / truth - 1)
    by_style = away.abs().groupby(corners["style"]).median()
    exit_truth = corners["exit_radius_min_m_true"]
    called = seams[seams["call"].astype(str) != "unclear"]
    right = (called["call"].astype(str) == "inside") == (called["inside_share_true"] > 0.5)
    return {
        "lap ms": 1000 * rms(laps["time_s"] - laps["time_s_true"]),
        "radius %": float(away.abs().median()),
        **{f"– {style}": float(by_style[style]) for style in STYLES},
        "radius bias %": float(away.median()),
        "radius in": held(corners, "radius_min_lo_m", "radius_min_hi_m", "radius_min_m_true"),
        "exit %": 100 * float((corners["exit_radius_min_m"] / exit_truth - 1).abs().median()),
        "exit in": held(
            corners, "exit_radius_min_lo_m", "exit_radius_min_hi_m", "exit_radius_min_m_true"
        ),
        "lean °": rms(markers["lean_deg"] - markers["lean_deg_true"]),
        "lean in": held(markers, "lean_lo_deg", "lean_hi_deg", "lean_deg_true"),
        "max lean °": rms(corners["lean_max_deg"] - corners["lean_max_deg_true"]),
        "max bias °": float((corners["lean_max_deg"] - corners["lean_max_deg_true"]).mean()),
        "max in": held(corners, "lean_max_lo_deg", "lean_max_hi_deg", "lean_max_deg_true"),
        "gap m": rms(markers["gap_m"] - markers["gap_m_true"]),
        "gap in": held(markers, "gap_lo_m", "gap_hi_m", "gap_m_true"),
        "calls %": 100 * len(called) / max(len(seams), 1),
        "right %": 100 * float(right.mean()) if len(called) else np.nan,
        "poor %": 100 * float((corners["quality"].astype(str) == "poor").mean()),
        "all round °": rms(t["all round"]["rms"]),
    }


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--quick", action="store_true", help="10 Hz only, one course")
    parser.add_argument("--laps", type=int, default=5)
    parser.add_argument("--seed", type=int, default=100)
    parser.add_argument("--rides", type=int, default=1, help="of each style on each course")
    args = parser.parse_args()
    cases = [c for c in grid() if not args.quick or c.name.startswith("10")]
    courses = COURSES[:1] if args.quick else COURSES
    rows = {}
    for case in cases:
        parts = [
            one(course, style, case, args.seed + 1000 * again + 10 * i + j, args.laps)
            for again in range(args.rides)
            for i, course in enumerate(courses)
            for j, style in enumerate(STYLES)
        ]
        own, peer = (figures(list(which)) for which in zip(*parts, strict=True))
        over = {name.rsplit(" ", 1)[0] + " ×": own[name] / peer[name] for name in ERRORS}
        rows[case.name] = own | over
    table = pd.DataFrame(rows)
    print(table.round(3).to_string())
    print(table.filter(like="×", axis="index").mean(axis=1).round(3).to_string())


if __name__ == "__main__":
    main()
