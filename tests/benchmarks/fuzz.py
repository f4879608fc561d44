"""Mutated and random files through every reader; by hand: ``fuzz.py [COUNT [SEED]]``.

Logs of every format, track files, track walks and riders.csv.

Each input must be read or refused within the error family, in under 5 s; the process must stay
below 500 MB. Prints the count of each outcome, the slowest input and the memory; keeps what failed.
"""

from __future__ import annotations

import gzip
import json
import random
import resource
import sys
import tempfile
import time
import traceback
from collections import Counter
from collections.abc import Callable
from pathlib import Path

from lapkit.course import place, read_track
from lapkit.course.checks import check_track
from lapkit.course.walk import track_of_walk
from lapkit.course.walk_file import read_walk
from lapkit.errors import LapkitError
from lapkit.importer import assess, read_logs
from lapkit.importer.event_folder import read_event_folder

SECONDS_ALLOWED = 5.0
MEGABYTES_ALLOWED = 500
# Things that upset readers: numbers at their ends, words for numbers, pieces of other formats.
SPICE = [
    b"NaN", b"inf", b"-inf", b"1e308", b"-1e308", b"1e-320", b"9" * 400, b"-0", b"90.0000001",
    b"180", b"-180", b"360", b"0", b"", b"\x00", b"\xff\xfe", b"\xef\xbb\xbf", b"\xc3\x28", b"\r",
    b"\n\n", b'"', b"'", b";", b",", b"\t", b"|", b"$", b"*", b"*00", b"#", b"<", b">", b"&amp;",
    b"&#0;", b"&bomb;", b"<!DOCTYPE a>", b"<![CDATA[", b"]]>", b"<!--", b"-->", b"<trkpt>",
    b"</trkpt>", b"<gpx/>", b"1970-01-01T00:00:00Z", b"9999-12-31T23:59:59.9999999+23:59",
    b"0000-00-00T00:00:00Z", b"24:00:00", b"235960.99", b"999999", b"time", b"lat", b"(km/h)",
    b"\xe2\x80\xae", b"\x1b[31m", b"=1+1", b"../..",
]  # fmt: skip


def checked(body: str) -> bytes:
    """An NMEA sentence with its checksum."""
    total = 0
    for byte in body.encode():
        total ^= byte
    return f"${body}*{total:02X}\r\n".encode()


def gpx(rng: random.Random) -> bytes:
    """A small GPX log."""
    points = "".join(
        f'<trkpt lat="{52 + i * 1e-5:.7f}" lon="{-1 - i * 1e-5:.7f}"><ele>{90 + i % 9}</ele>'
        f"<time>2026-05-02T09:{i // 60 % 60:02}:{i % 60:02}.{rng.randrange(10)}Z</time>"
        f"<extensions><a:speed>{i % 30}.5</a:speed><course>{i}</course></extensions></trkpt>"
        for i in range(rng.randrange(1, 80))
    )
    head = rng.choice(['<?xml version="1.0"?>', '<?xml version="1.0" encoding="latin-1"?>', ""])
    return f'{head}<gpx version="1.1"><trk><trkseg>{points}</trkseg></trk></gpx>'.encode()


def nmea(rng: random.Random) -> bytes:
    """A small NMEA log."""
    lines = []
    for i in range(rng.randrange(1, 60)):
        clock = f"2359{i % 60:02}.{rng.randrange(10)}0" if rng.random() < 0.5 else f"0000{i:02}.00"
        place = f"52{i % 60:02}.12345,N,00112.54321,W"
        lines.append(checked(f"GNRMC,{clock},A,{place},040.5,{i}.2,020526,,,A"))
        lines.append(checked(f"GPGGA,{clock},{place},1,12,0.6,83.1,M,-29.5,M,,"))
        lines.append(checked(f"GNGNS,{clock},{place},AAN,12,0.6,83.1,-29.5,,"))
        lines.append(checked(f"GPVTG,{i}.2,T,,M,40.5,N,75.0,K,A"))
    return b"".join(line for line in lines if rng.random() < 0.9)


def csv(rng: random.Random) -> bytes:
    """A small CSV log in one of many layouts."""
    delimiter = rng.choice(",;\t|")
    decimal = rng.choice(".,") if delimiter != "," else "."
    clock = rng.choice(
        [
            lambda i: f"2026-05-02T09:14:{i % 60:02}.5Z",
            lambda i: f"02/05/2026 09:14:{i % 60:02}",
            lambda i: f"09:14:{i % 60:02}.25",
            lambda i: f"{1.7e9 + i / 10:.1f}",
            lambda i: f"{1.7e12 + i * 100:.0f}",
            lambda i: f"{91400 + i % 60}.2",
            lambda i: f"{i / 10}",
        ]
    )
    header = delimiter.join(["Time", "Date", "Lat", "N/S", "Lon", "Speed (km/h)", "course", "Fix"])
    units = delimiter.join(["s", "", "deg", "", "deg", "km/h", "deg", ""])
    date = rng.choice(["2026-05-02", "02/05/2026", "20260502", "020526"])
    rows = [
        delimiter.join(
            [
                clock(i),
                date,
                f"{52 + i * 1e-5:.6f}",
                "N",
                f"{-1 - i * 1e-5:.6f}",
                "80.5",
                f"{i}",
                "1",
            ]
        ).replace(".", decimal)
        for i in range(rng.randrange(1, 60))
    ]
    lines = [header, units, *rows] if rng.random() < 0.3 else [header, *rows]
    encoding = rng.choice(["utf-8", "utf-8-sig", "utf-16", "latin-1"])
    return ("\n".join(lines) + "\n").encode(encoding)


def noise(rng: random.Random) -> bytes:
    """Random bytes, perhaps behind the beginning of a format."""
    start = rng.choice(
        [b"", b"<gpx>", b"time,lat,lon\n", b"$GPRMC,", b"\x1f\x8b\x08\x00", b"\xff\xfe"]
    )
    return start + rng.randbytes(rng.randrange(400))


def mutated(data: bytes, rng: random.Random) -> bytes:
    """A copy with a few pieces cut, doubled, moved, flipped or spiced."""
    for _ in range(rng.randrange(6)):
        at, to = sorted(rng.randrange(len(data) + 1) for _ in range(2))
        to = min(to, at + rng.choice([1, 10, 200, 5000]))
        data = rng.choice(
            [
                lambda d, a, b: d[:a] + d[b:],
                lambda d, a, b: d[:b] + d[a:],
                lambda d, a, b: d[:a] + rng.choice(SPICE) + d[b:],
                lambda d, a, b: d[:a] + rng.choice(SPICE) + d[a:],
                lambda d, a, b: d[:a] + bytes(255 - byte for byte in d[a:b][:3]) + d[a:][3:],
                lambda d, a, b: d[:a],
            ]
        )(data, at, to)
    if rng.random() < 0.1:
        data = gzip.compress(data, 1)
        if rng.random() < 0.5 and data:
            at = rng.randrange(len(data))
            data = data[:at] + rng.randbytes(1) + data[at + 1 :]
    return data


def track(rng: random.Random) -> bytes:
    """A small track file."""
    ring = [[round(2 + 1e-3 * x, 7), round(50 + 1e-3 * y, 7), 12.5] for x, y in _RING]
    features = [
        ({"role": "centre", "width_m": 12}, "LineString", [*ring, ring[0]]),
        ({"role": "start_line"}, "LineString", [[2.0, 49.9999], [2.0, 50.0001]]),
        ({"role": "corner", "name": "1", "turn": "left", "cues": ["look up"]}, "", None),
        ({"role": "marker", "corner": "1", "name": "in", "kind": "turn_in", "side": "left"}, "Point", ring[1]),
        ({"role": "marker", "corner": "1", "name": "apex", "kind": "apex", "side": "left"}, "Point", ring[2]),
        ({"role": "marker", "corner": "1", "name": "exit", "kind": "exit", "side": "right"}, "Point", ring[3]),
        ({"role": "seam", "name": "a", "corner": "1"}, "LineString", ring[:3]),
        ({"role": "hazard", "text": "drain"}, "Polygon", [[*ring[:3], ring[0]]]),
        ({"role": "hold_point"}, "Point", ring[0]),
    ]  # fmt: skip
    rng.shuffle(features)
    return json.dumps(
        {
            "type": "FeatureCollection",
            "features": [
                {
                    "type": "Feature",
                    "properties": properties,
                    "geometry": {"type": kind, "coordinates": at} if kind else None,
                }
                for properties, kind, at in features
            ],
        }
    ).encode()


def walk(rng: random.Random) -> bytes:
    """A small track walk."""
    names = ["start left", "start right", "3 turn-in", "3 apex", "3 apex 2", "3 exit", "hold point",
             "3 seam 1 a", "hazard drain", "3 sight", "centre", "=1+1"]  # fmt: skip
    rng.shuffle(names)
    points = "".join(
        f'<wpt lat="{50 + k * 1e-4:.7f}" lon="{2 + k * 1e-4:.7f}"><name>{name}</name></wpt>'
        for k, name in enumerate(names)
    )
    line = "".join(f'<trkpt lat="{50 + 1e-3 * y:.7f}" lon="{2 + 1e-3 * x:.7f}"/>' for x, y in _RING)
    recorded = f"<trk><name>{rng.choice(['centre', 'left edge', 'coach lap'])}</name><trkseg>{line}</trkseg></trk>"
    return f'<?xml version="1.0"?><gpx version="1.1">{points}{recorded}</gpx>'.encode()


def riders(rng: random.Random) -> bytes:
    """A small riders.csv."""
    head = "rider,session,file,group,antenna_height_m,note"
    rows = [f"Rider {k},{k},riders.csv,novice,0.{k},note" for k in range(rng.randrange(1, 9))]
    return "\n".join([head, *rows, ""]).encode(rng.choice(["utf-8", "utf-8-sig", "latin-1"]))


def read_as_log(path: Path) -> None:
    """Read and judge a log."""
    for log in read_logs(path):
        assess(log)


def read_as_track(path: Path) -> None:
    """Read, check and place a track file."""
    given = read_track(path)
    check_track(given)
    place(given)


def read_as_walk(path: Path) -> None:
    """Read a walk, and make a track of it."""
    made = track_of_walk(read_walk(path)).track
    check_track(made)


def read_as_riders(path: Path) -> None:
    """Read the event folder that the file is in."""
    read_event_folder(path.parent)


_RING = [(0, 0), (1, 0), (2, 0.3), (2.4, 1), (2, 1.7), (1, 2), (0, 1.7), (-0.4, 1)]
READERS: dict[Callable[[random.Random], bytes], Callable[[Path], None]] = {
    gpx: read_as_log,
    nmea: read_as_log,
    csv: read_as_log,
    noise: read_as_log,
    track: read_as_track,
    walk: read_as_walk,
    riders: read_as_riders,
}
"""What is made, and what must read or refuse it."""


def outcome(read: Callable[[Path], None], path: Path) -> str:
    """``read`` or ``refused``, else how a promise was broken."""
    try:
        read(path)
    except LapkitError as error:
        whole = error.what and error.where and error.remedy
        return "refused" if whole else "refused without what, where or remedy"
    except Exception:
        traceback.print_exc()
        return "traceback"
    return "read"


def run(count: int, seed: int) -> int:
    """Read ``count`` inputs; returns how many broke a promise."""
    rng = random.Random(seed)
    makers = list(READERS)
    outcomes: Counter[str] = Counter()
    slowest = (0.0, 0)
    failures = 0
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "riders.csv"
        for number in range(count):
            maker = makers[number % len(makers)]
            data = mutated(maker(rng), rng)
            path.write_bytes(data)
            begun = time.perf_counter()
            ended = outcome(READERS[maker], path)
            taken = time.perf_counter() - begun
            slowest = max(slowest, (taken, number))
            if ended not in ("read", "refused") or taken > SECONDS_ALLOWED:
                failures += 1
                kept = Path(tempfile.gettempdir()) / f"lapkit-fuzz-{seed}-{number}"
                kept.write_bytes(data)
                print(f"{ended} in {taken:.1f} s: {kept}")
            outcomes[f"{maker.__name__} {ended}"] += 1
    for ended, times in sorted(outcomes.items()):
        print(f"{times:8d} {ended}")
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024
    print(f"slowest {slowest[0]:.2f} s (number {slowest[1]}), peak memory {peak} MB")
    return failures + (peak > MEGABYTES_ALLOWED)


if __name__ == "__main__":
    wanted = int(sys.argv[1]) if len(sys.argv) > 1 else 10_000
    sys.exit(1 if run(wanted, int(sys.argv[2]) if len(sys.argv) > 2 else 0) else 0)
