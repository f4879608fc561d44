"""Results as files for other programs: CSV, Parquet, GPX and GeoJSON."""

from __future__ import annotations

import json
from collections.abc import Iterable
from datetime import UTC, datetime
from pathlib import Path

import gpxpy.gpx
import numpy as np
import pandas as pd

from lapkit.arrays import FloatArray
from lapkit.library.layers import (
    Layer,
    cones_layer,
    corners_layer,
    laps_layer,
    marker_line_layer,
)
from lapkit.library.run import FilePath, Run, runs_given
from lapkit.reporter.contents import Contents, What
from lapkit.reporter.output import whole_folder
from lapkit.reporter.tables import write_table
from lapkit.whole_file import write_whole

_DIGITS = 8  # a millimetre


def export(
    runs: Run | Iterable[Run], folder: FilePath, *, parquet: bool = False, trace: bool = False
) -> list[Path]:
    """Write runs on one course for other programs, into a folder that appears whole or not at all.

    ``laps.csv``, ``corners.csv`` and the other tables (SI units, named in the columns), the same as
    Parquet when asked for; ``laps.gpx`` with a track for each lap; and the layers
    ``laps.geojson``, ``marker_line.geojson``, ``corners.geojson`` and ``cones.geojson`` for a GIS
    (WGS 84 degrees, RFC 7946).

    Args:
        runs: a run, or several on one course.
        folder: new, empty or written by lapkit before.
        parquet: whether to write the tables as Parquet too (extra ``parquet``).
        trace: whether to write every sample too, ``trace.csv.gz``.

    Returns:
        The files written.

    Raises:
        OptionError: no run was given.
        OutputError: the folder cannot be written, or the extra is missing.
    """
    given = runs_given(runs, "write")
    names = list(given[0].result.tables)
    course = given[0].course
    layers = {
        "laps": laps_layer(given),
        "marker_line": marker_line_layer(course),
        "corners": corners_layer(course),
        "cones": cones_layer(course),
    }
    with whole_folder(Path(folder), (), Contents(What.RUNS)) as place:
        written = []
        for name in [*names, *(["trace"] if trace else [])]:
            table = pd.concat([run.table(name) for run in given], ignore_index=True)
            written += write_table(name, table, place, parquet=parquet)
        (place / "laps.gpx").write_bytes(_gpx(given))
        written.append("laps.gpx")
        for name, layer in layers.items():
            (place / f"{name}.geojson").write_bytes(_geojson(layer))
            written.append(f"{name}.geojson")
    return [Path(folder) / name for name in written]


def write_geojson(layer: Layer, path: FilePath) -> None:
    """Write a layer as a GeoJSON file (UTF-8; WGS 84 degrees, longitude first), whole or not at all.

    Raises:
        OutputError: the file cannot be written.
    """
    write_whole(Path(path), _geojson(layer), "layer")


def write_gpx(runs: Run | Iterable[Run], path: FilePath) -> None:
    """Write the ridden path of every lap as a track of GPX 1.1, a point every 0.2 s, whole or not at all.

    Degrees WGS 84; times in UTC, left out for a log without a calendar.

    Raises:
        OptionError: no run was given.
        OutputError: the file cannot be written.
    """
    write_whole(Path(path), _gpx(runs_given(runs, "write")), "GPX file")


def _geojson(layer: Layer) -> bytes:
    text = json.dumps(layer, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
    return f"{text}\n".encode()


def _gpx(runs: Iterable[Run]) -> bytes:
    whole = gpxpy.gpx.GPX()
    whole.creator = "lapkit"
    for run in runs:
        for lap in run.laps_ridden:
            time = run.lap_times_s(lap)
            lat, lon = run.course.plane.to_lat_lon(*run.path.mean_xy(time))
            track = gpxpy.gpx.GPXTrack(
                name=f"{run.rider}, run {run.session}, lap {lap.number}", description=str(lap.kind)
            )
            track.segments.append(gpxpy.gpx.GPXTrackSegment(_points(run, lat, lon, time)))
            whole.tracks.append(track)
    return whole.to_xml(version="1.1").encode()


def _points(
    run: Run, lat_deg: FloatArray, lon_deg: FloatArray, time_s: FloatArray
) -> list[gpxpy.gpx.GPXTrackPoint]:
    stamps = [datetime.fromtimestamp(t, tz=UTC) if run.log.has_clock else None for t in time_s]
    places = np.stack([lat_deg, lon_deg], axis=-1).round(_DIGITS).tolist()
    return [
        gpxpy.gpx.GPXTrackPoint(lat, lon, time=at)
        for (lat, lon), at in zip(places, stamps, strict=True)
    ]
