import gzip
import json
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest

from lapkit.course.types import Track
from lapkit.measuring.reviews import EventReview
from lapkit.reporter.tables import write_tables


@pytest.fixture
def event():
    laps = pd.DataFrame(
        {"rider": ["=cmd|'x'!A1", 'Ö, "b"\nc'], "lap": [1, 2], "time_s": [91.123456789, np.nan]}
    )
    trace = pd.DataFrame({"lat": [47.123456789012], "x_m": [-1.0]})
    return EventReview(
        course=SimpleNamespace(track=Track("t", "", members={"name": "Salt Ring"})),
        riders=(),
        unusable=(),
        tables={"laps": laps, "trace": trace},
        provenance={"version": "1"},
        title="t",
    )


def test_csv_reads_back(event, tmp_path):
    names = write_tables(event, tmp_path)
    back = pd.read_csv(tmp_path / "laps.csv")
    assert names == ["laps.csv", "trace.csv.gz", "results.json"]
    assert back["rider"][1] == 'Ö, "b"\nc'
    assert back["time_s"][0] == 91.123
    assert np.isnan(back["time_s"][1])


def test_a_formula_in_a_name_is_text_to_a_spreadsheet(event, tmp_path):
    write_tables(event, tmp_path)
    assert pd.read_csv(tmp_path / "laps.csv")["rider"][0].startswith("'=")


def test_degrees_keep_their_digits(event, tmp_path):
    write_tables(event, tmp_path)
    assert "47.12345679,-1.0" in gzip.decompress((tmp_path / "trace.csv.gz").read_bytes()).decode()


def test_results_hold_every_table_without_nan(event, tmp_path):
    write_tables(event, tmp_path)
    whole = json.loads((tmp_path / "results.json").read_text())
    assert whole["tables"]["laps"]["columns"] == ["rider", "lap", "time_s"]
    assert whole["tables"]["laps"]["rows"][1][2] is None
    assert whole["provenance"] == {"version": "1"}
    # As the pages call it, and a season after them.
    assert whole["title"] == "Salt Ring"
    assert whole["start_utc"] == whole["day"] == ""


def test_results_tell_the_day_where_it_was_ridden(event, tmp_path):
    """A season takes it from there."""
    there = SimpleNamespace(track=None, plane=SimpleNamespace(lon_deg=175.0))
    morning = replace(event, course=there, began="2031-06-13T21:00:00.000Z")
    write_tables(morning, tmp_path)
    whole = json.loads((tmp_path / "results.json").read_text())
    assert (whole["start_utc"], whole["day"]) == ("2031-06-13T21:00:00.000Z", "2031-06-14")


def test_the_same_results_give_the_same_bytes(event, tmp_path):
    for name in ("one", "two"):
        (tmp_path / name).mkdir()
        write_tables(event, tmp_path / name)
    for path in (tmp_path / "one").iterdir():
        assert path.read_bytes() == (tmp_path / "two" / path.name).read_bytes()


@pytest.mark.parametrize(
    ("column", "value", "written"),
    [
        ("radius_min_m", 41.23456789, "41.235"),
        ("lean_max_deg", 41.23456789, "41.23"),
        ("entry_speed_mps", 21.97078123, "21.971"),
        ("curvature_1pm", 0.0123456789, "0.012346"),
        ("p_tightened", 0.123456789, "0.123457"),
        ("wide_of_line_m", -0.0001, "0.0"),
        ("gap_m", float("inf"), ""),
        ("lean_at_60_kmh_deg", 12.345678, "12.35"),
    ],
)
def test_floats_have_the_digits_of_their_unit(event, tmp_path, column, value, written):
    write_tables(replace(event, tables={"t": pd.DataFrame({"n": [1], column: [value]})}), tmp_path)
    assert (tmp_path / "t.csv").read_text().splitlines()[1] == f"1,{written}"


def test_parquet_holds_the_same(event, tmp_path):
    pytest.importorskip("pyarrow")
    write_tables(event, tmp_path, parquet=True)
    back = pd.read_parquet(tmp_path / "laps.parquet")
    assert back["rider"].tolist() == event.tables["laps"]["rider"].tolist()
    assert back["time_s"][0] == 91.123


@pytest.mark.parametrize("name", ["+1", "-1", "@a", " =1", "＝1"])
def test_every_beginning_of_a_formula_is_made_text(event, tmp_path, name):
    laps = event.tables["laps"].assign(rider=name)
    write_tables(replace(event, tables={"laps": laps}), tmp_path)
    assert pd.read_csv(tmp_path / "laps.csv")["rider"][0] == "'" + name


def test_nothing_in_a_table_steers_a_terminal(event, tmp_path):
    laps = event.tables["laps"].assign(rider="a\x1b[31mb\u202e\nc")
    write_tables(replace(event, tables={"laps": laps}), tmp_path)
    text = (tmp_path / "laps.csv").read_text()
    assert "\x1b" not in text and "\u202e" not in text
    assert "\nc" in text


def test_whoever_writes_out_the_cells_the_files_are_the_same(event, tmp_path):
    rows = 4500  # over more than two parts
    rider = [f"Ö {n % 7}" for n in range(rows)]
    long = pd.DataFrame({"rider": rider, "time_s": np.linspace(-1.0, 90.0, rows)})
    event = replace(event, tables={"laps": long, "logs": long[:0], "trace": event.tables["trace"]})
    for name in ("here", "there"):
        (tmp_path / name).mkdir()
    names = write_tables(event, tmp_path / "here")
    with ThreadPoolExecutor(2) as pool:
        assert write_tables(event, tmp_path / "there", executor=pool) == names
    for name in names:
        assert (tmp_path / "there" / name).read_bytes() == (tmp_path / "here" / name).read_bytes()
    told = json.loads((tmp_path / "there" / "results.json").read_text(encoding="utf-8"))
    assert [len(told["tables"][name]["rows"]) for name in ("laps", "logs")] == [rows, 0]
