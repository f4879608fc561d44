"""The command line as a whole: help, wrong use, and what each command says when it cannot do its work."""

import json
import os
import shutil
import subprocess
import sys

import pytest
from click.testing import CliRunner

from lapkit.cli import COMMANDS, group
from lapkit.compare.results import Unusable
from lapkit.errors import LogError, OptionError, OutputError
from lapkit.reporter.contents import Contents, What
from lapkit.reporter.output import whole_folder
from lapkit.sample import sample_event


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_has_help(name):
    result = CliRunner().invoke(group, [name, "--help"])
    assert result.exit_code == 0, result.output
    assert "Usage:" in result.output
    command = group.get_command(None, name)
    for option in command.params:
        if option.param_type_name == "option":
            assert option.help, f"{name} {option.opts} lacks help"


def test_no_help_imports_pandas_or_numpy():
    code = (
        "import sys\n"
        "from lapkit.cli import COMMANDS, group\n"
        "for args in ([], *([name] for name in COMMANDS), ['season', 'add'], ['season', 'show']):\n"
        "    try:\n        group.main([*args, '--help'], prog_name='lapkit')\n"
        "    except SystemExit:\n        pass\n"
        "    heavy = {'pandas', 'numpy', 'scipy', 'matplotlib', 'jinja2'} & set(sys.modules)\n"
        "    assert not heavy, (args, heavy)\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=60)
    assert done.returncode == 0, done.stderr


def test_the_version_is_printed(process):
    assert process("--version").stdout.startswith("lapkit, version ")


def test_a_mistyped_command_gets_the_nearest(process):
    done = process("revew")
    assert done.returncode == 2
    assert "review" in done.stderr


def test_a_missing_log_is_one_line_and_status_1(tmp_path, process):
    done = process("laps", tmp_path / "none.gpx")
    assert done.returncode == 1
    assert "none.gpx" in done.stderr
    assert len(done.stderr.strip().splitlines()) == 1
    assert "Traceback" not in done.stderr


def test_wrong_columns_option_is_status_2(tmp_path, process):
    done = process("laps", "--columns", "time", tmp_path / "none.csv")
    assert done.returncode == OptionError.exit_status == 2
    assert "name=header" in done.stderr


def test_an_empty_folder_is_no_event(tmp_path, process):
    done = process("event", tmp_path, "--out", tmp_path.parent / "out")
    assert done.returncode == 1
    assert "riders.csv" in done.stderr
    assert not (tmp_path.parent / "out").exists()


@pytest.mark.parametrize("command", ["event", "review"])
def test_parquet_that_cannot_be_written_is_told_before_the_work(monkeypatch, tmp_path, command):
    monkeypatch.setattr("lapkit.reporter.tables.find_spec", lambda _: None)
    monkeypatch.setattr("lapkit.rerun.write_event", lambda *_, **__: pytest.fail("measured"))
    monkeypatch.setattr("lapkit.pipeline.review", lambda *_, **__: pytest.fail("measured"))
    given = sample_event() if command == "event" else sample_event() / "logs" / "iska-1.csv"
    out = ["--out", str(tmp_path / "out"), "--parquet"]
    result = CliRunner().invoke(group, [command, str(given), *out])
    assert isinstance(result.exception, OutputError)
    assert "pip install" in str(result.exception)


@pytest.mark.parametrize("command", ["event", "review"])
def test_an_out_folder_with_the_track_file_in_it_is_refused_before_the_work(
    monkeypatch, tmp_path, run, command
):
    """A folder of corner sheets may be written anew: the track file in it would be gone."""
    monkeypatch.setattr("lapkit.rerun.write_event", lambda *_, **__: pytest.fail("measured"))
    monkeypatch.setattr("lapkit.pipeline.review", lambda *_, **__: pytest.fail("measured"))
    given = sample_event() if command == "event" else sample_event() / "logs" / "iska-1.csv"
    with whole_folder(tmp_path / "sheets", (), Contents(What.SHEETS)) as sheets:
        shutil.copy(sample_event() / "track.geojson", sheets)
    out = tmp_path / "sheets"
    with pytest.raises(OutputError, match="would replace the input"):
        run(command, given, "--track", out / "track.geojson", "--out", out)


def environment_left_by_the_command_line(**given):
    """What a worker would be started with."""
    code = (
        "import json, os, sys\n"
        "sys.argv = ['lapkit', '--version']\n"
        "from lapkit.cli import main\n"
        "assert 'numpy' not in sys.modules\n"
        "try:\n    main()\nexcept SystemExit:\n    pass\n"
        "print(json.dumps(dict(os.environ)))\n"
    )
    env = {k: v for k, v in os.environ.items() if not k.startswith(("OPENBLAS_", "MALLOC_"))}
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, env=env | given, check=True
    )
    return json.loads(done.stdout.splitlines()[-1])


def test_linear_algebra_is_told_to_use_one_thread_before_numpy_comes():
    assert environment_left_by_the_command_line()["OPENBLAS_NUM_THREADS"] == "1"


def test_workers_are_told_to_keep_their_memory_unless_somebody_says_otherwise():
    left = environment_left_by_the_command_line(MALLOC_TRIM_THRESHOLD_="1000000")
    assert int(left["MALLOC_MMAP_THRESHOLD_"]) > 10**7
    assert left["MALLOC_TRIM_THRESHOLD_"] == "1000000"


def test_log_and_track_file_swapped_is_named_so(tmp_path, process):
    folder = sample_event()
    log, track = folder / "logs" / "iska-1.csv", folder / "track.geojson"
    done = process("laps", track, "--track", log)
    assert done.returncode == 1
    assert "a track file (GeoJSON) is wanted here; this looks like a log" in done.stderr
    done = process("laps", log, "--track", folder / "logs" / "tove-1.gpx.gz")
    assert "this looks like a log" in done.stderr
    done = process("check", track)
    assert "this is JSON, as track files are, and no log" in done.stderr
    assert "coordinates" not in done.stderr


def test_a_second_log_is_the_second_run(tmp_path, process):
    folder = sample_event()
    log, track = folder / "logs" / "iska-2.csv", folder / "track.geojson"
    told = process("laps", log, "--track", track).stdout
    assert told.startswith("Iska, run 2 (logs/iska-2.csv)\n")
    away = tmp_path / "iska-2.csv"
    away.write_bytes(log.read_bytes())
    told = process("laps", away, "--track", track).stdout
    assert told.startswith("iska-2.csv\n")


def test_why_a_log_has_no_laps_is_told_in_the_reader_s_units(monkeypatch, run):
    why = Unusable("Ada", "1", "a\x9b.csv", "it never comes nearer than 161 km to the course")
    monkeypatch.setattr("lapkit.pipeline.lap_tables", lambda *_, **__: (None, {}, (why,)))
    monkeypatch.setattr("lapkit.reporter.terminal_laps.laps_text", lambda *_: "")
    told = run("laps", "a.csv", "--units", "us").stderr
    assert (
        told
        == "lapkit: a\N{REPLACEMENT CHARACTER}.csv: it never comes nearer than 100 miles to the course\n"
    )


def test_headers_that_no_column_has_are_named(process):
    log = sample_event() / "logs" / "iska-1.csv"
    done = process("check", "--columns", "time=stamp,lat=y", log)
    assert "no column has the header 'stamp' or 'y'" in done.stderr
    assert "Time (UTC)" in done.stderr


def test_a_folder_for_a_log_and_an_out_that_cannot_be_are_wrong_use(tmp_path, process):
    done = process("check", tmp_path)
    assert done.returncode == 2
    assert "this is a folder, not a log" in done.stderr and "lapkit event" in done.stderr
    (tmp_path / "theirs").mkdir()
    (tmp_path / "theirs" / "thesis.txt").write_text("all of it")
    log = sample_event() / "logs" / "iska-1.csv"
    assert process("review", log, "--out", tmp_path / "theirs").returncode == 2
    assert process("simulate", "nope", "--out", tmp_path / "new").returncode == 2


@pytest.mark.parametrize("name", ["a" * 300, "round"])
@pytest.mark.parametrize(
    "words", ["event @", "check @", "event . --out @", "season show --season @"]
)
def test_a_name_that_cannot_be_looked_up_is_wrong_use(words, name, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "round").symlink_to("round")
    result = CliRunner().invoke(group, words.replace("@", name).split())
    assert isinstance(result.exception, OptionError)
    assert name in str(result.exception)


def test_a_course_that_is_not_built_in_names_those_that_are(tmp_path, process):
    assert "sample, flowing, twisty" in process("simulate", "nope", "--out", tmp_path / "a").stderr
    assert "Did you mean 'sample'?" in process("simulate", "sampel", "--out", tmp_path / "a").stderr


@pytest.mark.parametrize("remedy", ["", "Do it", "Do it.", "Really?"])
def test_every_message_ends_like_a_sentence(remedy):
    told = str(LogError("it is broken", where="a.gpx", remedy=remedy))
    assert told.startswith("a.gpx: it is broken. " if remedy else "a.gpx: it is broken")
    assert told[-1] in ".?" and not told.endswith("..")
