import json

import numpy as np
import pandas as pd
import pytest

from lapkit.reporter.cells import Rows, csv_lines, json_text, rounded


@pytest.mark.parametrize(
    ("column", "value", "written"),
    [
        ("lat", 47.1234567891, 47.12345679),
        ("radius_min_m", 41.23456, 41.235),
        ("curvature_1pm", 0.0212345678, 0.021235),
        ("accel_mps2", 3.14159, 3.142),
        ("lean_deg", 41.23456, 41.23),
        # Six significant digits without a unit of its own.
        ("p_inside", 0.123456789, 0.123457),
        ("size", 123456.789, 123457.0),
    ],
)
def test_a_number_has_the_digits_of_its_unit(column, value, written):
    assert rounded(pd.DataFrame({column: [value]}))[column].iloc[0] == written


def test_minus_zero_and_infinity_are_not_written():
    rows = Rows.of(pd.DataFrame({"gap_m": [-0.0001, np.inf, np.nan]}), json=True)
    assert rows.csv == "0.0\n\n\n"
    assert rows.json == "[0.0],[null],[null]"


def test_csv_and_json_hold_the_same_cells():
    table = pd.DataFrame(
        {
            "rider": ["Bo", 'A "B", C'],
            "lap": [1, 2],
            "lane": pd.array([2, None], dtype="Int64"),
            "counted": [True, False],
        }
    )
    rows = Rows.of(table, json=True)
    assert rows.csv == 'Bo,1,2,True\n"A ""B"", C",2,,False\n'
    assert json.loads(f"[{rows.json}]") == [["Bo", 1, 2, True], ['A "B", C', 2, None, False]]
    assert Rows.of(table, json=False).json == ""


def test_a_formula_is_made_text_in_csv_and_left_as_it_is_in_json():
    rows = Rows.of(pd.DataFrame({"rider": ["=1+1", "\x07Bo", "  -2"]}), json=True)
    assert rows.csv == "'=1+1\n�Bo\n'  -2\n"
    assert json.loads(f"[{rows.json}]") == [["=1+1"], ["\x07Bo"], ["  -2"]]


def test_json_knows_no_number_that_is_none():
    with pytest.raises(ValueError, match="Out of range"):
        json_text(float("nan"))
    assert json_text({"a": [1, "é"]}) == '{"a":[1,"é"]}'
    assert csv_lines([["a", 1], ["b,c", 2]]) == 'a,1\n"b,c",2\n'
