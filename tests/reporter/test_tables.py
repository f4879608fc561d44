import gzip
import json

import numpy as np
import pandas as pd
import pytest

from lapkit.reporter.review_types import EventReview
from lapkit.reporter.tables import write_tables


@pytest.fixture
def event():
    laps = pd.DataFrame(
        {"rider": ["=cmd|'x'!A1", 'Ö, "b"\nc'], "lap": [1, 2], "time_s": [91.123456789, np.nan]}
    )
    trace = pd.DataFrame({"lat": [47.123456789012], "x_m": [-1.0]})
    return EventReview(
        course=None,
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
    assert back["time_s"][0] == pytest.approx(91.12346)
    assert np.isnan(back["time_s"][1])


def test_a_formula_in_a_name_is_text_to_a_spreadsheet(event, tmp_path):
    write_tables(event, tmp_path)
    assert pd.read_csv(tmp_path / "laps.csv")["rider"][0].startswith("'=")


def test_degrees_keep_their_digits(event, tmp_path):
    write_tables(event, tmp_path)
    assert "47.123456789012" in gzip.decompress((tmp_path / "trace.csv.gz").read_bytes()).decode()


def test_results_hold_every_table_without_nan(event, tmp_path):
    write_tables(event, tmp_path)
    whole = json.loads((tmp_path / "results.json").read_text())
    assert whole["tables"]["laps"]["columns"] == ["rider", "lap", "time_s"]
    assert whole["tables"]["laps"]["rows"][1][2] is None
    assert whole["provenance"] == {"version": "1"}


def test_the_same_results_give_the_same_bytes(event, tmp_path):
    for name in ("one", "two"):
        (tmp_path / name).mkdir()
        write_tables(event, tmp_path / name)
    for path in (tmp_path / "one").iterdir():
        assert path.read_bytes() == (tmp_path / "two" / path.name).read_bytes()
