"""Terminals, folders and names that most users do not have."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from lapkit.sample import sample_event


def test_a_character_that_the_terminal_lacks_is_no_fault(tmp_path):
    log = tmp_path / "Łucja 🏍 ü.csv"
    lines = (sample_event() / "logs/iska-1.csv").read_text().splitlines(keepends=True)
    log.write_text("".join([lines[0], *lines[600:1600]]))
    done = subprocess.run(
        [sys.executable, "-m", "lapkit", "check", str(log)],
        capture_output=True,
        env=os.environ | {"PYTHONIOENCODING": "latin-1:strict"},
        timeout=60,
    )
    assert done.returncode == 0, done.stderr
    assert "?ucja ? ü.csv: good".encode("latin-1") in done.stdout


@pytest.mark.skipif(sys.platform == "win32", reason="a folder in use cannot be removed there")
def test_a_folder_that_was_removed_beneath_the_terminal_is_said(tmp_path):
    code = "import os, sys, lapkit.cli; os.rmdir(os.getcwd()); sys.argv[1:] = ['track', 'a.geojson']; lapkit.cli.main()"
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, cwd=tmp_path, timeout=60
    )
    assert done.returncode == 2
    assert done.stderr.startswith("lapkit: a.geojson: the folder you are in does not exist any")


def test_a_log_whose_name_is_no_utf8_is_debriefed(tmp_path, process):
    name = os.fsdecode(b"Tove \xff\xfe.csv")
    lines = (sample_event() / "logs/iska-1.csv").read_text().splitlines(keepends=True)
    (tmp_path / name).write_text("".join([lines[0], *lines[600:2600]]))
    track = sample_event() / "track.geojson"
    done = process("review", tmp_path / name, "--track", track, "--out", tmp_path / "out")
    assert done.returncode == 0, done.stderr
    read = json.loads((tmp_path / "out/results.json").read_bytes())
    assert any(Path(given).name == name for given in read["provenance"]["inputs"])


def test_laps_says_what_to_do_where_no_log_is_of_use(tmp_path, process):
    (tmp_path / "a.csv").write_text("time,lat,lon\n")
    done = process("laps", tmp_path / "a.csv", "--track", sample_event() / "track.geojson")
    assert done.returncode == 1
    assert done.stderr.startswith("lapkit: no log could be used (a.csv: ")
    assert done.stderr.endswith("Run `lapkit check` on a log to see more.\n")


def test_want_of_memory_is_said_with_what_helps():
    code = (
        "import click, lapkit.cli as cli\n"
        "def short():\n    raise MemoryError\n"
        "cli.group.get_command = lambda *_: click.Command('track', callback=short)\n"
        "import sys; sys.argv[1:] = ['track']; cli.main()"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=60)
    assert done.returncode == 1
    assert done.stderr == (
        "lapkit: there is not enough memory. Close other programs, or use fewer --workers.\n"
    )
