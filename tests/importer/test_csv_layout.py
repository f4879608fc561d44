"""Encodings, unit rows and decimal signs."""

import pytest

from lapkit.errors import LogError
from lapkit.importer.csv_layout import find_layout
from lapkit.importer.source import open_source


@pytest.fixture
def layout(write):
    def find(content):
        with open_source(write(content)) as source:
            return find_layout(source, {})

    return find


@pytest.mark.parametrize(
    ("encoding", "name"),
    [("utf-8", "utf-8"), ("utf-8-sig", "utf-8-sig"), ("utf-16", "utf-16"), ("utf-16-le", "utf-16-le"),
     ("utf-16-be", "utf-16-be"), ("latin-1", "latin-1")],
)  # fmt: skip
def test_the_encoding_is_told_by_the_bytes(layout, encoding, name):
    found = layout("time,lat,lon,Höhe\n1,2,3,4\n".encode(encoding))
    assert found.encoding == name
    assert found.guesses["encoding"] == name.removesuffix("-sig")


def test_units_of_a_second_row_are_taken_where_the_header_has_none(layout):
    found = layout("time (ms),lat,lon,speed,alt\ns,deg,deg,km/h,\n1,2,3,4,5\n")
    units = {name: column.unit for name, column in found.columns.items()}
    assert units == {"time": "ms", "lat": "deg", "lon": "deg", "speed": "km/h", "height": ""}
    assert found.data_line == 2
    assert found.guesses["column speed"] == "speed in km/h"


def test_a_row_with_a_number_is_no_unit_row(layout):
    assert layout("time,lat,lon,speed\n1,2,3,km/h\n").data_line == 1
    assert layout("time,lat,lon,speed\nx,y,z,v\n").data_line == 1


def test_the_sample_has_no_empty_rows_and_no_empty_values(layout):
    found = layout("time,lat,lon,alt\n1,2,3,\n\n,,,\n4,5,6,7\n8\n")
    assert found.sample == [["1", "2", "3", ""], ["4", "5", "6", "7"], ["8"]]
    assert found.values("height") == ["7"]
    assert found.values("time") == ["1", "4", "8"]


@pytest.mark.parametrize(
    ("row", "decimal"), [("1;50,1;8", ","), ("1;50;8,5", ","), ("1,5;50;8", ".")]
)
def test_a_decimal_comma_is_seen_in_positions(layout, row, decimal):
    assert layout(f"time;lat;lon\n{row}\n").decimal == decimal


def test_decimal_commas_between_commas_are_refused_only_where_most_rows_have_them(layout):
    with pytest.raises(LogError, match="more fields than its 3 headers"):
        layout("time,lat,lon\n1,50,1,8,5\n2,50,2,8,6\n3,50,8\n")
    assert layout("time,lat,lon\n1,50,1,8,5\n2,50,8\n").decimal == "."
    assert layout("time,lat,lon\n1,50.1,8.5,note,note\n2,50.2,8.6,note\n").decimal == "."
    assert layout("time;lat;lon\n1;50;8;x;y\n2;50;8;x;y\n").decimal == "."


def test_what_was_recognised_is_said(layout):
    found = layout("by me\ntime;lat;lon\n1;50,5;8,5\n").guesses
    assert (found["delimiter"], found["decimal sign"], found["header"]) == (
        "semicolon",
        "comma",
        "line 2",
    )
    assert layout("time,lat,lon\n1,50.5,8.5\n").guesses["decimal sign"] == "point"


def test_a_file_is_binary_with_more_than_one_strange_character_in_twenty(layout):
    def text(strange):
        return "time,lat,lon\n" + "x" * (87 - strange) + "\x01" * strange

    assert layout(text(4)).encoding == "utf-8"
    with pytest.raises(LogError, match="binary file"):
        layout(text(8))


def test_binary_and_json_are_refused(layout):
    with pytest.raises(LogError, match="binary file"):
        layout(bytes(range(256)))
    with pytest.raises(LogError, match="this is JSON"):
        layout('\n  [{"a": 1}]')
