"""Files for the readers, made on the spot."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

Write = Callable[..., Path]


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
