from __future__ import annotations

import gzip
import subprocess
import sys
import tracemalloc
from itertools import chain

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lapkit.errors import LapkitError, LogError
from lapkit.importer import assess, read_log, read_logs

CSV = "time (s),lat,lon\n" + "".join(f"{i},{52 + i * 1e-4:.6f},1\n" for i in range(30))


@pytest.fixture
def samples(gpx_points, sentence):
    rows = [(52 + i / 1000, 1, f"2026-05-02T09:14:{i:02}Z", "") for i in range(30)]
    place = "5212.3456,N,00106.5432,W"
    nmea = b"".join(sentence(f"GPRMC,1000{i:02},A,{place},010.0,090.0,020526,,") for i in range(30))
    return {"gpx": gpx_points(rows).encode(), "csv": CSV.encode(), "nmea": nmea}


@pytest.mark.parametrize("kind", ["gpx", "csv", "nmea"])
@pytest.mark.parametrize("name", ["log.gpx", "log.csv", "log.nmea", "log", "log.txt", "log.gz"])
@pytest.mark.parametrize("packed", [False, True])
def test_the_format_is_told_by_the_content(write, samples, kind, name, packed):
    data = gzip.compress(samples[kind]) if packed else samples[kind]
    assert len(read_log(write(data, name))) == 30


@pytest.mark.parametrize("kind", ["gpx", "csv", "nmea"])
def test_reading_twice_gives_the_same(write, samples, kind):
    path = write(samples[kind])
    first, second = read_log(path), read_log(path)
    assert first.sha256 == second.sha256
    assert first.source == second.source == str(path)
    for name in ("time_s", "lat_deg", "lon_deg"):
        assert np.array_equal(getattr(first, name), getattr(second, name))
        assert not getattr(first, name).flags.writeable


def test_a_rider_whose_fixes_are_of_no_use_costs_the_others_nothing(write):
    """Of two who share a file one has no place at all; where neither has any, it is told why."""
    text = "rider,time (s),lat,lon\n"
    ada = [f"Ada,{i},{52 + i * 1e-4:.6f},1\n" for i in range(30)]
    bo = [f"Bo,{i},nan,1\n" for i in range(30)]
    for rows in ((ada, bo), (bo, ada)):
        (log,) = read_logs(write(text + "".join(chain(*rows))))
        assert (log.rider, len(log)) == ("Ada", 30)
    with pytest.raises(LogError, match="none of its 30 fixes can be used"):
        read_logs(write(text + "".join([*bo, *(row.replace("Bo", "Cy") for row in bo)])))


@pytest.mark.parametrize("kind", ["gpx", "csv", "nmea"])
def test_a_packed_log_that_breaks_off_is_used_and_said_so(write, samples, kind):
    packed = gzip.compress(samples[kind])
    log = read_log(write(packed[: len(packed) * 2 // 3]))
    assert 0 < len(log) < 30
    assert any("packed data break off" in note for note in log.notes)


@pytest.mark.parametrize(
    ("data", "reason"),
    [
        (b"", "the file is empty"),
        # Without a time in it: the processes that share the tests know them by these bytes.
        (gzip.compress(b"", mtime=0), "the file is empty"),
        (b"PK\x03\x04" + bytes(100), "a zip archive"),
        (gzip.compress(gzip.compress(b"x", mtime=0), mtime=0), "gzipped twice"),
        (b"%PDF-1.7", "a PDF"),
        (b"\x1f\x8b\x08\x00broken", "the packed data break off"),
        (b"\xff\xfe", "no header row"),
    ],
)
def test_other_files_are_refused_with_the_reason(write, data, reason):
    with pytest.raises(LogError, match=reason):
        read_logs(write(data))


def test_the_limit_on_size_holds_for_all_formats(write, samples):
    for data in samples.values():
        with pytest.raises(LogError, match="larger than"):
            read_logs(write(data), max_bytes=300)
        with pytest.raises(LogError, match="larger than"):
            read_logs(write(gzip.compress(data)), max_bytes=300)


def test_a_bomb_of_each_kind_is_refused_in_little_memory(write):
    bombs = [
        b"<gpx>" + b" " * 90_000_000,
        CSV.encode() + b"\n" * 90_000_000,
        b"$GPRMC," + bytes(90_000_000),
    ]
    packed = [write(gzip.compress(bomb, 1)) for bomb in bombs]
    del bombs
    tracemalloc.start()
    for path in packed:
        with pytest.raises(LogError, match="as no log does"):
            read_logs(path)
    assert tracemalloc.get_traced_memory()[1] < 60e6
    tracemalloc.stop()


@settings(max_examples=150)
@given(
    st.binary(max_size=300),
    st.sampled_from([b"", b"<gpx>", b"time,lat,lon\n", b"$GPGGA,", b"\x1f\x8b\x08"]),
)
def test_random_bytes_are_read_or_refused_within_the_family(once, data, start):
    once.write_bytes(start + data)
    try:
        for log in read_logs(once):
            assess(log)
    except LapkitError as error:
        assert error.what
        assert error.where
        assert error.remedy
        assert str(error).isprintable()


@settings(max_examples=150)
@given(st.data())
def test_damaged_logs_are_read_or_refused_within_the_family(once, damaged, data):
    whole = data.draw(st.sampled_from(damaged))
    at = data.draw(st.integers(0, len(whole)))
    to = data.draw(st.integers(at, min(len(whole), at + 50)))
    junk = data.draw(
        st.binary(max_size=12) | st.sampled_from([b"NaN", b"1e308", b'"', b",,", b"\n", b"<"])
    )
    once.write_bytes(whole[:at] + junk + whole[to:])
    try:
        for log in read_logs(once):
            assert np.isfinite(log.time_s).all()
            assert (np.abs(log.lat_deg) <= 90).all()
            assert ((log.lon_deg >= -180) & (log.lon_deg < 180)).all()
            assess(log)
    except LapkitError as error:
        assert error.remedy


@pytest.fixture(scope="module")
def once(tmp_path_factory):
    return tmp_path_factory.mktemp("any") / "log"


@pytest.fixture(scope="module")
def damaged():
    point = '<trkpt lat="52.{0}" lon="1"><ele>9</ele><time>2026-05-02T09:14:{0}.5Z</time></trkpt>'
    gpx = (
        "<gpx><trk><trkseg>"
        + "".join(point.format(i) for i in range(10, 40))
        + "</trkseg></trk></gpx>"
    )
    line = "$GPRMC,1000{:02},A,5212.3456,N,00106.5432,W,010.0,090.0,020526,,\r\n"
    return [gpx.encode(), CSV.encode(), "".join(line.format(i) for i in range(30)).encode()]


def test_importing_the_importer_loads_no_pandas():
    code = (
        "import sys, lapkit.importer; sys.exit('pandas' in sys.modules or 'scipy' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
