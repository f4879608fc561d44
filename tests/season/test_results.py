import json
import os

import pytest

from lapkit.errors import SeasonError
from lapkit.season.results import read_results

TOVE = {"Tove": (60.0, 30.0, 0, 0)}
TOLD = (("Tove", "Larch", "turning in early", "work", True, 5, 6),)


def changed(folder, change):
    path = folder / "results.json"
    whole = json.loads(path.read_text())
    change(whole)
    path.write_text(json.dumps(whole))
    return folder


def put(table, column, value):
    def change(whole):
        wanted = whole["tables"][table]
        wanted["rows"][-1][wanted["columns"].index(column)] = value

    return change


@pytest.mark.parametrize(
    "change",
    [
        put("corners", "radius_min_m", "wide"),
        put("corners", "radius_min_m", float("inf")),
        put("corners", "radius_min_m", 10**400),
        put("corners", "lap", 1.5),
        put("corners", "rider", "\ud800"),
        put("corners", "rider", ["Tove"]),
        put("laps", "rider", {}),
        put("seams", "call", "perhaps"),
        put("findings", "in_short", 5),
        put("findings", "habit", "yes"),
        put("findings", "laps_seen", 1.5),
        lambda whole: whole["tables"].pop("findings"),
        lambda whole: whole["tables"]["corners"]["rows"].append([1]),
        lambda whole: whole["tables"].pop("seams"),
        lambda whole: whole["tables"]["corners"]["columns"].__setitem__(0, "driver"),
        lambda whole: whole["tables"]["laps"]["rows"].clear(),
        lambda whole: whole.update(tables=[]),
        lambda whole: whole.update(title=None),
        lambda whole: whole.update(start_utc=5),
        lambda whole: whole.update(start_utc="soon"),
        lambda whole: whole.update(day="soon"),
    ],
)
def test_what_lapkit_does_not_write_is_refused_in_a_sentence(event, change):
    folder = event("spring", "2031-04-01", TOVE, told=TOLD)
    changed(folder, change)
    with pytest.raises(SeasonError, match="does not hold an event's results"):
        read_results(folder)


@pytest.mark.parametrize("text", [b"{", b"\xff\xfe", b"[1]", b'{"title": NaN}', b"[" * 100_000])
def test_scrap_is_refused(tmp_path, text):
    (tmp_path / "results.json").write_bytes(text)
    with pytest.raises(SeasonError, match="does not hold"):
        read_results(tmp_path)


def test_a_folder_without_results_is_told(tmp_path):
    with pytest.raises(SeasonError, match=r"no such file\. Add a folder that lapkit event wrote"):
        read_results(tmp_path)


def test_results_that_are_empty_or_a_pipe_are_refused_without_waiting_for_them(tmp_path):
    (tmp_path / "results.json").touch()
    with pytest.raises(SeasonError, match="the file is empty"):
        read_results(tmp_path)
    (tmp_path / "results.json").unlink()
    os.mkfifo(tmp_path / "results.json")
    with pytest.raises(SeasonError, match="not a regular file"):
        read_results(tmp_path)


def test_the_day_is_the_results_own_and_none_without_a_calendar(event):
    """In New Zealand it is not UTC's."""
    folder = changed(event("a", "2031-04-01", TOVE), lambda whole: whole.update(day="2031-04-02"))
    results = read_results(folder)
    assert (results.start_utc, results.day) == ("2031-04-01T09:00:00.000Z", "2031-04-02")
    results = read_results(event("b", "", TOVE))
    assert results.start_utc is results.day is None


def test_results_of_an_older_lapkit_are_to_be_written_again(event):
    folder = changed(event("a", "2031-04-01", TOVE), lambda whole: whole.pop("day"))
    with pytest.raises(SeasonError, match=r"day is missing.*write it again if .* an older lapkit"):
        read_results(folder)


def test_the_key_tells_results_apart_and_nothing_else(event):
    first = read_results(event("spring", "2031-04-01", TOVE))
    assert read_results(event("spring", "2031-04-01", TOVE)).key == first.key
    other = event("spring", "2031-04-01", {"Tove": (61.0, 30.0, 0, 0)})
    assert read_results(other).key != first.key


def test_habits_are_kept_by_corner_in_the_order_told_and_nothing_else(event):
    told = (
        ("Tove", "Larch", "turning in early", "work", True, 5, 6),
        ("Tove", "Anvil", "wide of the apex cone", "other", True, 4, 6),
        ("Tove", "Larch", "too far in at the turn-in cone", "other", True, 6, 6),
        ("Tove", "Larch", "turning in early", "other", True, 3, 6),
        ("Tove", "Anvil", "an exit that tightens", "fact", False, 1, 6),
        ("Tove", "Anvil", "too far in at the exit cone", "other", False, 1, 6),
        ("Tove", "Anvil", "", "well", True, 6, 6),
        ("Tove", "", "a different line every lap", "other", True, 6, 6),
    )
    assert read_results(event("spring", "2031-04-01", TOVE, told=told)).habits.cells == (
        ("Tove", "Anvil", 0, "wide of the apex cone", 4, 6),
        ("Tove", "Larch", 0, "turning in early", 5, 6),
        ("Tove", "Larch", 1, "too far in at the turn-in cone", 6, 6),
    )


def test_other_habits_make_other_results(event):
    plain = read_results(event("spring", "2031-04-01", TOVE))
    assert read_results(event("spring", "2031-04-01", TOVE, told=TOLD)).key != plain.key


def test_laps_are_counted_once_however_many_corners_they_have(event):
    results = read_results(
        event(
            "spring", "2031-04-01", {"Tove": (60.0, 30.0, 0, 0), "Bo": (50.0, 30.0, 0, 0)}, laps=4
        )
    )
    assert results.timed_laps == 8


def test_rows_are_sorted_as_the_season_keys_them(event):
    results = read_results(
        event(
            "spring", "2031-04-01", {"Tove": (60.0, 30.0, 0, 0), "Bo": (50.0, 30.0, 0, 0)}, laps=2
        )
    )
    assert results.corners.of("rider", "corner", "lap") == [
        (rider, corner, lap)
        for rider in ("Bo", "Tove")
        for corner in ("Anvil", "Larch")
        for lap in (1, 2)
    ]
    assert results.riding_order == ("Larch", "Anvil")


def test_a_lap_that_left_the_road_at_a_corner_counts_for_nothing_there(event):
    """So it is on the event's own pages."""
    folder = event("spring", "2031-04-01", {"Tove": (60.0, 30.0, 6, 6)})
    whole_rows = {
        name: len(getattr(read_results(folder), name).cells) for name in ("corners", "seams")
    }
    results = read_results(changed(folder, put("corners", "left_road", 1.0)))
    assert len(results.corners.cells) == whole_rows["corners"] - 1
    assert len(results.seams.cells) == whole_rows["seams"] - 2
    left = ("Tove", "1", 6, "Anvil")
    for rows in (results.corners, results.seams):
        assert left not in rows.of("rider", "session", "lap", "corner")
    assert results.riding_order == ("Larch", "Anvil")


def test_a_corner_at_which_everybody_left_the_road_is_still_one_of_the_course(event):
    """Without it the event would be of another course, and held against none before."""

    def off_at_larch(whole):
        table = whole["tables"]["corners"]
        corner, left = (table["columns"].index(name) for name in ("corner", "left_road"))
        for row in table["rows"]:
            row[left] = float(row[corner] == "Larch")

    dry = read_results(event("spring", "2031-04-01", TOVE))
    wet = read_results(changed(event("autumn", "2031-10-01", TOVE), off_at_larch))
    assert {corner for (corner,) in wet.corners.of("corner")} == {"Anvil"}
    assert wet.course == dry.course
