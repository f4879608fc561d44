"""Are lapses held? Riders who tighten one exit by a quarter on one lap of eight; run by hand.

    python tests/benchmarks/lapses.py

What is learned from a rider's other laps must not pull such a lap towards them: prints for those passes and
for the others the error of the exit's tightest radius and the share of 95 % intervals that hold the truth.
"""

from __future__ import annotations

from dataclasses import replace

import pandas as pd
from accuracy import COURSES, beside_truth, held

from lapkit.path.ridden import ride_path
from lapkit.simulate.courses import built_in
from lapkit.simulate.receiver import Receiver, observe
from lapkit.simulate.ride import ride
from lapkit.simulate.style import STYLES, Habit

LAPS = 8
RECEIVERS = {"velocity": Receiver(), "positions": Receiver(velocity_mps=None)}


def passes(course_name: str, style_name: str, seed: int) -> pd.DataFrame:
    """Corners of one ride beside the truth, under every receiver; ``lapse`` marks what was put in."""
    course = built_in(course_name)
    lapses = {
        (corner.name, 1 + (3 * i + seed) % LAPS): Habit(tighten_exit=0.25)
        for i, corner in enumerate(course.corners)
    }
    steady = replace(STYLES[style_name], lapse_at=lapses, offset_sd_m=0.1, phase_sd_m=0.4)
    ridden = ride(course, steady, laps=LAPS, seed=seed, epoch_s=1.78e9)
    frames = []
    for name, receiver in RECEIVERS.items():
        path = ride_path(observe(ridden, receiver, seed=seed + 5), course.plane, course=course)
        corners = beside_truth(path, ridden)["corners"]
        where = zip(corners["corner"], corners["lap"], strict=True)
        frames.append(corners.assign(receiver=name, lapse=[place in lapses for place in where]))
    return pd.concat(frames)


def main() -> None:
    """Print the table."""
    rides = [passes(c, s, seed) for c in COURSES for s in ("smooth", "quick") for seed in (1, 2)]
    rows = {}
    for name, group in pd.concat(rides).groupby(["receiver", "lapse"]):
        error = 100.0 * (group["exit_radius_min_m"] / group["exit_radius_min_m_true"] - 1.0)
        ends = (
            "exit_radius_min_lo_m",
            "exit_radius_min_hi_m",
            "exit_radius_min_m_true",
        )
        rows[name] = {
            "passes": len(group),
            "exit %": error.abs().median(),
            "exit bias %": error.median(),
            "exit in": held(group, *ends),
        }
    print(pd.DataFrame(rows).T.round(3).to_string())


if __name__ == "__main__":
    main()
