"""What is drawn and written along the path: one lap through one corner, and the whole run's samples."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd

from lapkit.compare.passes import Pass, Ridden
from lapkit.compare.results import CornerTrace
from lapkit.compare.standard import Standard
from lapkit.course.course import Course
from lapkit.lean import balance_lean_deg
from lapkit.path.summary import spread
from lapkit.splitter import Lap
from lapkit.units import read_only

DRAWN_AROUND_M = 20.0
"""Stations drawn before turn-in and after the exit marker, metres."""

DRAWN_EVERY = 3
"""One grid point in so many is drawn."""

COLUMNS = (
    "rider", "session", "lap", "t_s", "lat", "lon", "x_m", "y_m", "station_m", "offset_m", "speed_mps",
    "curvature_1pm", "curvature_sd_1pm", "lean_deg", "lean_sd_deg", "accel_mps2", "height_m",
)  # fmt: skip
"""The contract's columns of ``trace.csv.gz``, in its order."""


def corner_trace(p: Pass, standard: Standard, rider: str, session: str) -> CornerTrace:
    """The pass thinned for drawing."""
    station = p.station_m[0]
    low, high = p.corner.turn_in_m - DRAWN_AROUND_M, p.corner.exit_m + DRAWN_AROUND_M
    drawn = np.flatnonzero((station >= low) & (station <= high))[::DRAWN_EVERY]
    x, y = p.draws.tyre_xy_m
    offset = p.offset_m[:, drawn]
    wide = np.full(len(drawn), np.nan)
    if standard.line is not None:
        wide = -p.sign * (offset[0] - standard.line.offset_at(station[drawn]))
    curvature, lean = p.curvature_1pm[:, drawn], p.lean_deg[:, drawn]
    return CornerTrace(
        rider=rider,
        session=session,
        lap=p.lap.number,
        corner=p.corner.name,
        station_m=read_only(station[drawn]),
        x_m=read_only(x[0, drawn]),
        y_m=read_only(y[0, drawn]),
        offset_m=read_only(offset[0]),
        offset_sd_m=read_only(spread(offset)),
        wide_of_line_m=read_only(wide),
        speed_mps=read_only(p.speed_mps[0, drawn]),
        curvature_1pm=read_only(curvature[0]),
        curvature_sd_1pm=read_only(spread(curvature)),
        lean_deg=read_only(lean[0]),
        lean_sd_deg=read_only(spread(lean)),
    )


def trace_table(
    path: Ridden, laps: Sequence[Lap], course: Course, rider: str, session: str
) -> pd.DataFrame:
    """A line of ``trace.csv.gz`` for every fix of every lap.

    Position, speed, curvature and lean are the ridden path's, station and offset the tyre path's; ``t_s``
    counts from the start of the lap. Signs are those of ISO 8855, left positive. Heights are NaN: the
    path is estimated in plan.
    """
    frames = [_lap_samples(path, lap, course) for lap in laps]
    table = pd.concat(frames, ignore_index=True) if frames else pd.DataFrame()
    table["rider"], table["session"] = rider, session
    return table.reindex(columns=list(COLUMNS))


def _lap_samples(path: Ridden, lap: Lap, course: Course) -> pd.DataFrame:
    fixes = path.fix_time_s
    time = fixes[(fixes >= lap.start_s) & (fixes < lap.end_s)]
    draws = path.at(time)
    x, y = draws.tyre_xy_m
    station, offset = course.reference.follow(x[0], y[0])
    grade, vertical = np.zeros_like(station), np.zeros_like(station)
    if course.profile is not None:
        grade, vertical = course.profile.at(course.reference.wrap(station))
    lean = balance_lean_deg(draws.speed_mps, draws.curvature_1pm, vertical, grade)
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
            "lean_deg": lean[0],
            "lean_sd_deg": spread(lean),
            "accel_mps2": draws.accel_mps2[0],
        }
    )
