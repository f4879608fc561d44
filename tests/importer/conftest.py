"""Files for the readers, made on the spot."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest

from lapkit.importer import Log, read_logs

Write = Callable[..., Path]
START = datetime(2026, 5, 13, 21, 14, 7, 250_000, tzinfo=UTC)
ROWS_FROM_S = 1_777_713_240.0
FIXES = 40
PLACE = "5212.3456,N,00106.5432,W"


def moments(count=FIXES):
    return [START + timedelta(seconds=i / 10) for i in range(count)]


def places(count=FIXES):
    """A rider at about 26.1 m/s, ten fixes a second."""
    return [(52 + i * 2e-5, -1.2 - i * 2e-5) for i in range(count)]


def table(clock, *, header="time,lat,lon", delimiter=",", count=FIXES):
    """A CSV whose time column is made by ``clock`` from a moment."""
    rows = [
        delimiter.join([clock(t), f"{lat:.7f}", f"{lon:.7f}"])
        for t, (lat, lon) in zip(moments(count), places(count), strict=True)
    ]
    return "\n".join([header.replace(",", delimiter), *rows]) + "\n"


def elapsed(log):
    return np.round(log.time_s - log.time_s[0], 6).tolist()


def rmc(clock, date="020526", status="A", speed="10.0", course="45.5", place=PLACE, talker="GN"):
    return f"{talker}RMC,{clock},{status},{place},{speed},{course},{date},,,A"


def gga(clock, quality=1, place=PLACE, talker="GP"):
    return f"{talker}GGA,{clock},{place},{quality},09,0.8,83.1,M,47.2,M,,"


def utc(*numbers):
    return datetime(*numbers, tzinfo=UTC).timestamp()


def ride(times):
    """Rows of a rider who moves on by 20 m at each fix."""
    return [(t, 52 + i % 10_000 * 2e-4, -1.0) for i, t in enumerate(times)]


def reasons(log):
    return {d.reason: d.count for d in log.dropped}


@pytest.fixture
def write(tmp_path: Path) -> Write:
    """Writes text or bytes to a file of its own and returns the path."""
    count = 0

    def writer(content: str | bytes, name: str = "") -> Path:
        nonlocal count
        count += 1
        path = tmp_path / (name or f"log-{count}")
        path.write_bytes(content.encode() if isinstance(content, str) else content)
        return path

    return writer


@pytest.fixture
def logs_of(write) -> Callable[..., tuple[Log, ...]]:
    """Logs of rows (time since a start, lat, lon) or of whole columns, by way of a CSV."""

    def read(rows, header="time (s),lat,lon", start=ROWS_FROM_S):
        lines = [",".join([f"{start + row[0]:.3f}", *map(str, row[1:])]) for row in rows]
        return read_logs(write("\n".join([header, *lines]) + "\n"))

    return read


@pytest.fixture
def gpx_points() -> Callable[..., str]:
    """A GPX document of given track points, each (lat, lon, time, inner XML)."""

    def document(points, head='<?xml version="1.0"?><gpx version="1.1" creator="t">') -> str:
        body = "".join(
            f'<trkpt lat="{lat}" lon="{lon}">'
            + (f"<time>{time}</time>" if time is not None else "")
            + f"{inner}</trkpt>"
            for lat, lon, time, inner in points
        )
        return f"{head}<trk><trkseg>{body}</trkseg></trk></gpx>"

    return document


@pytest.fixture
def sentence() -> Callable[[str], bytes]:
    """An NMEA 0183 sentence with its checksum and line end."""

    def framed(body: str) -> bytes:
        total = 0
        for byte in body.encode():
            total ^= byte
        return f"${body}*{total:02X}\r\n".encode()

    return framed


@pytest.fixture(scope="session", name="moments")
def _moments():
    """Moments a tenth of a second apart."""
    return moments


@pytest.fixture(scope="session", name="places")
def _places():
    """Places of a ride at about 26.1 m/s, ten fixes a second."""
    return places


@pytest.fixture(scope="session", name="table")
def _table():
    """A CSV whose time column is made from a moment."""
    return table


@pytest.fixture(scope="session", name="elapsed")
def _elapsed():
    """Seconds of a log since its first fix."""
    return elapsed


@pytest.fixture(scope="session", name="rmc")
def _rmc():
    """The body of an RMC sentence."""
    return rmc


@pytest.fixture(scope="session", name="gga")
def _gga():
    """The body of a GGA sentence."""
    return gga


@pytest.fixture(scope="session", name="utc")
def _utc():
    """Seconds since 1970 of a date and time."""
    return utc


@pytest.fixture(scope="session", name="ride")
def _ride():
    """Rows of a rider who moves on by 20 m at each fix."""
    return ride


@pytest.fixture(scope="session", name="reasons")
def _reasons():
    """How many fixes of a log were dropped, by reason."""
    return reasons
