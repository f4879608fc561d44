import sys

import pytest

from lapkit.reporter.exchange import exchange


@pytest.mark.skipif(sys.platform != "linux", reason="only Linux exchanges folders in one step")
def test_two_folders_change_places(tmp_path):
    one, other = tmp_path / "one", tmp_path / "other"
    for folder in (one, other):
        folder.mkdir()
        (folder / folder.name).touch()
    assert exchange(one, other) is True
    assert (one / "other").exists() and (other / "one").exists()


def test_where_that_cannot_be_nothing_is_done(tmp_path):
    one = tmp_path / "one"
    one.mkdir()
    (one / "file").touch()
    assert exchange(one, tmp_path / "none") is False
    assert (one / "file").exists() and not (tmp_path / "none").exists()


def test_a_system_without_the_call_says_that_it_cannot(tmp_path, monkeypatch):
    monkeypatch.setattr("lapkit.reporter.exchange.ctypes.CDLL", lambda name: object())
    assert exchange(tmp_path, tmp_path) is False
