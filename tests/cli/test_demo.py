"""``lapkit demo``: the bundled event from start to finish, here with a small one in its place."""

from click.testing import CliRunner

from lapkit.cli.demo import command


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
