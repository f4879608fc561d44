"""What is drawn and written along the path: a lap through a corner, and a run's samples."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd

from lapkit.compare.passes import Passes, by_corner
from lapkit.compare.results import CornerTrace
from lapkit.compare.sweep import Ridden
from lapkit.course.course import Course
from lapkit.path.summary import spread
from lapkit.splitter import Lap, LapKind
from lapkit.units import FloatArray, read_only

DRAWN_AROUND_M = 20.0
"""Stations drawn before turn-in and after the exit marker, metres."""

DRAWN_EVERY = 2
"""One grid point in so many is drawn."""

_FEWEST_DRAWN = 2  # points that make a line

COLUMNS = (
    "rider", "session", "lap", "t_s", "lat", "lon", "x_m", "y_m", "station_m", "offset_m",
    "speed_mps", "curvature_1pm", "curvature_sd_1pm", "lean_deg", "lean_sd_deg",
    "accel_mps2", "height_m",
)  # fmt: skip
"""The published columns of ``trace.csv.gz``, in their order."""


def corner_traces(passes: Passes, rider: str, session: str) -> list[CornerTrace]:
    """Every timed lap's pass, thinned for drawing; one that came by far from its corner is left out."""
    since = np.arange(len(passes.time_s)) - passes.grid.spread(passes.grid.first)
    thin = np.flatnonzero(since % DRAWN_EVERY == 0)
    # Thinned copies of all passes, so that a trace does not hold on to every draw.
    channels = {name: read_only(v) for name, v in _channels(passes, thin).items()}
    station = channels["station_m"]
    ends = [(c.turn_in_m - DRAWN_AROUND_M, c.exit_m + DRAWN_AROUND_M) for c in passes.corners]
    low, high = np.array(ends)[passes.corner_at[thin]].T
    drawn = (station >= low) & (station <= high)
    parts = np.split(np.arange(len(thin)), np.searchsorted(thin, passes.grid.first[1:]))
    traces = []
    for lap, corner, points in zip(passes.laps, passes.corner_of, parts, strict=True):
        shown = points[drawn[points]]
        if lap.kind is LapKind.TIMED and len(shown) >= _FEWEST_DRAWN:
            part = slice(shown[0], shown[-1] + 1)
            own = {name: values[part] for name, values in channels.items()}
            traces.append(
                CornerTrace(rider, session, lap.number, passes.corners[corner].name, **own)
            )
    return traces


def _channels(passes: Passes, thin: np.ndarray) -> dict[str, FloatArray]:
    """What a :class:`~lapkit.compare.results.CornerTrace` holds, at some grid points, ``(m,)`` each."""
    station, offset = passes.station_m[0, thin], passes.offset_m.take(thin, axis=1)
    curvature, lean = passes.curvature_1pm.take(thin, axis=1), passes.lean_deg.take(thin, axis=1)
    on_line = by_corner(
        passes.corner_at[thin], lambda i, at: passes.standards[i].line_offset_at(at), station
    )
    return {
        "station_m": station,
        "x_m": passes.tyre_x_m[0, thin],
        "y_m": passes.tyre_y_m[0, thin],
        "offset_m": offset[0],
        "offset_sd_m": spread(offset),
        "wide_of_line_m": -passes.grid.spread(passes.sign)[thin] * (offset[0] - on_line),
        "speed_mps": passes.speed_mps[0, thin],
        "curvature_1pm": curvature[0],
        "curvature_sd_1pm": spread(curvature),
        "lean_deg": lean[0],
        "lean_sd_deg": spread(lean),
    }


def trace_table(
    path: Ridden, laps: Sequence[Lap], course: Course, rider: str, session: str
) -> pd.DataFrame:
    """A line of ``trace.csv.gz`` for every fix of every lap.

    Position, speed, curvature and lean are the ridden path's, station and offset the tyre path's;
    ``t_s`` counts from the start of the lap. Signs are those of ISO 8855, left positive. Heights are the
    log's own: the path is estimated in plan.
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
