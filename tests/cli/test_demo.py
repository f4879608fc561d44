"""``lapkit demo``: the bundled event from start to finish, here with a small one in its place."""

import pytest
from click.testing import CliRunner

from lapkit.cli.demo import command
from lapkit.errors import OutputError


def test_it_says_what_it_is_writes_pages_and_names_the_one_to_open(short, tmp_path, monkeypatch):
    monkeypatch.setattr("lapkit.sample.sample_event", lambda: short)
    out = tmp_path / "out"
    done = CliRunner().invoke(command, ["--out", str(out), "--units", "us"])
    assert done.exception is None
    first, *_, last = done.stdout.splitlines()
    assert first.startswith("An invented event: ")
    assert last == f"Open {out / 'rider-iska.html'}"
    assert "feet and mph" in (out / "rider-iska.html").read_text(encoding="utf-8")
    assert (out / "corners.csv").is_file()


def test_a_folder_that_is_not_lapkit_s_is_refused_before_anything_is_measured(
    tmp_path, monkeypatch
):
    monkeypatch.setattr("lapkit.pipeline.event", lambda *_, **__: pytest.fail("measured"))
    (tmp_path / "mine.txt").touch()
    done = CliRunner().invoke(command, ["--out", str(tmp_path)])
    assert isinstance(done.exception, OutputError)
