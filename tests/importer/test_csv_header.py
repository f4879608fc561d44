"""Which line is the header, and which column is what."""

import pytest

from lapkit.errors import LogError, OptionError
from lapkit.importer.csv_header import asked_columns, find_header_row, split_fields


def found(*lines, **asked):
    return find_header_row("a.csv", list(lines), asked)


def places(row):
    return {name: column.index for name, column in row.columns.items()}


@pytest.mark.parametrize("delimiter", [",", ";", "\t", "|"])
def test_the_first_line_that_names_position_and_time_is_the_header(delimiter):
    row = found("my ride", "lat, lon", delimiter.join(["Time", "Lat", "x", "Lon"]), "time,lat,lon")
    assert (row.line, row.delimiter) == (2, delimiter)
    assert places(row) == {"time": 0, "lat": 1, "lon": 3}
    assert row.headers == ["Time", "Lat", "x", "Lon"]


def test_a_header_may_stand_in_a_comment_and_in_quotes():
    assert places(found("# \"time\",'lat',lon")) == {"time": 0, "lat": 1, "lon": 2}


def test_of_two_headers_for_a_column_the_more_telling_one_is_taken():
    assert places(found("elapsed,timestamp,lat,lon"))["time"] == 1
    assert places(found("timestamp,elapsed,lat,lon"))["time"] == 0


def test_what_is_asked_for_goes_before_what_is_recognised():
    row = found("timestamp,lat,lon,Speed,SPEED,v (mph)", speed="v (mph)", time="timestamp")
    assert places(row)["speed"] == 5
    assert row.columns["speed"].unit == "mph"
    assert places(found("timestamp,lat,lon,Speed,SPEED", speed="SPEED"))["speed"] == 4
    assert places(found("timestamp,lat,lon,Speed", speed="sPEED"))["speed"] == 3


def test_a_header_asked_for_that_is_not_there_is_refused():
    with pytest.raises(LogError, match=r"a\.csv line 2: no column has the header 'v'"):
        found("x", "time,lat,lon", speed="v")
    with pytest.raises(LogError, match=r"a\.csv: no column has the header 'y' \(found: x, c\)"):
        found("x,c", lat="x", lon="y")


def test_without_a_time_the_line_that_names_a_position_is_told():
    with pytest.raises(LogError, match=r"line 2: no header names the time .*lat, lon"):
        found("x,y,z", "lat,lon", "longitude,latitude")


def test_without_a_position_the_longest_line_is_told():
    with pytest.raises(LogError, match=r"names a latitude and a longitude \(found: a, b, time\)"):
        found("a,b", "a,b,time", "1,2,3")


def test_a_header_far_down_is_not_looked_for():
    with pytest.raises(LogError, match="no header row"):
        found(*[""] * 200, "time,lat,lon")
    assert found(*[""] * 199, "time,lat,lon").line == 199


def test_columns_go_by_their_names_and_by_their_headers():
    assert asked_columns({"lat": " Breite ", "Longitude": "Länge"}) == {
        "lat": "Breite",
        "lon": "Länge",
    }
    with pytest.raises(OptionError, match="no column named 'throttle'"):
        asked_columns({"throttle": "x"})


def test_a_delimiter_in_quotes_parts_no_fields():
    assert split_fields('1,"a,b",2', ",") == ["1", "a,b", "2"]
    assert split_fields("", ",") == []
