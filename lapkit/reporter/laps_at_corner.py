"""A rider's timed laps through each corner: the records that the tables of his page show.

A run's tables know their columns by name alone. They are read here, once; code that lays out a page asks these records,
whose attributes are named as the columns are and have the same units. A number is NaN where a lap has none.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from lapkit.compare.results import RunResult
from lapkit.reporter.display import Measured


@dataclass(frozen=True)
class ConePass:
    """How a lap passed one cone: its distance from cone and marker line, metres, and its lane."""

    gap_m: Measured
    wide_of_line_m: Measured
    lane: float
    p_lane: float


@dataclass(frozen=True)
class Bend:
    """Tightest radius, largest lean, and the lean that the marker line asks for at the lap's own speeds."""

    radius_min_m: Measured
    lean_max_deg: Measured
    lean_on_line_deg: float


@dataclass(frozen=True)
class LapAtCorner:
    """A timed lap through one corner.

    Attributes:
        session, lap: which one.
        time_s, entry_speed_mps, slowest_mps, exit_speed_mps: through the corner.
        quality: what its numbers are worth (:class:`~lapkit.compare.quality.PassQuality`).
        whole, exit: of the corner as a whole, and of its exit phase.
        line_exit_radius_min_m, exit_radius_ratio: the exit's tightest radius on the marker line, and the lap's over it.
        cones: cone → how the lap passed it.
        seam_calls: seam → the side that the lap was called on: ``inside``, ``outside`` or ``unclear``.
    """

    session: str
    lap: int
    time_s: float
    entry_speed_mps: float
    slowest_mps: float
    exit_speed_mps: float
    quality: str
    whole: Bend
    exit: Bend
    line_exit_radius_min_m: float
    exit_radius_ratio: float
    cones: Mapping[str, ConePass]
    seam_calls: Mapping[str, str]


def laps_at_corners(runs: Sequence[RunResult]) -> dict[str, list[LapAtCorner]]:
    """Corner → a rider's timed laps through it, in the order ridden; without a key where no lap has a row."""
    found: dict[str, list[LapAtCorner]] = {}
    for run in runs:
        timed = run.timed_laps
        cones, calls = _cone_passes(run.markers), _seam_calls(run.seams)
        for row in run.corners.itertuples():
            if row.lap in timed:
                at = (row.lap, row.corner)
                lap = _lap(run.session, row, cones.get(at, {}), calls.get(at, {}))
                found.setdefault(row.corner, []).append(lap)
    return found


_LapAndCorner = tuple[int, str]


def _cone_passes(markers: pd.DataFrame) -> dict[_LapAndCorner, dict[str, ConePass]]:
    found: dict[_LapAndCorner, dict[str, ConePass]] = {}
    for row in markers.itertuples():
        found.setdefault((row.lap, row.corner), {})[row.marker] = ConePass(
            gap_m=Measured(row.gap_m, row.gap_lo_m, row.gap_hi_m),
            wide_of_line_m=Measured(row.wide_of_line_m, row.wide_lo_m, row.wide_hi_m),
            # Lanes are whole numbers in their table, where NaN is another thing.
            lane=np.nan if pd.isna(row.lane) else float(row.lane),
            p_lane=row.p_lane,
        )
    return found


def _seam_calls(seams: pd.DataFrame) -> dict[_LapAndCorner, dict[str, str]]:
    found: dict[_LapAndCorner, dict[str, str]] = {}
    for row in seams.itertuples():
        found.setdefault((row.lap, row.corner), {})[row.seam] = str(row.call)
    return found


def _lap(
    session: str, row: Any, cones: Mapping[str, ConePass], seam_calls: Mapping[str, str]
) -> LapAtCorner:
    """From a row of the table ``corners``."""
    return LapAtCorner(
        session=session,
        lap=row.lap,
        time_s=row.time_s,
        entry_speed_mps=row.entry_speed_mps,
        slowest_mps=row.slowest_mps,
        exit_speed_mps=row.exit_speed_mps,
        quality=str(row.quality),
        whole=Bend(
            Measured(row.radius_min_m, row.radius_min_lo_m, row.radius_min_hi_m),
            Measured(row.lean_max_deg, row.lean_max_lo_deg, row.lean_max_hi_deg),
            row.lean_on_line_deg,
        ),
        exit=Bend(
            Measured(row.exit_radius_min_m, row.exit_radius_min_lo_m, row.exit_radius_min_hi_m),
            Measured(row.exit_lean_max_deg, row.exit_lean_max_lo_deg, row.exit_lean_max_hi_deg),
            row.exit_lean_on_line_deg,
        ),
        line_exit_radius_min_m=row.line_exit_radius_min_m,
        exit_radius_ratio=row.exit_radius_ratio,
        cones=cones,
        seam_calls=seam_calls,
    )
