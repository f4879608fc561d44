"""The season file: refused where it is another's or damaged, left whole where there is no room, moved aside if newer."""

import sqlite3
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing

import pytest

from lapkit.errors import SeasonError
from lapkit.season.file import newer_moved_aside, opened, transaction
from lapkit.season.results import read_results
from lapkit.season.schema import SCHEMA_VERSION
from lapkit.season.store import add_event

TOVE = {"Tove": (60.0, 30.0, 0, 0)}


@pytest.fixture
def newer(event, season):
    """The season file as a newer lapkit left it; gives its bytes."""
    add_event(season, read_results(event("spring", "2031-04-01", TOVE)))
    with closing(sqlite3.connect(season)) as file:
        file.execute(f"PRAGMA user_version = {SCHEMA_VERSION + 1}")
    return season.read_bytes()


def test_a_newer_season_is_not_asked(season, newer):
    with pytest.raises(SeasonError, match="newer lapkit"), opened(season):
        pass
    with pytest.raises(SeasonError, match="newer lapkit"), transaction(season):
        pass
    assert season.read_bytes() == newer


def test_a_newer_season_is_moved_aside_under_a_name_that_is_free(season, newer):
    with newer_moved_aside(season) as first:
        assert not season.exists()
    assert first.read_bytes() == newer
    season.write_bytes(newer)
    with newer_moved_aside(season) as second:
        assert second not in (None, first)
    assert first.read_bytes() == second.read_bytes() == newer


def test_a_newer_season_is_moved_back_where_no_new_one_is_begun(season, newer):
    with pytest.raises(ZeroDivisionError), newer_moved_aside(season):
        raise ZeroDivisionError
    assert season.read_bytes() == newer
    assert [p.name for p in season.parent.glob("*.sqlite")] == ["season.sqlite"]


def test_a_newer_season_stays_aside_where_a_new_one_was_begun_all_the_same(season, newer):
    with pytest.raises(ZeroDivisionError), newer_moved_aside(season) as aside:
        season.write_bytes(b"new")
        raise ZeroDivisionError
    assert season.read_bytes() == b"new"
    assert aside.read_bytes() == newer


def test_a_season_of_this_schema_is_not_moved(event, season):
    add_event(season, read_results(event("spring", "2031-04-01", TOVE)))
    with newer_moved_aside(season) as aside:
        assert aside is None
        assert season.exists()


def test_a_season_of_an_older_schema_is_refused_untouched(event, season):
    results = read_results(event("spring", "2031-04-01", TOVE))
    add_event(season, results)
    with closing(sqlite3.connect(season)) as file:
        file.execute(f"PRAGMA user_version = {SCHEMA_VERSION - 1}")
    before = season.read_bytes()
    with pytest.raises(SeasonError, match="older lapkit wrote this season"), opened(season):
        pass
    assert season.read_bytes() == before


@pytest.mark.parametrize(
    "content", [b"not a database at all, just text" * 200, b"SQLite format 3\0"]
)
def test_a_file_that_is_no_database_is_refused_and_left(event, season, content):
    results = read_results(event("spring", "2031-04-01", TOVE))
    season.write_bytes(content)
    with pytest.raises(SeasonError, match="left as it is"):
        add_event(season, results)
    assert season.read_bytes() == content


def test_a_damaged_season_is_refused(event, season):
    riders = {f"Rider {n}": (60.0, 30.0, 0, 0) for n in range(12)}
    add_event(season, read_results(event("spring", "2031-04-01", riders)))
    content = bytearray(season.read_bytes())
    content[4096:] = b"\x5a" * (len(content) - 4096)
    season.write_bytes(bytes(content))
    with pytest.raises(SeasonError, match="damaged"), opened(season) as file:
        file.execute("SELECT * FROM rider_corner_event").fetchall()


def test_another_programs_database_is_left_alone(event, season):
    with closing(sqlite3.connect(season)) as file:
        file.execute("CREATE TABLE other (x)")
    before = season.read_bytes()
    with pytest.raises(SeasonError, match="not a season"):
        add_event(season, read_results(event("spring", "2031-04-01", TOVE)))
    assert season.read_bytes() == before


def test_no_file_and_no_folder_are_told(event, season, tmp_path):
    with pytest.raises(SeasonError, match="no such season"), opened(season):
        pass
    with pytest.raises(SeasonError, match="cannot be used"):
        add_event(tmp_path / "none" / "s.sqlite", read_results(event("spring", "2031-04-01", TOVE)))


@pytest.mark.parametrize("most_bytes", [0, 4096, 20_000])
def test_on_a_full_disk_nothing_new_is_left(event, season, room_for, most_bytes):
    results = read_results(event("spring", "2031-04-01", TOVE))
    with room_for(most_bytes), pytest.raises(SeasonError, match="make room"):
        add_event(season, results)
    assert [p.name for p in season.parent.iterdir()] == ["spring"]
    assert not add_event(season, results).replaced


@pytest.mark.parametrize("more_bytes", [0, 4096, 60_000])
def test_on_a_full_disk_a_season_stays_as_it_was(event, season, room_for, more_bytes):
    add_event(season, read_results(event("spring", "2031-04-01", TOVE)))
    before = season.read_bytes()
    riders = {f"Rider {n}": (60.0, 30.0, 0, 0) for n in range(40)}
    summer = read_results(event("summer", "2031-07-01", riders))
    with room_for(len(before) + more_bytes), pytest.raises(SeasonError, match="make room"):
        add_event(season, summer)
    assert season.read_bytes() == before
    assert sorted(p.name for p in season.parent.iterdir()) == ["season.sqlite", "spring", "summer"]


def test_an_empty_file_that_was_there_is_left(event, season, room_for):
    season.touch()
    results = read_results(event("spring", "2031-04-01", TOVE))
    with room_for(0), pytest.raises(SeasonError, match="make room"):
        add_event(season, results)
    assert season.read_bytes() == b""


def test_an_event_for_a_newer_season_begins_a_new_one_beside_it(event, season, newer):
    added = add_event(season, read_results(event("summer", "2031-07-01", TOVE)))
    assert added.moved_to.read_bytes() == newer
    with opened(season) as file:
        assert [row["title"] for row in file.execute("SELECT title FROM events")] == ["summer"]


def test_a_run_that_waits_for_a_season_which_is_taken_away_says_so(season):
    def wait_and_write():
        with transaction(season):
            pass

    with closing(sqlite3.connect(season)) as first, ThreadPoolExecutor(1) as other:
        first.isolation_level = None
        first.execute("BEGIN EXCLUSIVE")
        waiting = other.submit(wait_and_write)
        with pytest.raises(TimeoutError):
            waiting.result(timeout=0.3)
        season.unlink()
        first.execute("ROLLBACK")
        with pytest.raises(SeasonError, match="cannot be used"):
            waiting.result(timeout=10)
    assert not season.exists()
