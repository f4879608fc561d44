"""GPX as gpxpy reads it: the same points, to the last digit of position, height and time.

Source: gpxpy (reference library), which also writes most of the files here.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta, timezone

import gpxpy
import gpxpy.gpx
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from lapkit.errors import LogError
from lapkit.importer import read_logs

START = datetime(2026, 5, 2, 9, 14, tzinfo=UTC)
STEPS = st.integers(1, 90_000_000)
POINTS = st.lists(
    st.tuples(
        st.floats(-90, 90).filter(lambda v: abs(v) > 1e-6),
        st.floats(-180, 180, exclude_max=True).filter(lambda v: abs(v) > 1e-6),
        st.none() | st.floats(-400, 9000),
        STEPS,
    ),
    min_size=1,
    max_size=25,
)


@pytest.fixture(scope="module")
def path(tmp_path_factory):
    return tmp_path_factory.mktemp("gpx") / "log.gpx"


def agree(path, text: str) -> int:
    """Compare both readings of a document; returns how many points there were."""
    path.write_text(text)
    theirs = [
        p
        for track in gpxpy.parse(text).tracks
        for segment in track.segments
        for p in segment.points
        if p.time is not None
    ]
    (log,) = read_logs(path)
    assert len(log) == len(theirs)
    assert log.lat_deg.tolist() == [p.latitude for p in theirs]
    assert log.lon_deg.tolist() == [p.longitude for p in theirs]
    utc = [p.time if p.time.tzinfo else p.time.replace(tzinfo=UTC) for p in theirs]
    assert log.time_s.tolist() == [t.timestamp() for t in utc]
    heights = [np.nan if p.elevation is None else p.elevation for p in theirs]
    if log.height_m is None:
        assert np.isnan(heights).all()
    else:
        np.testing.assert_array_equal(log.height_m, heights)
    return len(theirs)


@given(POINTS, st.sampled_from(["1.0", "1.1"]), st.integers(-12 * 60, 14 * 60))
def test_what_gpxpy_writes_is_read_as_gpxpy_reads_it(path, points, version, zone):
    gpx = gpxpy.gpx.GPX()
    track = gpxpy.gpx.GPXTrack()
    gpx.tracks.append(track)
    moment = START.astimezone(timezone(timedelta(minutes=zone)))
    for number, (lat, lon, height, step) in enumerate(points):
        if number % 7 == 0:
            track.segments.append(gpxpy.gpx.GPXTrackSegment())
        moment += timedelta(microseconds=step)
        track.segments[-1].points.append(
            gpxpy.gpx.GPXTrackPoint(lat, lon, elevation=height, time=moment)
        )
    assert agree(path, gpx.to_xml(version)) == len(points)


FRACTION = st.text("0123456789", min_size=1, max_size=12)


@given(
    st.lists(FRACTION, min_size=1, max_size=12),
    st.sampled_from(["Z", "", "+00:00", "-03:30", "+0545", "+02"]),
    st.sampled_from("T "),
    st.decimals(-89, 89, allow_nan=False, places=12).filter(lambda v: abs(v) > 1e-6),
)
def test_numbers_with_any_number_of_digits_are_read_as_gpxpy_reads_them(
    path, fractions, zone, between, lat
):
    body = "".join(
        f'<trkpt lat="{lat}" lon="1e-3"><ele> 12.{fraction}\n</ele>'
        f"<time>2026-05-02{between}09:14:{second:02}.{fraction}{zone}</time></trkpt>"
        for second, fraction in enumerate(fractions)
    )
    agree(path, f"<gpx><trk><trkseg>{body}</trkseg></trk></gpx>")


# Forms in which loggers and editors write a point; every one of them is accepted by gpxpy.
FORMS = [
    '<trkpt lat="{lat}" lon="{lon}"><ele>1</ele><time>{time}</time></trkpt>',
    '<trkpt lon="{lon}" lat="{lat}"><time>{time}</time><ele></ele></trkpt>',
    '<trkpt lat="{lat}" lon="{lon}"><name>a<![CDATA[<b>]]></name><time>{time}</time></trkpt>',
    '<trkpt lat="{lat}" lon="{lon}"><!-- <ele>9</ele> --><ele>2<!-- x -->.5</ele>'
    "<time>{time}</time></trkpt>",
    '<trkpt lat="{lat}" lon="{lon}"><time>{time}</time><extensions><x><ele>7</ele></x></extensions>'
    "</trkpt>",
    '<trkpt lat="{lat}" lon="{lon}"><time/></trkpt>',
    '<trkpt lat="{lat}" lon="{lon}"><time>yesterday</time></trkpt>',
    '<trkpt lat="{lat}" lon="{lon}"><time>2026-05-02T24:00:00Z</time></trkpt>',
    '<trkpt lat="{lat}" lon="{lon}"><time>2026-02-30T00:00:00Z</time></trkpt>',
    '</trkseg><trkseg><trkpt lat="{lat}" lon="{lon}"><time>{time}</time></trkpt>',
]


@given(st.lists(st.sampled_from(FORMS), max_size=20))
def test_points_written_in_different_forms_are_read_as_gpxpy_reads_them(path, forms):
    body = "".join(
        form.format(
            lat=f"{52 + i / 977:.9f}", lon=f"{-1 - i / 977:.9f}", time=f"2026-05-02T09:14:{i:02}Z"
        )
        for i, form in enumerate([FORMS[0], *forms])
    )
    agree(path, f'<gpx version="1.1"><trk><trkseg>{body}</trkseg></trk></gpx>')


def test_a_file_that_gpxpy_refuses_and_lapkit_uses_is_said_to_be_broken(path):
    text = '<gpx><trk><trkseg><trkpt lat="1" lon="2"><time>2026-05-02T09:14:00Z</time></trkpt><trk'
    with pytest.raises(gpxpy.gpx.GPXException):
        gpxpy.parse(text)
    path.write_text(text)
    (log,) = read_logs(path)
    assert "the XML is broken" in log.notes[0]


def test_files_without_track_points_are_refused_where_gpxpy_finds_none(path):
    text = '<gpx version="1.1"><wpt lat="1" lon="2"/></gpx>'
    assert not gpxpy.parse(text).tracks
    path.write_text(text)
    with pytest.raises(LogError, match="waypoints"):
        read_logs(path)
