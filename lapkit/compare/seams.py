"""Seam measures of one pass: how much of the exit phase was ridden inside each seam, and how surely."""

from __future__ import annotations

import numpy as np

from lapkit.compare.passes import Pass
from lapkit.course.course import CourseSeam
from lapkit.path.summary import draws_of, probability
from lapkit.units import FloatArray

COLUMNS = (
    "rider", "session", "lap", "corner", "seam", "inside_share", "p_inside", "call",
)  # fmt: skip
"""The contract's columns of ``seams.csv``, in its order."""

CALL_AT = 0.9
"""A side is called only when it is at least this probable."""

MOSTLY = 0.5
"""Inside a seam means that more than this share of the exit phase was ridden inside."""


def inside_share(p: Pass, seam: CourseSeam) -> FloatArray:
    """Share of the exit phase's path length with the tyres on a seam's inner side, ``(rows,)``.

    NaN where the seam runs beside no part of the exit phase.
    """
    corner = p.corner
    if seam.station_m[-1] <= corner.last_apex_m or seam.station_m[0] >= corner.exit_m:
        return np.full(len(p.station_m), np.nan)
    apex, end = p.limits[:, 1:2], p.limits[:, 2:3]
    part = slice(int(apex.min()), int(np.ceil(end.max())) + 1)
    station = p.station_m[:, part]
    middle = station[0]
    beside = seam.offset_at(middle)
    slope = np.gradient(beside, middle)
    inner = p.sign * (p.offset_m[:, part] - beside - slope * (station - middle))
    # Each grid step counts by how much of it lies in the phase, and of that the part on the inner side.
    inward, size = np.maximum(inner, 0.0), np.maximum(np.abs(inner), 1e-12)
    share = (inward[:, 1:] + inward[:, :-1]) / (size[:, 1:] + size[:, :-1])
    start = np.arange(part.start, part.start + share.shape[1])
    weight = np.clip(end - start, 0.0, 1.0) - np.clip(apex - start, 0.0, 1.0)
    return np.sum(weight * share, axis=1) / np.sum(weight, axis=1)


def seam_records(p: Pass) -> list[dict[str, object]]:
    """The pass's lines of ``seams.csv`` without rider, session and lap, from the inside outward."""
    records = []
    for seam in p.corner.seams:
        rows = draws_of(inside_share(p, seam))
        known = bool(np.isfinite(rows).all())
        p_inside = float(probability(rows > MOSTLY)) if known else float("nan")
        records.append(
            {
                "seam": seam.name,
                "inside_share": float(np.median(rows)),
                "p_inside": p_inside,
                "call": call(p_inside),
            }
        )
    return records


def call(p_inside: float) -> str:
    """``inside`` or ``outside`` when at least :data:`CALL_AT` probable, else ``unclear``."""
    if p_inside >= CALL_AT:
        return "inside"
    return "outside" if p_inside <= 1.0 - CALL_AT else "unclear"
