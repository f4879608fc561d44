"""Files that are read whole, and written whole or not at all."""

import os
from pathlib import Path

import pytest

from lapkit.errors import EventError, OutputError, TrackError
from lapkit.whole_file import read_whole, write_whole


def test_a_file_up_to_the_limit_is_read(tmp_path):
    file = tmp_path / "track.geojson"
    file.write_bytes(b"x" * 100)
    assert read_whole(file, "track file", 100) == b"x" * 100
    with pytest.raises(TrackError, match=r"the file has 0 MB\. A track file has less than 0 MB"):
        read_whole(file, "track file", 99)


def test_what_is_no_file_is_refused_in_the_family_asked_for(tmp_path):
    with pytest.raises(EventError, match=r"this is a folder\. Name the walk in it"):
        read_whole(tmp_path, "walk", 100, EventError)
    os.mkfifo(tmp_path / "pipe")
    with pytest.raises(TrackError, match="it is not a regular file"):
        read_whole(tmp_path / "pipe", "walk", 100)


def test_an_empty_file_is_called_so(tmp_path):
    (tmp_path / "walk.gpx").touch()
    with pytest.raises(TrackError, match=r"the file is empty\. Copy or export the walk again"):
        read_whole(tmp_path / "walk.gpx", "walk", 100)


def test_a_file_that_is_missing_has_a_remedy_of_its_own(tmp_path):
    with pytest.raises(TrackError, match=r"no such file\. Check the name of the walk"):
        read_whole(tmp_path / "a", "walk", 100)
    with pytest.raises(TrackError, match=r"no such file\. Write one"):
        read_whole(tmp_path / "a", "walk", 100, if_missing="Write one")


def test_a_name_that_is_no_path_is_refused():
    with pytest.raises(TrackError, match="the file cannot be read"):
        read_whole("nul\0", "walk", 100)


def test_a_file_is_written_whole_and_leaves_nothing_beside_it(tmp_path):
    file = tmp_path / "page.html"
    file.write_bytes(b"old")
    write_whole(file, b"new", "page")
    assert file.read_bytes() == b"new"
    assert [path.name for path in tmp_path.iterdir()] == ["page.html"]


@pytest.mark.parametrize("step", ["write_bytes", "replace"])
def test_where_writing_fails_the_old_file_stays(tmp_path, monkeypatch, step):
    file = tmp_path / "page.html"
    file.write_bytes(b"old")

    def full(path, *_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, step, full)
    with pytest.raises(
        OutputError, match=r"the page cannot be written \(No space left on device\)"
    ):
        write_whole(file, b"new", "page")
    monkeypatch.undo()
    assert file.read_bytes() == b"old"
    assert [path.name for path in tmp_path.iterdir()] == ["page.html"]


def test_a_link_stays_one_and_what_it_leads_to_is_written(tmp_path):
    (tmp_path / "shared").mkdir()
    file = tmp_path / "shared" / "track.geojson"
    link = tmp_path / "track.geojson"
    link.symlink_to(file)
    for data in (b"old", b"new"):
        write_whole(link, data, "track file")
        assert link.is_symlink()
        assert file.read_bytes() == data
    assert [path.name for path in file.parent.iterdir()] == ["track.geojson"]


def test_the_folder_is_made_where_there_is_none(tmp_path):
    file = tmp_path / "new" / "day" / "track.geojson"
    write_whole(file, b"new", "track file")
    assert [path.name for path in file.parent.iterdir()] == ["track.geojson"]
    with pytest.raises(OutputError, match="the track file cannot be written") as found:
        write_whole(file / "track.geojson", b"new", "track file")
    assert "exists" not in found.value.remedy


def test_a_write_protected_file_is_left_as_it_is(tmp_path):
    file = tmp_path / "track.geojson"
    file.write_bytes(b"old")
    file.chmod(0o444)
    with pytest.raises(OutputError, match="the track file there is write-protected"):
        write_whole(file, b"new", "track file")
    assert file.read_bytes() == b"old"
    assert [path.name for path in tmp_path.iterdir()] == ["track.geojson"]
