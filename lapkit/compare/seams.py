"""Seam measures of all passes: how much of the exit was ridden inside each seam, how surely."""

from __future__ import annotations

from typing import Any

import numpy as np

from lapkit.compare.passes import Passes
from lapkit.course.course import CourseSeam
from lapkit.path.summary import draws_of, probability
from lapkit.units import FloatArray

COLUMNS = (
    "rider", "session", "lap", "corner", "seam", "inside_share", "p_inside", "call",
)  # fmt: skip
"""The contract's columns of ``seams.csv``, in its order."""

ALL_COLUMNS = (*COLUMNS, "counted")
"""And whether it is the seam counted at its corner: the innermost that the marker line stays outside of."""

CALL_AT = 0.9
"""A side is called only when it is at least this probable."""

MOSTLY = 0.5
"""Inside a seam means that more than this share of the exit phase was ridden inside."""


def seam_rows(p: Passes) -> FloatArray:
    """Share of the exit phase's path length with the tyres on each seam's inner side.

    Shape ``(rows, laps, seams)``, the innermost seam first; NaN where a seam runs beside no part of
    the exit phase, or a row does not run through it.
    """
    shares = [_inside_share(p, seam) for seam in p.corner.seams]
    return np.stack(shares, axis=-1) if shares else np.zeros((*p.limits.shape[:2], 0))


def _inside_share(p: Passes, seam: CourseSeam) -> FloatArray:
    corner = p.corner
    apex, end = p.limits[..., 1:2], p.limits[..., 2:3]
    known = np.isfinite(apex) & np.isfinite(end)
    beyond = seam.station_m[-1] <= corner.last_apex_m or seam.station_m[0] >= corner.exit_m
    if beyond or not known.any():
        return np.full(p.limits.shape[:2], np.nan)
    part = slice(int(apex[known].min()), int(np.ceil(end[known].max())) + 1)
    if part.stop - part.start < 2:
        # Fixes that leap over the exit leave nothing of it.
        return np.full(p.limits.shape[:2], np.nan)
    station = p.station_m[..., part]
    middle = station[0]
    beside = seam.offset_at(middle)
    slope = np.gradient(beside, axis=-1) / np.gradient(middle, axis=-1)
    inner = p.sign * (p.offset_m[..., part] - beside - slope * (station - middle))
    # Each grid step counts by how much of it lies in the phase, and of that the part on the inner
    # side.
    inward, size = np.maximum(inner, 0.0), np.maximum(np.abs(inner), 1e-12)
    share = (inward[..., 1:] + inward[..., :-1]) / (size[..., 1:] + size[..., :-1])
    start = np.arange(part.start, part.start + share.shape[-1])
    weight = np.clip(end - start, 0.0, 1.0) - np.clip(apex - start, 0.0, 1.0)
    whole = np.sum(weight, axis=-1)
    return np.sum(weight * share, axis=-1) / np.where(whole == 0.0, np.nan, whole)


def seam_columns(rows: FloatArray) -> dict[str, Any]:
    """Columns of ``seams.csv`` from ``inside_share`` on, ``(laps, seams)``, of rows."""
    draws = draws_of(rows)
    known = np.isfinite(draws).all(axis=0)
    p_inside = np.where(known, probability(draws > MOSTLY), np.nan)
    return {
        "inside_share": np.median(draws, axis=0),
        "p_inside": p_inside,
        "call": calls(p_inside),
    }


def calls(p_inside: FloatArray) -> np.ndarray:
    """``inside`` or ``outside`` where probable enough, else ``unclear``; any shape."""
    sides = [p_inside >= CALL_AT, 1.0 - p_inside >= CALL_AT]
    return np.select(sides, ["inside", "outside"], "unclear")
