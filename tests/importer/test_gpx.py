from __future__ import annotations

import math

import numpy as np
import pytest

from lapkit.errors import LogError
from lapkit.importer import read_log, read_logs

T = "2026-05-02T09:14:{:02}Z"


def points(count, inner=""):
    return [(52 + i / 1000, -1 - i / 1000, T.format(i), inner) for i in range(count)]


@pytest.mark.parametrize(
    "head",
    [
        "<gpx>",
        '<?xml version="1.0"?><gpx version="1.0" xmlns="http://www.topografix.com/GPX/1/0">',
        '\ufeff<?xml version="1.0" encoding="utf-8"?><gpx version="1.1">',
        '<!-- <gpx> --><?note x?><gpx version="1.1" xmlns="http://www.topografix.com/GPX/1/1">',
        "  \n <gpx>",
    ],
)
def test_all_versions_of_gpx_and_none_are_read(write, gpx_points, head):
    log = read_log(write(gpx_points(points(3, "<ele>12.5</ele>"), head)))
    assert log.lat_deg.tolist() == [52.0, 52.001, 52.002]
    assert log.lon_deg.tolist() == [-1.0, -1.001, -1.002]
    assert log.height_m.tolist() == [12.5] * 3
    assert np.diff(log.time_s).tolist() == [1.0, 1.0]
    assert log.time_s[0] == 1_777_713_240.0  # 2026-05-02T09:14:00Z
    assert log.has_clock
    assert log.speed_mps is None
    assert log.dropped == ()


def test_prefixed_elements_are_track_points_too(write):
    text = (
        '<g:gpx xmlns:g="x"><g:trk><g:trkseg><g:trkpt lat="1" lon="2">'
        f"<g:time>{T.format(0)}</g:time></g:trkpt></g:trkseg></g:trk></g:gpx>"
    )
    assert len(read_log(write(text))) == 1


@pytest.mark.parametrize(
    "inner",
    [
        "<speed>12.5</speed><course>271.5</course>",
        "<extensions><speed>12.5</speed><course>271.5</course></extensions>",
        '<extensions><a:x xmlns:a="u"><a:Speed>12.5</a:Speed><a:Bearing>271.5</a:Bearing></a:x>'
        "</extensions>",
        "<extensions><speed> 12.5\n</speed><!-- no --><heading><![CDATA[271.5]]></heading>"
        "</extensions>",
    ],
)
def test_speed_and_course_are_read_bare_or_in_extensions_of_any_name(write, gpx_points, inner):
    log = read_log(write(gpx_points(points(2, inner))))
    assert log.speed_mps.tolist() == [12.5, 12.5]
    assert log.heading_deg.tolist() == [271.5, 271.5]
    assert log.has_velocity


def test_all_channels_and_fixes_that_lack_them(write, gpx_points):
    full = (
        "<ele>90</ele><hdop>0.8</hdop><sat>11</sat><fix>dgps</fix>"
        "<extensions><hAcc>2.5</hAcc></extensions>"
    )
    rows = [*points(1, full), (53, -1, T.format(1), "<ele></ele><sat>many</sat>")]
    log = read_log(write(gpx_points(rows)))
    for channel, value in {
        "height_m": 90, "hdop": 0.8, "satellites": 11, "fix_quality": 2, "accuracy_m": 2.5
    }.items():  # fmt: skip
        first, second = getattr(log, channel)
        assert first == value
        assert math.isnan(second)


def test_a_point_that_the_receiver_marked_as_no_fix_is_left_out(write, gpx_points):
    rows = [*points(2, "<fix>3d</fix>"), (52.5, -1, T.format(5), "<fix>none</fix>")]
    log = read_log(write(gpx_points(rows)))
    assert len(log) == 2
    assert [(d.reason, d.count) for d in log.dropped] == [("marked by the receiver as void", 1)]


def test_of_several_values_in_a_point_the_first_holds(write, gpx_points):
    log = read_log(
        write(gpx_points(points(1, "<ele>1</ele><ele>2</ele><time>1999-01-01T00:00:00Z</time>")))
    )
    assert log.height_m.tolist() == [1.0]
    assert log.time_s.tolist() == [1_777_713_240.0]


def test_a_time_in_extensions_is_not_the_fix_time(write, gpx_points):
    inner = "<extensions><time>1999-01-01T00:00:00Z</time></extensions>"
    rows = [(52, -1, None, inner), *points(2)]
    log = read_log(write(gpx_points(rows)))
    assert len(log) == 2
    assert [(d.reason, d.count) for d in log.dropped] == [("without a readable time", 1)]


def test_text_around_comments_is_one_text(write, gpx_points):
    log = read_log(write(gpx_points(points(1, "junk<ele>1<!-- x -->2<![CDATA[.5]]></ele>"))))
    assert log.height_m.tolist() == [12.5]


def test_segments_and_tracks_in_order_are_one_log(write):
    def track(a):
        pts = "".join(
            f'<trkpt lat="52" lon="{i / 1000}"><time>{T.format(i)}</time></trkpt>'
            for i in range(a, a + 20)
        )
        return f"<trk><trkseg>{pts}</trkseg><trkseg/></trk>"

    assert [len(log) for log in read_logs(write(f"<gpx>{track(0)}{track(20)}</gpx>"))] == [40]
    assert [len(log) for log in read_logs(write(f"<gpx>{track(20)}{track(0)}</gpx>"))] == [20, 20]


@pytest.mark.parametrize("encoding", ["utf-8", "utf-16", "iso-8859-1"])
def test_encodings_are_read(write, gpx_points, encoding):
    head = f'<?xml version="1.0" encoding="{encoding}"?><gpx><metadata><name>Kör</name></metadata>'
    assert len(read_log(write(gpx_points(points(3), head).encode(encoding)))) == 3


@pytest.mark.parametrize("head", ["<gpx>", '<?xml version="1.0" encoding="UTF-8"?><gpx>'])
def test_letters_that_are_not_the_utf8_they_should_be_cost_nothing(write, gpx_points, head):
    text = gpx_points(points(3), f"{head}<metadata><name>Kör</name></metadata>")
    log = read_log(write(text.encode("latin-1")))
    assert len(log) == 3
    assert log.guesses["encoding"].startswith("latin-1")
    assert "encoding" not in read_log(write(text)).guesses


def test_a_file_that_breaks_off_is_used_up_to_the_break(write, gpx_points):
    text = gpx_points(points(30))
    log = read_log(write(text[: text.index("<time>2026-05-02T09:14:20Z")]))
    assert len(log) == 20
    assert [(d.reason, d.count) for d in log.dropped] == [("without a readable time", 1)]
    assert log.notes == ("the XML is broken (line 1: no element found); what came before was used",)


@pytest.mark.parametrize(
    ("damage", "word"),
    [
        (b"</trkseg><", "not well-formed"),
        (b"</nothing>", "mismatched tag"),
        (b"&bomb;", "undefined entity"),
        (b"\x00\x00", "not well-formed"),
    ],
)
def test_damage_in_the_middle_costs_what_comes_behind_it(write, gpx_points, damage, word):
    whole = gpx_points(points(40)).encode()
    at = whole.index(b"<trkpt", len(whole) // 2)
    log = read_log(write(whole[:at] + damage + whole[at:]))
    assert 10 < len(log) < 30
    assert word in log.notes[0]


@pytest.mark.parametrize(
    "head",
    [
        "<!DOCTYPE gpx>",
        '<!DOCTYPE gpx SYSTEM "file:///etc/passwd">',
        '<!DOCTYPE gpx [<!ENTITY a "aaaa"><!ENTITY b "&a;&a;&a;&a;">]>',
        '<?xml version="1.0"?><!-- x --><!DOCTYPE gpx [<!ELEMENT gpx (trk)>]>',
    ],
)
def test_any_doctype_is_refused_whatever_follows(write, gpx_points, head):
    with pytest.raises(LogError, match="line 1: it has a DOCTYPE"):
        read_logs(write(gpx_points(points(3), f"{head}<gpx>")))


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        ("<html><body/></html>", "the root element is <html>, not <gpx>"),
        ("<gpx></gpx>", "it holds no track points"),
        ('<gpx><wpt lat="1" lon="2"/><wpt lat="1" lon="2"/></gpx>', "2 waypoints, but no track"),
        ('<gpx><rte><rtept lat="1" lon="2"/></rte></gpx>', "1 route point, but no track points"),
        ("<gpx><trk>", "broken before the first track point"),
        ('<gpx><trk><trkpt lat="1" lon="2"/></trk></gpx>', "without a readable time"),
        ('<gpx><trk><trkpt lon="2"><time>2026-01-01T00:00:00Z</time></trkpt></trk></gpx>',
         "without a readable position"),
    ],
)  # fmt: skip
def test_files_without_a_usable_track_are_refused_with_the_reason(write, text, reason):
    with pytest.raises(LogError, match=reason):
        read_logs(write(text))


def test_the_root_of_an_unknown_file_cannot_steer_the_terminal(write):
    with pytest.raises(LogError) as caught:
        read_logs(write("<a\u202eb/>"))
    assert str(caught.value).isprintable()


def test_a_tag_without_end_is_refused_in_bounded_memory(write):
    with pytest.raises(LogError, match="a tag is longer than 8 MB"):
        read_logs(write(b'<gpx creator="' + b"x" * (12 * 1024**2)))


def test_endless_text_costs_nothing(write, gpx_points):
    head = "<gpx><metadata><name>" + "x" * 3_000_000 + "</name></metadata>"
    log = read_log(write(gpx_points(points(2), head)))
    assert len(log) == 2
    assert log.notes == ()


def test_elements_nested_deeper_than_in_any_log_are_refused(write, gpx_points):
    def nested(deep):
        last = (52.1, -1.1, T.format(50), "<a>" * deep + "</a>" * deep)
        return write(gpx_points([*points(9), last]))

    assert len(read_log(nested(900))) == 10
    with pytest.raises(LogError, match="line 1: its elements are nested more than 1000 deep"):
        read_log(nested(5_000))


def test_a_million_different_names_do_not_fill_the_memory(write, gpx_points):
    head = "<gpx>" + "".join(f"<n{i}/>" for i in range(30_000))
    assert len(read_log(write(gpx_points(points(2), head)))) == 2
