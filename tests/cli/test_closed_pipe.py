"""Whoever reads what is printed may go away, as ``head`` does: then a command ends without a word."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

from lapkit.cli import READER_GONE
from lapkit.sample import sample_event

FULL = Path("/dev/full")
LOG, TRACK = sample_event() / "logs/iska-1.csv", sample_event() / "track.geojson"
PRINTING = {
    "check": ("check", LOG, LOG),
    "laps": ("laps", LOG, "--track", TRACK),
    "track": ("track", TRACK),
    "walk": ("walk", sample_event() / "walk.gpx", "--out", "track.geojson"),
    "simulate": ("simulate", "sample", "--out", "day", "--riders", 1, "--sessions", 1, "--laps", 2),
    "review": ("review", LOG, "--track", TRACK, "--out", "results"),
    "demo": ("demo",),
}


def read_by_nobody(*args, stream="stdout", cwd=None):
    """Exit status, and what came on the other stream."""
    reader, writer = os.pipe()
    os.close(reader)
    other = {"stdout": "stderr", "stderr": "stdout"}[stream]
    try:
        done = subprocess.run(
            [sys.executable, "-m", "lapkit", *map(str, args)],
            **{stream: writer, other: subprocess.PIPE},
            cwd=cwd,
            text=True,
            timeout=120,
        )
    finally:
        os.close(writer)
    return done.returncode, getattr(done, other)


@pytest.mark.parametrize("args", PRINTING.values(), ids=PRINTING)
def test_a_command_whose_reader_has_gone_ends_as_other_tools_do(args, tmp_path):
    assert read_by_nobody(*args, cwd=tmp_path) == (READER_GONE, "")


@pytest.mark.parametrize("args", [(), ("check",), ("season", "show")], ids=" ".join)
def test_help_whose_reader_has_gone_ends_as_other_tools_do(args):
    assert read_by_nobody(*args, "--help") == (READER_GONE, "")


def test_a_message_whose_reader_has_gone_ends_as_other_tools_do(tmp_path):
    for args in (("laps", "nowhere.csv"), ("nonsense",)):
        assert read_by_nobody(*args, stream="stderr", cwd=tmp_path) == (READER_GONE, "")


@pytest.mark.parametrize(
    ("args", "written"),
    [
        (PRINTING["review"], "results/results.json"),
        ((*PRINTING["track"], "--out", "sheets"), "sheets/corner-sheets.pdf"),
    ],
    ids=["review", "track"],
)
def test_what_was_asked_for_is_written_all_the_same(args, written, tmp_path):
    read_by_nobody(*args, cwd=tmp_path)
    assert (tmp_path / written).is_file()


@pytest.mark.skipif(not FULL.exists(), reason="no device that is always full")
@pytest.mark.parametrize("unbuffered", ["", "1"])
def test_words_for_which_there_is_no_room_are_said_to_have_none(unbuffered):
    """Once, whether Python prints at once or keeps some output to its end."""
    with FULL.open("w") as full:
        done = subprocess.run(
            [sys.executable, "-m", "lapkit", "laps", str(LOG)],
            stdout=full,
            stderr=subprocess.PIPE,
            text=True,
            timeout=120,
            env={**os.environ, "PYTHONUNBUFFERED": unbuffered},
        )
    assert done.returncode == 1 and done.stderr.startswith("lapkit: there is no room left")
    assert len(done.stderr.splitlines()) == 1
