"""Logs as files: GPX 1.1, CSV and NMEA 0183, gzipped where the name asks for it.

The same log gives the same bytes.
"""

from __future__ import annotations

import gzip
from collections.abc import Callable, Iterator
from functools import reduce
from pathlib import Path

import numpy as np

from lapkit.arrays import FloatArray
from lapkit.errors import OptionError
from lapkit.importer.log import Log
from lapkit.units import KMH_MPS, KNOT_MPS

_GPX_HEAD = """<?xml version="1.0" encoding="UTF-8"?>
<gpx version="1.1" creator="lapkit simulate" xmlns="http://www.topografix.com/GPX/1/1" \
xmlns:r="urn:lapkit:receiver">
<trk><trkseg>
"""
_GPX_TAIL = "</trkseg></trk>\n</gpx>\n"


def write_log(log: Log, path: Path) -> None:
    """Write a log in the format that the name's ending sets: .gpx, .csv or .nmea, each also .gz.

    Raises:
        OptionError: another ending.
    """
    name = path.name.removesuffix(".gz")
    if (ending := Path(name).suffix) not in FORMATS:
        raise OptionError(
            f"logs are not written as {ending or 'a file without ending'}",
            where=str(path),
            remedy=f"Endings: {', '.join(FORMATS)}, each also with .gz.",
        )
    data = "".join(FORMATS[ending](log)).encode("ascii")
    if path.name != name:
        data = gzip.compress(data, compresslevel=9, mtime=0)
    path.write_bytes(data)


def _gpx(log: Log) -> Iterator[str]:
    yield _GPX_HEAD
    stamps = _iso(log.time_s)
    heights = _texts(log.height_m, "<ele>{:.2f}</ele>", len(log))
    speeds = _texts(log.speed_mps, "<r:speed>{:.2f}</r:speed>", len(log))
    headings = _texts(log.heading_deg, "<r:course>{:.2f}</r:course>", len(log))
    rows = zip(
        log.lat_deg.tolist(), log.lon_deg.tolist(), heights, stamps, speeds, headings, strict=True
    )
    for lat, lon, height, stamp, speed, heading in rows:
        extra = f"<extensions>{speed}{heading}</extensions>" if speed or heading else ""
        place = f'lat="{lat:.7f}" lon="{lon:.7f}"'
        yield f"<trkpt {place}>{height}<time>{stamp}</time>{extra}</trkpt>\n"
    yield _GPX_TAIL


def _csv(log: Log) -> Iterator[str]:
    columns = {
        "Time (UTC)": _iso(log.time_s),
        "Latitude (deg)": [f"{v:.7f}" for v in log.lat_deg.tolist()],
        "Longitude (deg)": [f"{v:.7f}" for v in log.lon_deg.tolist()],
    }
    if log.height_m is not None:
        columns["Altitude (m)"] = _texts(log.height_m, "{:.2f}", len(log))
    if log.speed_mps is not None:
        columns["Speed (km/h)"] = _texts(log.speed_mps / KMH_MPS, "{:.2f}", len(log))
    if log.heading_deg is not None:
        columns["Heading (deg)"] = _texts(log.heading_deg, "{:.2f}", len(log))
    yield ",".join(columns) + "\n"
    for row in zip(*columns.values(), strict=True):
        yield ",".join(row) + "\n"


def _nmea(log: Log) -> Iterator[str]:
    """RMC and GGA of each fix. RMC leaves speed and course empty where they are not known."""
    speeds = _texts(None if log.speed_mps is None else log.speed_mps / KNOT_MPS, "{:.3f}", len(log))
    headings = _texts(log.heading_deg, "{:.2f}", len(log))
    heights = _texts(log.height_m, "{:.2f},M,0.0,M", len(log))
    places = zip(_degrees(log.lat_deg, 2, "NS"), _degrees(log.lon_deg, 3, "EW"), strict=True)
    for stamp, place, speed, heading, height in zip(
        _iso(log.time_s), places, speeds, headings, heights, strict=True
    ):
        clock = stamp[11:23].replace(":", "")
        date = stamp[8:10] + stamp[5:7] + stamp[2:4]
        where = ",".join(place)
        yield _sentence(f"GNRMC,{clock},A,{where},{speed},{heading},{date},,,A")
        yield _sentence(f"GNGGA,{clock},{where},1,12,0.8,{height or ',,,'},,")


FORMATS: dict[str, Callable[[Log], Iterator[str]]] = {".gpx": _gpx, ".csv": _csv, ".nmea": _nmea}
"""Ending of a log's name → its writer."""


def _sentence(body: str) -> str:
    check = reduce(lambda sum_, byte: sum_ ^ byte, body.encode("ascii"))
    return f"${body}*{check:02X}\r\n"


def _degrees(values: FloatArray, digits: int, sides: str) -> list[str]:
    """Degrees and minutes as NMEA writes them, with the side: ``4807.038000,N``."""
    texts = []
    for value in values.tolist():
        # Counted in millionths of a minute, so that 59.9999999 minutes become the next degree.
        whole, rest = divmod(round(abs(value) * 60e6), 60_000_000)
        side = sides[0] if value >= 0 else sides[1]
        texts.append(f"{whole:0{digits}d}{rest / 1e6:09.6f},{side}")
    return texts


def _iso(time_s: FloatArray) -> list[str]:
    """Times as ISO 8601 in UTC with milliseconds."""
    stamps = np.round(time_s * 1000.0).astype("datetime64[ms]")
    return [f"{stamp}Z" for stamp in np.datetime_as_string(stamps).tolist()]


def _texts(values: FloatArray | None, form: str, count: int) -> list[str]:
    """Values in a form; empty where unknown."""
    if values is None:
        return [""] * count
    return [form.format(v) if v == v else "" for v in values.tolist()]
