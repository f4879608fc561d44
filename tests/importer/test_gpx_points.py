"""What the handlers of an XML parser gather of track points."""

from xml.parsers import expat

import numpy as np
import pytest

from lapkit.importer import gpx_points
from lapkit.importer.gpx_points import Column, Points, RefusedError, handlers_for


def gathered(text):
    points = Points()
    parser = expat.ParserCreate()
    parser.buffer_text = True
    parser.StartElementHandler, parser.EndElementHandler = handlers_for(points)
    parser.CharacterDataHandler = points.texts.append
    parser.Parse(f"<gpx>{text}</gpx>", True)
    points.read_times()
    return points


def channel(points, name):
    return points.columns[name].full(len(points.lat)).tolist()


def test_values_belong_to_the_point_they_stand_in():
    """And what stands before the first, between two or behind the last belongs to none."""
    points = gathered(
        '<ele>1</ele><trkpt lat="1" lon="2"><ele>9</ele></trkpt><ele>8</ele>'
        '<trkpt lat="3" lon="x"/><ele>4</ele><trkpt lat="5" lon="6"><x:ELE xmlns:x="u">7</x:ELE></trkpt>'
        '<trkpt lat="7" lon="8"/><ele>6</ele>'
    )
    assert points.lat[0] == 1.0
    assert np.isnan(points.lat[1])  # a place that is half readable is none
    assert np.isnan(points.lon[1])
    np.testing.assert_array_equal(channel(points, "height_m"), [9.0, np.nan, 7.0, np.nan])


def test_heights_and_times_in_extensions_are_something_else():
    points = gathered(
        '<trkpt lat="1" lon="2"><extensions><ele>9</ele><time>2026-01-01T00:00:00Z</time>'
        "<hdop>2</hdop></extensions><ele>5</ele></trkpt>"
    )
    assert channel(points, "height_m") == [5.0]
    assert channel(points, "hdop") == [2.0]
    assert len(points.times.value) == 0


def test_times_are_seconds_and_those_without_a_zone_are_counted():
    points = gathered(
        '<trkpt lat="1" lon="2"><time> 1970-01-01T00:00:05Z </time></trkpt>'
        '<trkpt lat="1" lon="2"><time>1970-01-01T00:00:06</time></trkpt>'
    )
    assert points.times.full(2).tolist() == [5.0, 6.0]
    assert points.without_zone == 1
    assert points.time_texts == []


def test_kinds_of_fix_are_read_as_words_and_other_words_are_nothing():
    inner = "<fix> DGPS </fix><sat>many</sat><ele>none</ele>"
    points = gathered(f'<trkpt lat="1" lon="2">{inner}</trkpt>')
    assert channel(points, "fix_quality") == [2.0]
    assert np.isnan([*channel(points, "satellites"), *channel(points, "height_m")]).all()


def test_other_points_are_counted_by_their_kind():
    assert gathered('<wpt lat="1" lon="2"/><rtept lat="1" lon="2"/><wpt/>').others == {
        "wpt": 2,
        "rtept": 1,
    }


def test_of_several_values_the_first_counts():
    column = Column()
    for point, value in ((0, 5.0), (0, 6.0), (2, 7.0)):
        column.point.append(point)
        column.value.append(value)
    np.testing.assert_array_equal(column.full(4), [5.0, np.nan, 7.0, np.nan])


def test_elements_nested_too_deeply_are_refused(monkeypatch):
    monkeypatch.setattr(gpx_points, "_DEEPEST", 3)
    gathered("<a><b/></a>" * 10)
    with pytest.raises(RefusedError, match="nested more than 3 deep"):
        gathered("<a><b><c/></b></a>")


def test_names_of_elements_that_never_end_are_forgotten(monkeypatch):
    monkeypatch.setattr(gpx_points, "_NAMES_KEPT", 2)
    names = "".join(f"<n{i}/>" for i in range(20))
    points = gathered(f'<trkpt lat="1" lon="2">{names}<ele>5</ele></trkpt>')
    assert channel(points, "height_m") == [5.0]
