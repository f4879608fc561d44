"""What is drawn and written sample by sample: laps through corners, and the table ``trace`` of a run."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd

from lapkit.arrays import FloatArray, read_only
from lapkit.compare.passes import Passes, by_corner
from lapkit.compare.results import CornerTrace
from lapkit.compare.sweep import Ridden
from lapkit.course.course import Course
from lapkit.path.summary import spread
from lapkit.splitter import Lap, LapKind

DRAWN_AROUND_M = 20.0
"""A trace runs from this far before turn-in to this far after the exit marker, metres of station."""

DRAWN_EVERY = 2
"""A trace keeps every second grid point."""

_FEWEST_DRAWN = 2  # points that make a line

COLUMNS = (
    "rider", "session", "lap", "t_s", "lat", "lon", "x_m", "y_m", "station_m", "offset_m",
    "speed_mps", "curvature_1pm", "curvature_sd_1pm", "lean_deg", "lean_sd_deg",
    "accel_mps2", "height_m",
)  # fmt: skip
"""The published columns of ``trace.csv.gz``, in their order."""


def corner_traces(passes: Passes, rider: str, session: str) -> list[CornerTrace]:
    """The trace of every timed lap's pass, except passes that were far from their corner."""
    since_begin = np.arange(len(passes.time_s)) - passes.grid.spread(passes.grid.first)
    thin = np.flatnonzero(since_begin % DRAWN_EVERY == 0)
    # Copies of the thinned estimate, so that a trace does not keep the whole ensemble in memory.
    channels = {name: read_only(values) for name, values in _channels(passes, thin).items()}
    ends = [(c.turn_in_m - DRAWN_AROUND_M, c.exit_m + DRAWN_AROUND_M) for c in passes.corners]
    low, high = np.array(ends)[passes.corner_at[thin]].T
    drawn = (channels["station_m"] >= low) & (channels["station_m"] <= high)
    of_passes = np.split(np.arange(len(thin)), np.searchsorted(thin, passes.grid.first[1:]))
    traces = []
    for lap, corner, points in zip(passes.laps, passes.corner_of, of_passes, strict=True):
        shown = points[drawn[points]]
        if lap.kind is LapKind.TIMED and len(shown) >= _FEWEST_DRAWN:
            part = slice(shown[0], shown[-1] + 1)
            own = {name: values[part] for name, values in channels.items()}
            name = passes.corners[corner].name
            traces.append(CornerTrace(rider, session, lap.number, name, **own))
    return traces


def _channels(passes: Passes, thin: np.ndarray) -> dict[str, FloatArray]:
    """The arrays of :class:`~lapkit.compare.results.CornerTrace` at the grid points ``thin``, ``(m,)`` each."""
    station, offset = passes.station_m[0, thin], passes.offset_m.take(thin, axis=1)
    curvature, lean = passes.curvature_1pm.take(thin, axis=1), passes.lean_deg.take(thin, axis=1)
    line_offset = by_corner(
        passes.corner_at[thin], lambda i, at: passes.standards[i].line_offset_at(at), station
    )
    return {
        "station_m": station,
        "x_m": passes.tyre_x_m[0, thin],
        "y_m": passes.tyre_y_m[0, thin],
        "offset_m": offset[0],
        "offset_sd_m": spread(offset),
        "wide_of_line_m": -passes.grid.spread(passes.sign)[thin] * (offset[0] - line_offset),
        "speed_mps": passes.speed_mps[0, thin],
        "curvature_1pm": curvature[0],
        "curvature_sd_1pm": spread(curvature),
        "lean_deg": lean[0],
        "lean_sd_deg": spread(lean),
    }


def trace_table(
    path: Ridden, laps: Sequence[Lap], course: Course, rider: str, session: str
) -> pd.DataFrame:
    """The table ``trace``, with a line for every fix of every lap.

    Position, speed, curvature and lean are those of the ridden path, station and offset those of the tyre path. ``t_s``
    counts from the start of the lap. Signs follow ISO 8855, left positive. Heights are as logged, because the path is
    estimated in plan.
    """
    frames = [_lap_samples(path, lap, course) for lap in laps]
    table = pd.concat(frames, ignore_index=True) if frames else pd.DataFrame()
    table["rider"], table["session"] = rider, session
    return table.reindex(columns=list(COLUMNS))


def _lap_samples(path: Ridden, lap: Lap, course: Course) -> pd.DataFrame:
    fixes = path.fix_time_s
    of_lap = (fixes >= lap.start_s) & (fixes < lap.end_s)
    time = fixes[of_lap]
    draws = path.at(time)
    x, y = draws.tyre_xy_m
    station, offset = course.reference.follow(x[0], y[0])
    lat, lon = course.plane.to_lat_lon(draws.x_m[0], draws.y_m[0])
    return pd.DataFrame(
        {
            "lap": lap.number,
            "t_s": time - lap.start_s,
            "lat": lat,
            "lon": lon,
            "x_m": draws.x_m[0],
            "y_m": draws.y_m[0],
            "station_m": course.reference.wrap(station),
            "offset_m": offset,
            "speed_mps": draws.speed_mps[0],
            "curvature_1pm": draws.curvature_1pm[0],
            "curvature_sd_1pm": spread(draws.curvature_1pm),
            "lean_deg": draws.lean_deg[0],
            "lean_sd_deg": spread(draws.lean_deg),
            "accel_mps2": draws.accel_mps2[0],
            "height_m": path.fix_height_m[of_lap],
        }
    )
