"""A rider made in another way than :mod:`lapkit.simulate` makes them: is the path link as good on him? Run by hand.

    python tests/benchmarks/commanded.py

:mod:`lapkit.simulate` lays a line on a course and rides along it; here lean and speed are commanded in ramps
and the path is what they add up to, over no course at all. Nothing was tuned on him. Prints, for smooth
and sudden hands and for hands that tremble, the errors in lean, in largest lean and in tightest radius (both held
over 10 m), and the share of 95 % intervals that hold the truth.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy.ndimage import gaussian_filter1d

from lapkit.course.plane import Plane
from lapkit.curvature import HELD_OVER_M, held_curvature
from lapkit.importer.log import Log
from lapkit.path.ridden import RiddenPath, ride_path
from lapkit.path.summary import Summary, summarise, summarise_extreme
from lapkit.simulate.bias import gauss_markov
from lapkit.units import GRAVITY_MPS2

STEP_S, LASTS_S, EPOCH_S, MARGIN_S = 0.01, 600.0, 1.78e9, 20.0
ABOVE_M = 0.3
RIDES = 3
PLANE = Plane(47.0, 8.0)
HANDS = {"sudden": (0.12, 0.3), "smooth": (0.3, 0.1), "trembling": (0.12, 0.8)}
"""Seconds over which a ramp of lean is rounded off, and degrees of tremble."""


@dataclass(frozen=True)
class Rider:
    """What he did, a hundred times a second; a corner is (from, to, sign of its turn), in seconds."""

    time_s: np.ndarray
    x_m: np.ndarray
    y_m: np.ndarray
    heading_rad: np.ndarray
    speed_mps: np.ndarray
    lean_deg: np.ndarray
    corners: list[tuple[float, float, float]]


def commands(rng: np.random.Generator) -> tuple[list, list, list]:
    """Corners one after the other: (time, lean), (time, speed), and the corners themselves."""
    lean, speed, corners, now = [(0.0, 0.0)], [(0.0, 30.0)], [], 5.0
    while now < LASTS_S - 15.0:
        most, slow = rng.uniform(25.0, 47.0) * rng.choice([-1.0, 1.0]), rng.uniform(14.0, 30.0)
        roll, hold, rise = rng.uniform(0.7, 1.6), rng.uniform(1.0, 4.0), rng.uniform(0.9, 2.0)
        free = rng.uniform(0.0, 5.0) * (rng.random() < 0.7)
        braking = abs(speed[-1][1] - slow) / rng.uniform(4.0, 7.5)
        speed += [(now, speed[-1][1]), (now + braking, slow)]
        start = now + max(braking - 0.4, 0.2)
        leant, rising = start + roll, start + roll + hold
        lean += [(start, 0.0), (leant, most), (rising, most * rng.uniform(0.9, 1.05))]
        speed.append((max(rising - 0.5 * hold, speed[-1][0] + 0.1), slow))
        lean.append((rising + rise, 0.0))
        corners.append((start, rising + rise, float(np.sign(most))))
        now = rising + rise + free
        faster = min(slow + rng.uniform(3.0, 5.0) * (rise + free), 55.0)
        speed.append((max(now, speed[-1][0] + 0.2), faster))
    return lean, speed, corners


def rider(rounded_s: float, tremble_deg: float, rng: np.random.Generator) -> Rider:
    """Ride the commands: he turns as fast as his lean balances at his speed."""
    lean_at, speed_at, corners = commands(rng)
    time = np.arange(0.0, LASTS_S, STEP_S)
    lean = gaussian_filter1d(np.interp(time, *np.transpose(lean_at)), rounded_s / STEP_S)
    speed = gaussian_filter1d(np.interp(time, *np.transpose(speed_at)), 0.2 / STEP_S)
    tremble = gaussian_filter1d(rng.standard_normal(len(time)), 0.15 / STEP_S)
    lean = lean + tremble_deg * tremble / np.std(tremble)
    heading = np.cumsum(GRAVITY_MPS2 * np.tan(np.radians(lean)) / speed) * STEP_S
    x, y = np.cumsum(speed * [np.cos(heading), np.sin(heading)], axis=1) * STEP_S
    return Rider(time, x, y, heading, speed, lean, corners)


def logged(ridden: Rider, velocity: bool, rng: np.random.Generator) -> Log:
    """His log at 10 Hz, the receiver's errors those of "How good"."""
    inward = ABOVE_M * np.sin(np.radians(ridden.lean_deg))
    antenna = np.stack(
        [
            ridden.x_m - inward * np.sin(ridden.heading_rad),
            ridden.y_m + inward * np.cos(ridden.heading_rad),
        ]
    )
    moving = np.gradient(antenna, STEP_S, axis=1)
    every = slice(None, None, round(0.1 / STEP_S))
    count = len(ridden.time_s[every])
    slow, wander = (
        sd * gauss_markov(count, 0.1, over, 2, rng).T for sd, over in ((1.2, 300.0), (0.15, 4.0))
    )
    lat, lon = PLANE.to_lat_lon(
        *(antenna[:, every] + slow + wander + rng.normal(0.0, 0.06, (2, count)))
    )
    vx, vy = moving[:, every] + rng.normal(0.0, 0.07, (2, count))
    return Log(
        source="commanded.csv",
        sha256=f"{rng.integers(1 << 32):064x}"[::-1],
        time_s=EPOCH_S + ridden.time_s[every],
        lat_deg=lat,
        lon_deg=lon,
        speed_mps=np.hypot(vx, vy) if velocity else None,
        heading_deg=np.degrees(np.arctan2(vx, vy)) % 360.0 if velocity else None,
    )


def held_mean(values: np.ndarray, distance_m: np.ndarray, start_m: np.ndarray) -> np.ndarray:
    """Mean over 10 m of path from each start."""
    area = np.cumsum(0.5 * (values[1:] + values[:-1]) * np.diff(distance_m))
    area = np.concatenate([[0.0], area])
    ends = np.interp(start_m + HELD_OVER_M, distance_m, area)
    return (ends - np.interp(start_m, distance_m, area)) / HELD_OVER_M


def extremes(
    time_s: np.ndarray,
    distance_m: np.ndarray,
    heading_rad: np.ndarray,
    lean_deg: np.ndarray,
    corner: tuple[float, float, float],
) -> tuple[float, float]:
    """Largest lean and curvature held over 10 m into a corner, degrees and 1/m."""
    first, last = np.interp(corner[:2], time_s, distance_m)
    start = np.arange(first, last - HELD_OVER_M, 1.0)
    lean = corner[2] * held_mean(lean_deg, distance_m, start)
    return float(lean.max()), float(
        np.max(corner[2] * held_curvature(heading_rad, distance_m, start))
    )


def corner_errors(path: RiddenPath, ridden: Rider) -> pd.DataFrame:
    """Each corner's largest lean and tightest radius beside the truth."""
    rows = []
    distance = np.concatenate([[0.0], np.cumsum(ridden.speed_mps[:-1] * STEP_S)])
    for corner in ridden.corners:
        if corner[0] < MARGIN_S or corner[1] > LASTS_S - MARGIN_S:
            continue
        true = extremes(ridden.time_s, distance, ridden.heading_rad, ridden.lean_deg, corner)
        time = np.arange(corner[0] - 1.0, corner[1] + 1.0, 0.1)
        drawn = path.at(EPOCH_S + time)
        each = zip(drawn.distance_m, drawn.heading_rad, drawn.lean_deg, strict=True)
        lean, curvature = np.transpose([extremes(time, *row, corner) for row in each])
        found = summarise_extreme(lean, level=True), summarise_extreme(curvature)
        rows.append(
            {
                "max lean °": found[0].value - true[0],
                "max in": holds(found[0], true[0]),
                "radius %": 100.0 * (true[1] / found[1].value - 1.0),
                "radius in": holds(found[1], true[1]),
            }
        )
    return pd.DataFrame(rows)


def holds(found: Summary, truth: float | np.ndarray) -> np.ndarray:
    """Whether the interval holds the truth."""
    return (found.lo <= truth) & (truth <= found.hi)


def figures(hands: tuple[float, float], velocity: bool) -> dict[str, float]:
    """A column of the table: three rides with such hands, logged with velocity or without."""
    corners, lean_error, lean_in = [], [], []
    for seed in range(RIDES):
        rng = np.random.default_rng(seed)
        ridden = rider(*hands, rng)
        path = ride_path(logged(ridden, velocity, rng), PLANE)
        time = np.arange(MARGIN_S, LASTS_S - MARGIN_S, 0.5)
        lean = summarise(path.at(EPOCH_S + time).lean_deg)
        truth = np.interp(time, ridden.time_s, ridden.lean_deg)
        lean_error.append(lean.value - truth)
        lean_in.append(holds(lean, truth))
        corners.append(corner_errors(path, ridden))
    all_corners = pd.concat(corners)
    return {
        "lean °": np.sqrt(np.mean(np.square(lean_error))),
        "lean in": np.mean(lean_in),
        "max lean °": np.sqrt(np.mean(np.square(all_corners["max lean °"]))),
        "max bias °": all_corners["max lean °"].mean(),
        "max in": all_corners["max in"].mean(),
        "radius %": all_corners["radius %"].abs().median(),
        "radius bias %": all_corners["radius %"].median(),
        "radius in": all_corners["radius in"].mean(),
    }


def main() -> None:
    """Print the table."""
    table = {
        f"{name}, {'velocity' if velocity else 'positions'}": figures(hands, velocity)
        for name, hands in HANDS.items()
        for velocity in (True, False)
    }
    print(pd.DataFrame(table).round(3).to_string())


if __name__ == "__main__":
    main()
