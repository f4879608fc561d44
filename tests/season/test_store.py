import json
import sqlite3
from contextlib import closing
from dataclasses import replace

import pytest

from lapkit.errors import SeasonError
from lapkit.season.file import opened
from lapkit.season.results import Rows, read_results
from lapkit.season.store import add_event

TOVE = {"Tove": (60.0, 30.0, 0, 0)}


def dump(season):
    with closing(sqlite3.connect(season)) as file:
        return {
            table: file.execute(f"SELECT * FROM {table}").fetchall()
            for table in (
                "events",
                "logs",
                "event_corners",
                "corners",
                "seams",
                "corner_summary",
                "seam_summary",
            )
        }


def test_the_same_event_twice_leaves_the_file_as_after_the_first(event, season):
    results = read_results(event("spring", "2031-04-01", TOVE))
    assert add_event(season, results) == (False, None, ())
    first = dump(season)
    assert add_event(season, results).replaced
    assert dump(season) == first


def test_only_timed_laps_count(event, season):
    add_event(season, read_results(event("spring", "2031-04-01", TOVE)))
    with opened(season) as file:
        row = file.execute("SELECT * FROM rider_corner_event WHERE corner = 'Larch'").fetchone()
    assert row["laps"] == 6
    assert row["radius_min_m"] == pytest.approx(60.0)
    # Sample standard deviation of 1..6 times 0.2.
    assert row["radius_min_sd_m"] == pytest.approx(0.2 * 3.5**0.5)


def test_a_day_measured_again_replaces_itself(event, season):
    add_event(season, read_results(event("spring", "2031-04-01", TOVE)))
    again = event("spring", "2031-04-01", {"Tove": (66.0, 30.0, 0, 0), "Iska": (50.0, 30.0, 0, 0)})
    assert add_event(season, read_results(again)).replaced
    tables = dump(season)
    assert len(tables["events"]) == 1
    assert len(tables["corner_summary"]) == 4


def test_a_part_of_a_day_is_not_added_beside_or_over_it(event, season):
    both = {**TOVE, "Iska": (50.0, 30.0, 0, 0)}
    add_event(season, read_results(event("spring", "2031-04-01", both)))
    before = season.read_bytes()
    with pytest.raises(SeasonError, match="1 of the 2 logs of 'spring'"):
        add_event(season, read_results(event("spring", "2031-04-01", TOVE)))
    assert season.read_bytes() == before


def test_a_day_with_a_log_exchanged_takes_its_own_place_where_that_is_asked_for(event, season):
    tove = {**TOVE, "Iska": (50.0, 30.0, 0, 0)}
    add_event(season, read_results(event("spring", "2031-04-01", tove)))
    add_event(season, read_results(event("summer", "2031-07-01", TOVE)))
    exchanged = read_results(event("spring", "2031-04-01", {**TOVE, "Odel": (55.0, 30.0, 0, 0)}))
    with pytest.raises(
        SeasonError, match=r"1 of the 2 logs of 'spring' .* add them with --replace"
    ):
        add_event(season, exchanged)
    assert add_event(season, exchanged, replace=True).replaced
    tables = dump(season)
    assert sorted(row[2] for row in tables["events"]) == ["spring", "summer"]
    with opened(season) as file:
        riders = {row[0] for row in file.execute("SELECT DISTINCT rider FROM corners")}
    assert riders == {"Tove", "Odel"}


def test_riders_spelt_almost_alike_who_were_never_at_one_event_are_told(event, season):
    riders = {**TOVE, "Odel": (55.0, 30.0, 0, 0), "Marlo": (55.0, 30.0, 0, 0)}
    assert add_event(season, read_results(event("spring", "2031-04-01", riders))).remarks == ()
    later = {**TOVE, "odel ": (55.0, 30.0, 0, 0), "Malro": (5.0, 3.0, 0, 0), "Bo": (5.0, 3.0, 0, 0)}
    added = add_event(season, read_results(event("summer", "2031-07-01", later)))
    assert len(added.remarks) == 2
    for pair in ("“odel ” and “Odel”", "“Malro” and “Marlo”"):
        assert f"{pair} are spelt almost alike, and no event has both." in " ".join(added.remarks)
    # Who rode beside each other are two; what was told of an earlier event is not told again.
    last = {"Iska": (55.0, 30.0, 0, 0)}
    assert add_event(season, read_results(event("autumn", "2031-09-01", last))).remarks == ()
    both = {"Marlo": (5.0, 3.0, 0, 0), "Malro": (5.0, 3.0, 0, 0)}
    assert add_event(season, read_results(event("winter", "2031-12-01", both))).remarks == ()


def give_a_lap_twice(folder):
    whole = json.loads((folder / "results.json").read_text())
    rows = whole["tables"]["corners"]["rows"]
    rows.append(rows[-1])
    (folder / "results.json").write_text(json.dumps(whole))


def test_a_lap_given_twice_changes_nothing(event, season):
    add_event(season, read_results(event("spring", "2031-04-01", TOVE)))
    before = dump(season)
    folder = event("summer", "2031-07-01", TOVE)
    give_a_lap_twice(folder)
    with pytest.raises(SeasonError, match="twice"):
        add_event(season, read_results(folder))
    assert dump(season) == before


def test_a_new_season_that_its_first_event_cannot_enter_is_not_left_empty(event, season):
    folder = event("spring", "2031-04-01", TOVE)
    give_a_lap_twice(folder)
    with pytest.raises(SeasonError, match="twice"):
        add_event(season, read_results(folder))
    assert not season.exists()


def test_every_cell_stands_in_the_column_of_its_name(event, season):
    results = read_results(event("spring", "2031-04-01", TOVE))
    reordered = replace(
        results,
        corners=Rows(
            results.corners.columns[::-1], tuple(row[::-1] for row in results.corners.cells)
        ),
    )
    add_event(season, reordered)
    with opened(season) as file:
        row = file.execute("SELECT * FROM corners WHERE corner = 'Larch' AND lap = 1").fetchone()
    assert (row["rider"], row["session"], row["turn"]) == ("Tove", "1", "left")
    assert row["radius_min_m"] == pytest.approx(60.0 - 0.5)
    assert row["lean_max_hi_deg"] == pytest.approx(30.0 - 0.5 + 1.0)


def test_the_summary_of_laps_has_each_median_under_its_name(event, season):
    add_event(season, read_results(event("spring", "2031-04-01", {"Tove": (60.0, 30.0, 2, 4)})))
    with opened(season) as file:
        at = "WHERE corner = 'Larch'"
        corner = dict(file.execute(f"SELECT * FROM corner_summary {at}").fetchone())
        seams = [
            tuple(row)
            for row in file.execute(
                "SELECT seam, seam_order, counted, laps, inside, outside, unclear "
                f"FROM seam_summary {at} ORDER BY seam_order"
            )
        ]
    del corner["event_id"]
    spread = pytest.approx(0.2 * 3.5**0.5)
    assert corner == {
        "rider": "Tove", "corner": "Larch", "turn": "left", "laps": 6,
        "radius_laps": 6, "radius_min_m": pytest.approx(60.0), "radius_min_lo_m": pytest.approx(59.0),
        "radius_min_hi_m": pytest.approx(61.0), "radius_min_sd_m": spread,
        "lean_laps": 6, "lean_max_deg": pytest.approx(30.0), "lean_max_lo_deg": pytest.approx(29.0),
        "lean_max_hi_deg": pytest.approx(31.0), "lean_max_sd_deg": spread,
        "tightened": 2, "tightened_counted": 6,
    }  # fmt: skip
    assert seams == [("first", 0, 1, 6, 4, 2, 0), ("second", 1, 0, 6, 6, 0, 0)]
