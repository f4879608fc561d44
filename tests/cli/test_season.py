"""``lapkit season``: events put in, and its answers."""

import json
import sqlite3
import subprocess
import sys
from contextlib import closing

import pytest
from click.testing import CliRunner

from lapkit.cli.season import command
from lapkit.errors import OptionError, OutputError, SeasonError

NUMBERS = {
    "radius_min_m": 60.0, "radius_min_lo_m": 58.0, "radius_min_hi_m": 62.0,
    "exit_radius_min_m": 70.0, "exit_radius_ratio": 0.8, "p_tightened": 1.0, "lean_max_deg": 35.0,
    "lean_max_lo_deg": 34.0, "lean_max_hi_deg": 36.0, "lean_on_line_deg": 33.0,
    "tightened": 1.0, "left_road": 0.0,
}  # fmt: skip


@pytest.fixture
def here(tmp_path, monkeypatch):
    """A working folder with the results of an event in ``day``."""
    monkeypatch.chdir(tmp_path)
    laps = [["Tove", "1", lap, "timed", "2031-04-01T09:00:00Z"] for lap in range(1, 7)]
    corners = [["Tove", "1", lap, "Larch", "left", *NUMBERS.values()] for lap in range(1, 7)]
    seams = [["Tove", "1", lap, "Larch", "first", 1.0, 1.0, "inside", True] for lap in range(1, 7)]
    who = ["rider", "session", "lap"]
    tables = {
        "laps": ([*who, "kind", "start_utc"], laps),
        "corners": ([*who, "corner", "turn", *NUMBERS], corners),
        "seams": ([*who, "corner", "seam", "inside_share", "p_inside", "call", "counted"], seams),
        "findings": (
            ["rider", "corner", "in_short", "kind", "habit", "laps_seen", "laps_counted"],
            [["Tove", "Larch", "turning in early", "work", True, 5, 6]],
        ),
        "logs": (["sha256"], [["ab"]]),
    }
    whole = {
        "title": "spring\x1b[2J",
        "start_utc": "2031-04-01T09:00:00Z",
        "day": "2031-04-01",
        "provenance": {"version": "0", "inputs": {}},
        "tables": {n: {"columns": c, "rows": r} for n, (c, r) in tables.items()},
    }
    (tmp_path / "day").mkdir()
    (tmp_path / "day" / "results.json").write_text(json.dumps(whole))
    return tmp_path


def run(*args):
    return CliRunner().invoke(command, list(args))


def test_an_event_added_twice_is_shown_once(here):
    added, then = run("add", "day").stdout.splitlines()
    assert added == "spring�[2J: 6 timed laps added to season.sqlite"
    assert then == "Next: lapkit season show"
    assert "6 timed laps replaced in season.sqlite" in run("add", "day").stdout
    shown = run("show", "--rider", "Tove")
    assert shown.exit_code == 0
    assert "60 ± 2 m" in shown.stdout
    assert "first: inside 6 of 6" in shown.stdout
    assert "turning in early (1 of 1)" in shown.stdout
    assert "\x1b" not in shown.stdout


def test_a_log_exchanged_and_a_name_spelt_otherwise_are_told_with_the_way_out(here):
    run("add", "day")
    written = here / "day" / "results.json"
    text = written.read_text()
    written.write_text(text.replace('[["ab"]]', '[["ab"], ["cd"]]'))
    run("add", "day")
    written.write_text(text.replace('[["ab"]]', '[["ab"], ["ef"]]'))
    refused = run("add", "day").exception
    assert isinstance(refused, SeasonError)
    assert "add them with --replace" in str(refused)
    assert "replaced in season.sqlite" in run("add", "day", "--replace").stdout
    written.write_text(text.replace('[["ab"]]', '[["01"]]').replace("Tove", "To\\u001bve"))
    assert "“To�ve” and “Tove” are spelt almost alike, and no event" in run("add", "day").stdout


def test_show_writes_a_page_in_the_units_asked_for(here):
    added = run("add", "day", "--season", "mine.sqlite")
    assert added.stdout.endswith("\nNext: lapkit season show --season mine.sqlite\n")
    shown = run(
        "show", "--season", "mine.sqlite", "--corner", "Larch", "--units", "us", "--out", "p.html"
    )
    assert shown.stdout.endswith("Open p.html\n")
    page = (here / "p.html").read_text(encoding="utf-8")
    assert "197 ± 7 ft" in page.replace("\N{NO-BREAK SPACE}", " ")


def test_the_page_is_written_though_nobody_reads_the_answers(here, monkeypatch):
    def gone(*_, **__):
        raise BrokenPipeError

    run("add", "day")
    monkeypatch.setattr("click.echo", gone)
    run("show", "--out", "p.html")
    assert (here / "p.html").is_file()


def test_a_page_that_no_browser_would_open_is_not_written(here):
    run("add", "day")
    refused = run("show", "--out", "pages")
    assert isinstance(refused.exception, OutputError)
    assert "Write --out pages.html." in str(refused.exception)
    assert not (here / "pages").exists()


def test_show_without_a_season_and_with_a_mistyped_rider(here):
    assert isinstance(run("show").exception, SeasonError)
    run("add", "day")
    wrong = run("show", "--rider", "tov").exception
    assert isinstance(wrong, OptionError)
    assert "'Tove'" in str(wrong)


def test_adding_to_a_newer_season_moves_it_aside_and_says_so(here):
    run("add", "day")
    with closing(sqlite3.connect("season.sqlite")) as file:
        file.execute("PRAGMA user_version = 7")
    before = (here / "season.sqlite").read_bytes()
    done = run("add", "day")
    assert "moved, unchanged, to season-schema-7.sqlite" in done.stderr
    assert "added to season.sqlite" in done.stdout
    assert (here / "season-schema-7.sqlite").read_bytes() == before


def test_a_newer_season_stays_in_its_place_where_no_new_one_can_be_begun(here, room_for):
    run("add", "day")
    with closing(sqlite3.connect("season.sqlite")) as file:
        file.execute("PRAGMA user_version = 7")
    before = (here / "season.sqlite").read_bytes()
    with room_for(4096):
        done = run("add", "day")
    assert isinstance(done.exception, SeasonError)
    assert done.stderr == ""
    assert sorted(p.name for p in here.iterdir()) == ["day", "season.sqlite"]
    assert (here / "season.sqlite").read_bytes() == before


def test_an_answer_and_its_page_load_nothing_heavy(here):
    run("add", "day")
    code = (
        "import sys\n"
        "from lapkit.cli import group\n"
        "args = ['season', 'show', '--rider', 'Tove', '--out', 'tove.html']\n"
        "group.main(args, prog_name='lapkit', standalone_mode=False)\n"
        "assert not {'pandas', 'scipy', 'matplotlib'} & set(sys.modules)\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=60)
    assert done.returncode == 0, done.stderr
    assert (here / "tove.html").exists()
