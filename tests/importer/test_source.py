from __future__ import annotations

import gzip
import hashlib
import io
import os
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lapkit.errors import LogError
from lapkit.importer import source as reading
from lapkit.importer.source import HEAD_BYTES, open_source, safe_name


def test_bytes_hash_and_head_are_those_of_the_file(write):
    data = os.urandom(HEAD_BYTES + 1000)
    with open_source(write(data, "ride.gpx")) as source:
        assert source.sha256 == hashlib.sha256(data).hexdigest()
        assert source.head == data[:HEAD_BYTES]
        assert source.stream.readall() == data
        assert source.name.endswith("ride.gpx")
        assert source.notes() == ()


def test_a_character_cut_off_at_the_end_of_the_head_is_still_utf8(write):
    long = ("x" * (HEAD_BYTES - 1) + "ä").encode()
    with open_source(write(long)) as source:
        assert source.head_is_utf8
    with open_source(write("Kör".encode("latin-1"))) as source:
        assert not source.head_is_utf8


def test_a_hash_that_is_known_is_not_worked_out_again(write, monkeypatch):
    monkeypatch.delattr(hashlib, "file_digest")
    with open_source(write(b"time,lat,lon\n", "ride.csv"), sha256="known") as source:
        assert source.sha256 == "known"
        assert source.stream.readall() == b"time,lat,lon\n"


def test_gzipped_files_are_unpacked_and_hashed_as_they_lie_on_the_disk(write):
    data = b"time,lat,lon\n" * 10_000
    packed = gzip.compress(data)
    with open_source(write(packed, "ride.csv")) as source:
        assert source.stream.readall() == data
        assert source.sha256 == hashlib.sha256(packed).hexdigest()


def test_gzip_that_breaks_off_gives_what_came_before_and_a_note(write):
    data = os.urandom(500_000)
    with open_source(write(gzip.compress(data)[:300_000])) as source:
        got = source.stream.readall()
        assert 0 < len(got) < len(data)
        assert data.startswith(got)
        assert "break off" in source.notes()[0]


def test_a_file_beyond_the_limit_is_refused_before_it_is_read(write):
    with pytest.raises(LogError, match=r"larger than 1 MB.*--max-size"):
        open_source(write(bytes(2 * 1024**2)), max_bytes=1024**2).__enter__()


def test_a_gzip_beyond_the_limit_is_refused_while_it_is_read(write):
    packed = gzip.compress(os.urandom(1024) * 3000)
    path = write(packed)
    assert len(packed) < 1024**2
    with (
        open_source(path, max_bytes=1024**2) as source,
        pytest.raises(LogError, match="after unpacking"),
    ):
        source.stream.readall()


def test_a_gzip_bomb_is_refused_although_it_is_below_the_limit(write):
    packed = gzip.compress(bytes(80 * 1024**2), 9)
    with open_source(write(packed)) as source, pytest.raises(LogError, match="as no log does"):
        while source.stream.read(1024**2):
            pass


def test_a_large_log_that_packs_well_is_no_bomb(write, monkeypatch):
    monkeypatch.setattr(reading, "_BOMB_BYTES", 1000)
    text = b"".join(b"%d,52.123,-1.234\n" % i for i in range(5000))
    packed = gzip.compress(text)
    assert 3 < len(text) / len(packed) < reading._BOMB_RATIO
    with open_source(write(packed)) as source:
        assert len(source.stream.read()) == len(text)


def test_folders_pipes_and_devices_are_refused_without_opening_them(tmp_path):
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    for path in (tmp_path, pipe, "/dev/zero"):
        with pytest.raises(LogError, match="not a regular file"):
            open_source(path).__enter__()


@pytest.mark.parametrize("name", ["missing.gpx", "nul\0.gpx", "x" * 5000])
def test_names_that_lead_nowhere_are_refused(tmp_path, name):
    with pytest.raises(LogError, match=r"cannot be opened|there is no such file"):
        open_source(f"{tmp_path}/{name}").__enter__()


def test_a_file_without_permission_is_refused(write):
    path = write("x")
    path.chmod(0)
    if os.access(path, os.R_OK):
        pytest.skip("this user may read everything")
    with pytest.raises(LogError, match="Permission denied"):
        open_source(path).__enter__()


class OfADamagedCard(io.RawIOBase):
    """A file whose bytes cannot be read from some place on."""

    def __init__(self, path, sound):
        super().__init__()
        self.file, self.sound = path.open("rb"), sound

    def readable(self):
        return True

    def seekable(self):
        return True

    def fileno(self):
        return self.file.fileno()

    def seek(self, *to):
        return self.file.seek(*to)

    def tell(self):
        return self.file.tell()

    def readinto(self, buffer):
        if self.file.tell() + len(buffer) > self.sound:
            raise OSError(5, "Input/output error")
        return self.file.readinto(buffer)


@pytest.mark.parametrize("sha256", ["", "known"])
def test_a_card_that_cannot_be_read_is_said_wherever_it_shows(write, monkeypatch, sha256):
    path = write("time,lat,lon\n")
    damaged = io.BufferedReader(OfADamagedCard(path, 0))
    monkeypatch.setattr(Path, "open", lambda *_: damaged)
    with pytest.raises(LogError, match=r"cannot be read to its end \(Input/output error\)"):
        open_source(path, sha256=sha256).__enter__()


def test_a_symbolic_link_is_followed(write, tmp_path):
    (tmp_path / "link").symlink_to(write("here"))
    with open_source(tmp_path / "link") as source:
        assert source.stream.readall() == b"here"


@given(st.text(max_size=400))
def test_names_in_messages_are_one_short_line_without_control_characters(text):
    shown = safe_name(text)
    assert len(shown) <= 200
    assert all(c.isprintable() for c in shown)


def test_names_keep_what_is_harmless():
    assert safe_name("Zoë's Ärger 27 \x1b[31m\u202e.gpx") == "Zoë's Ärger 27 �[31m�.gpx"
