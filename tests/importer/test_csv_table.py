"""Columns as numbers, chunk by chunk."""

import numpy as np
import pytest

from lapkit.importer import csv_table
from lapkit.importer.csv_layout import find_layout
from lapkit.importer.csv_table import Table
from lapkit.importer.csv_times import CsvTimes
from lapkit.importer.source import open_source


@pytest.fixture
def table(write):
    def read(text):
        with open_source(write(text)) as source:
            layout = find_layout(source, {})
            filled = Table(layout, CsvTimes(layout, source.name))
            filled.read(source)
            return filled

    return read


HEAD = "time (s),lat,lon,N/S,fix,rider,speed (m/s)"


@pytest.mark.parametrize("chunk_rows", [1, 2, 100])
def test_columns_are_joined_over_chunks(table, monkeypatch, chunk_rows):
    monkeypatch.setattr(csv_table, "_CHUNK_ROWS", chunk_rows)
    rows = ["1,50,8,N,3D,Ada,1.5", "2,51,9,S,rtk,Bo,x", "3,52,10,,?,Ada,"]
    filled = table("\n".join([HEAD, *rows]))
    assert filled.times.seconds()[0].tolist() == [1.0, 2.0, 3.0]
    assert filled.take("lat").tolist() == [50.0, 51.0, 52.0]
    np.testing.assert_array_equal(filled.take("lat_side"), [1.0, -1.0, np.nan])
    np.testing.assert_array_equal(filled.take("fix"), [1.0, 4.0, np.nan])
    np.testing.assert_array_equal(filled.take("speed"), [1.5, np.nan, np.nan])
    assert filled.take("rider").tolist() == [0.0, 1.0, 0.0]
    assert filled.riders == {"Ada": 0, "Bo": 1}


def test_a_column_that_is_not_there_is_none_and_one_without_rows_is_empty(table):
    filled = table("time,lat,lon\n1,50,8\n")
    assert filled.take("height") is None
    assert filled.take("lat").tolist() == [50.0]
    assert filled.take("lat").tolist() == []  # handed over already


def test_angles_are_read_as_text_where_most_are_no_numbers(table):
    assert table("time,lat,lon\n1,50N,8E\n2,51S,9\n").take("lat").tolist() == [50.0, -51.0]
    np.testing.assert_array_equal(
        table("time,lat,lon\n1,50,8\n2,51,9\n3,52S,9\n").take("lat"), [50.0, 51.0, np.nan]
    )


def test_decimal_commas_are_read_beside_an_odd_cell(table):
    filled = table("time;lat;lon;speed\n1;50,5;8,5;10,5\n2;50,6;8,6;fast\n")
    np.testing.assert_array_equal(filled.take("speed"), [10.5, np.nan])
