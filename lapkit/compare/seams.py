"""Seam measures of all passes: how much of the exit was ridden inside each seam, how surely."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator
from typing import Any, NamedTuple

import numpy as np

from lapkit.compare.held import between
from lapkit.compare.passes import Passes, by_corner
from lapkit.compare.results import RunResult
from lapkit.compare.standard import MOSTLY
from lapkit.compare.tables import timed_numbers
from lapkit.course.course import Corner
from lapkit.path.summary import draws_of, probability
from lapkit.units import FloatArray

COLUMNS = (
    "rider", "session", "lap", "corner", "seam", "inside_share", "p_inside", "call",
)  # fmt: skip
"""The published columns of ``seams.csv``, in their order."""

ALL_COLUMNS = (*COLUMNS, "counted")
"""And whether it is the seam counted at its corner: the innermost that the marker line stays outside of."""

CALL_AT = 0.9
"""A side is called only when it is at least this probable."""


def seam_rows(passes: Passes) -> FloatArray:
    """Share of the exit phase's path length with the tyres on each seam's inner side.

    Shape ``(rows, passes, seams)``, the innermost seam first; NaN where a seam runs beside no part of
    the exit phase, a row does not run through it, or other corners have more seams.
    """
    apex, end = passes.limits[..., 1:2], passes.limits[..., 2:3]
    near = between(apex, end, 1, passes.station_m.shape[-1])[:, 0]
    # Each grid step counts by how much of it lies in the phase.
    start = near[:, :-1]
    weight = np.clip(end - start, 0.0, 1.0) - np.clip(apex - start, 0.0, 1.0)
    whole = np.sum(weight, axis=-1)
    whole[whole == 0.0] = np.nan
    shares = [np.sum(weight * part, axis=-1) / whole for part in _inner_parts(passes, near)]
    return np.stack(shares, axis=-1) if shares else np.zeros((*whole.shape, 0))


def _inner_parts(passes: Passes, near: np.ndarray) -> Iterator[FloatArray]:
    """How much of each step between grid points ``(passes, w)`` lies inside of a seam: ``(rows, passes, w - 1)``.

    First of each corner's innermost seam, then of the second and so on.
    """
    middle, offset = passes.station_m[0, near], passes.offset_m.take(near, axis=1)
    moved, sign = passes.station_m.take(near, axis=1) - middle, passes.sign[:, None]
    for number in range(max(len(corner.seams) for corner in passes.corners)):

        def beside_exit(corner: int, station_m: FloatArray, number: int = number) -> FloatArray:
            return _along_exit(passes.corners[corner], number, station_m)

        beside = by_corner(passes.corner_of, beside_exit, middle)
        slope = np.gradient(beside, axis=-1) / np.gradient(middle, axis=-1)
        inner = sign * (offset - beside - slope * moved)
        inward, size = np.maximum(inner, 0.0), np.maximum(np.abs(inner), 1e-12)
        yield (inward[..., 1:] + inward[..., :-1]) / (size[..., 1:] + size[..., :-1])


def _along_exit(corner: Corner, number: int, station_m: FloatArray) -> FloatArray:
    """Offset of a corner's seam of that number at stations; NaN where none runs beside its exit phase."""
    if number < len(corner.seams):
        seam = corner.seams[number]
        if seam.station_m[-1] > corner.last_apex_m and seam.station_m[0] < corner.exit_m:
            return seam.offset_at(station_m)
    return np.full(station_m.shape, np.nan)


def seam_columns(rows: FloatArray) -> dict[str, Any]:
    """Columns of ``seams.csv`` from ``inside_share`` on, of rows ``(rows, ...)``, shape ``(...)``."""
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


class SeamCalls(NamedTuple):
    """A rider's timed laps at a seam: called inside, called outside, and unclear."""

    inside: int
    outside: int
    unclear: int

    @property
    def laps(self) -> int:
        """All of them."""
        return sum(self)


def seam_calls(runs: Iterable[RunResult]) -> dict[tuple[str, str], SeamCalls]:
    """Corner and seam → how a rider's timed laps in all his runs were called there."""
    counts: dict[tuple[str, str], Counter[str]] = {}
    for run in runs:
        timed, seams = timed_numbers(run.tables["laps"]), run.tables["seams"]
        lines = (seams[name].tolist() for name in ("lap", "corner", "seam", "call"))
        for lap, corner, seam, call in zip(*lines, strict=True):
            if lap in timed:
                counts.setdefault((corner, seam), Counter())[call] += 1
    return {
        place: SeamCalls(*(n[call] for call in SeamCalls._fields)) for place, n in counts.items()
    }
