"""Hashes of inputs and of the program, keys made of them, and names of inputs."""

import hashlib
import os
from pathlib import Path
from threading import Thread

import pytest

from lapkit.measuring import provenance
from lapkit.measuring.provenance import distinct_names, file_hash, file_hashes, key_of, program_hash


def test_a_file_that_cannot_be_read_has_no_hash(tmp_path):
    assert file_hash(tmp_path / "none") == file_hash(tmp_path) == ""
    (tmp_path / "log").write_bytes(b"x")
    assert file_hash(tmp_path / "log") == hashlib.sha256(b"x").hexdigest()


def test_a_pipe_is_not_waited_for(tmp_path):
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    writer = Thread(target=pipe.write_bytes, args=[b"x"], daemon=True)
    writer.start()
    assert file_hash(pipe) == ""
    assert pipe.read_bytes() == b"x"


def test_each_file_is_hashed_once_in_the_order_given(tmp_path, monkeypatch):
    paths = [tmp_path / name for name in ("b", "a", "b", "none")]
    paths[0].write_bytes(b"1")
    paths[1].write_bytes(b"2")
    asked = []
    monkeypatch.setattr(provenance, "file_hash", lambda path: asked.append(path) or path.name)
    hashes = file_hashes(paths)
    assert list(hashes) == [paths[0], paths[1], paths[3]]
    assert hashes[paths[1]] == "a"
    assert sorted(asked) == sorted(hashes)


def test_a_key_depends_on_every_part_and_on_no_order_of_fields():
    key = key_of("program", {"rider": "Ada", "session": "1"}, ["x"])
    assert key == key_of("program", {"session": "1", "rider": "Ada"}, ["x"])
    for other in (
        key_of("program", {"rider": "Ada", "session": "2"}, ["x"]),
        key_of("program", {"rider": "Ada", "session": "1"}, ["y"]),
        key_of("other", {"rider": "Ada", "session": "1"}, ["x"]),
    ):
        assert other != key


@pytest.fixture
def program(tmp_path, monkeypatch):
    """A program of two files, whose hash is worked out anew each time."""
    (tmp_path / "a.py").write_text("1")
    (tmp_path / "b.html").write_text("2")
    monkeypatch.setattr(provenance, "_PACKAGE", tmp_path)
    monkeypatch.setattr(provenance, "program_hash", program_hash.__wrapped__)
    return tmp_path


def test_another_source_template_or_name_is_another_program(program):
    before = provenance.program_hash()
    (program / "b.html").write_text("3")
    changed = provenance.program_hash()
    (program / "b.html").rename(program / "c.html")
    renamed = provenance.program_hash()
    assert len({before, changed, renamed}) == 3


def test_what_python_compiled_is_no_part_of_the_program(program):
    before = provenance.program_hash()
    (program / "__pycache__").mkdir()
    (program / "__pycache__" / "a.pyc").write_text("compiled")
    assert provenance.program_hash() == before


def test_another_version_of_a_package_is_another_program(program, monkeypatch):
    before = provenance.program_hash()
    monkeypatch.setattr(provenance, "version", lambda package: "99")
    assert provenance.program_hash() != before


def test_a_name_is_as_long_as_it_must_be_to_be_the_only_one():
    folder = Path("/event")
    paths = [
        folder / "logs" / "ada.csv",
        Path("/x/am/coach.csv"),
        Path("/x/pm/coach.csv"),
        Path("/base.csv"),
    ]
    names = distinct_names(paths, folder)
    assert list(names.values()) == ["logs/ada.csv", "am/coach.csv", "pm/coach.csv", "base.csv"]
    assert distinct_names(paths[:2], None)[paths[1]] == "coach.csv"
