"""The pattern of a point, and the points it finds."""

import pytest

from lapkit.importer.gpx_pattern import pattern_of

POINT = b'<trkpt lat="%s" lon="%s"><ele>%s</ele><time>%s</time></trkpt>'


def points(*rows, between=b"\n"):
    return between.join(POINT % tuple(b"%d" % value for value in row) for row in rows)


@pytest.fixture
def pattern():
    return pattern_of(points((1, 2, 3, 4)))


def test_values_are_found_by_what_they_are_and_not_by_their_order(pattern):
    assert (pattern.lat, pattern.lon, pattern.time) == (0, 1, 3)
    assert pattern.channels == (("height_m", 2),)
    turned = pattern_of(b'<trkpt lon="1" lat="2"><speed>7</speed></trkpt>')
    assert (turned.lat, turned.lon, turned.time) == (1, 0, None)


@pytest.mark.parametrize("find", ["next_run", "single_run"])
def test_a_run_has_the_texts_of_each_value(pattern, find):
    data = b"<trkseg>" + points((1, 2, 3, 4), (5, 6, 7, 8)) + b"</trkseg>"
    run = getattr(pattern, find)(data, 0)
    assert run.values == [[b"1", b"5"], [b"2", b"6"], [b"3", b"7"], [b"4", b"8"]]
    assert data[run.start : run.stop].startswith(b"<trkpt")
    assert data[run.stop :].strip() == b"</trkseg>"


def test_a_run_ends_at_a_point_that_is_written_otherwise(pattern):
    data = points((1, 2, 3, 4), (5, 6, 7, 8)) + b'<trkpt lat="9" lon="9"/>' + points((1, 1, 1, 1))
    first = pattern.next_run(data, 0)
    assert first.values[0] == [b"1", b"5"]
    second = pattern.next_run(data, first.stop)
    assert second.values[0] == [b"1"]
    assert pattern.next_run(data, second.stop) is None


def test_where_anything_else_is_between_there_is_no_single_run(pattern):
    data = points((1, 2, 3, 4)) + b"<x/>" + points((5, 6, 7, 8))
    assert pattern.single_run(data, 0) is None
    assert pattern.single_run(b"no points", 0) is None
    whole = points((5, 6, 7, 8))
    assert pattern.single_run(b"<x/>" + whole, 4).values[0] == [b"5"]
    assert pattern.single_run(whole, 3) is None  # from behind the only beginning


@pytest.mark.parametrize("text", [b"1&2", b"a<b/>", b"\xc3\xa4", b"1\n2", b"'"])
def test_a_value_with_anything_but_plain_text_makes_no_run(pattern, text):
    data = POINT % (b"1", b"2", text, b"4")
    assert pattern.next_run(data, 0) is None


@pytest.mark.parametrize(
    "sample",
    [
        b'<trkpt lat="1" lon="2"><speed>3</speed><course>9</course><speed>4</speed></trkpt>',
        b'<trkpt lat="1" lon="2"><time>3</time><time>4</time></trkpt>',
        b"<trkpt lat='1' lon='2'><ele>3</ele></trkpt>",
        b'<trkpt lat="1" lon="2"><time> </time></trkpt>',
        b'<trkpt lat="1" lon="2"><ele>3<!-- x -->4</ele></trkpt>',
        b'<trkpt lat="1"><ele>3</ele></trkpt>',
        b'<trkpt lat="1" lon="2"><ele>3</trkpt>',
    ],
)
def test_a_point_without_just_one_value_a_channel_has_no_pattern(sample):
    assert pattern_of(sample) is None
