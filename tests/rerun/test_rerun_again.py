"""An event written into a folder again: done anew only where it changed."""

import csv
import gzip
import json
import shutil
import subprocess
import sys

import pytest

from lapkit.errors import OutputError
from lapkit.lock import held
from lapkit.measuring import provenance, runs
from lapkit.measuring.options import Options
from lapkit.reporter.formats import Formats
from lapkit.rerun import KEPT, RECORD, Wanted, write_event
from lapkit.season.results import read_results


def test_logs_of_one_name_are_told_apart(written, logs):
    origin = json.loads((written / "results.json").read_text())["provenance"]
    inputs = origin["inputs"]
    assert origin["options"]["track"] == "track.geojson"
    assert origin["options"]["line"] is origin["options"]["base"] is None
    assert set(inputs) == {"riders.csv", "track.geojson", *logs}
    assert inputs[logs[0]] != inputs[logs[1]]


def test_nothing_is_done_where_nothing_changed(made, written, opened, only_tables):
    first = write_event(made, written, only_tables, workers=1)
    assert first.unchanged
    assert "2 timed laps" in first.text
    assert opened == []


def test_what_measures_is_not_even_loaded_then(made, written):
    script = (
        "import sys\nfrom pathlib import Path\nfrom lapkit.rerun import Wanted, write_event\n"
        "from lapkit.reporter.formats import Formats\n"
        "made, out = map(Path, sys.argv[1:])\n"
        "wanted = Wanted(formats=Formats(pages=False))\n"
        "assert write_event(made, out, wanted, workers=2).unchanged\n"
        "assert not {'scipy', 'pandas', 'matplotlib', 'jinja2'} & set(sys.modules)\n"
    )
    subprocess.run([sys.executable, "-c", script, made, written], check=True, timeout=60)


def test_what_a_killed_run_left_is_cleared_away_though_nothing_changed(
    made, written, tables, only_tables
):
    before = tables(written)
    new, old, lock = (
        written.with_name(f".{written.name}.lapkit-{what}") for what in ("new-1234", "old", "lock")
    )
    shutil.copytree(written, new)
    shutil.copytree(written, old)
    lock.touch()
    assert write_event(made, written, only_tables, workers=1).unchanged
    assert not any(path.exists() for path in (new, old, lock))
    assert tables(written) == before


def test_what_another_run_is_writing_is_let_be(made, written, only_tables):
    new = written.with_name(f".{written.name}.lapkit-new-5678")
    new.mkdir()
    with held(written.with_name(f".{written.name}.lapkit-lock")):
        assert write_event(made, written, only_tables, workers=1).unchanged
        assert new.exists()
    new.rmdir()


def test_another_event_does_not_take_its_place_and_nothing_is_measured_for_it(
    again, opened, only_tables, logs
):
    folder, out = again
    other = folder.with_name("july")
    folder.rename(other)
    for log in logs:
        with (other / log).open("ab") as file:
            file.write(gzip.compress(b"\n"))
    with pytest.raises(OutputError, match="holds an event's results"):
        write_event(other, out, only_tables, workers=1)
    assert opened == []


def test_only_a_changed_log_is_measured_again(again, opened, only_tables, logs):
    folder, out = again
    shutil.copy(folder / logs[0], folder / logs[1])
    done = write_event(folder, out, only_tables, workers=1)
    assert not done.unchanged
    assert opened == [logs[1]]
    assert len(list((out / KEPT).iterdir())) == 2


def test_a_table_that_was_touched_is_written_anew_without_measuring(
    again, written, opened, tables, only_tables
):
    folder, out = again
    # The record names the place that was written to, so this run has its own.
    write_event(folder, out, only_tables, workers=1)
    (out / "laps.csv").write_text("mine\n")
    assert not write_event(folder, out, only_tables, workers=1).unchanged
    assert opened == []
    assert tables(out) == tables(written)


@pytest.mark.parametrize("what", ["options", "program", "track"])
def test_all_is_measured_again_where_what_they_share_changed(
    again, opened, monkeypatch, what, only_tables, logs
):
    folder, out = again
    wanted = only_tables
    if what == "options":
        wanted = Wanted(options=Options(max_bytes=10**8), formats=Formats(pages=False))
    elif what == "program":
        monkeypatch.setattr("lapkit.measuring.inputs.program_hash", lambda: "newer")
    else:
        track = folder / "track.geojson"
        track.write_text(track.read_text() + "\n")
    write_event(folder, out, wanted, workers=1)
    assert opened == list(logs)


def test_every_input_is_read_for_its_hash_once(again, opened, monkeypatch, only_tables, logs):
    """What is kept, the record and the provenance then cannot speak of different files."""
    folder, out = again
    hashed = []
    file_hash = provenance.file_hash
    monkeypatch.setattr(
        "lapkit.measuring.provenance.file_hash", lambda p: hashed.append(p) or file_hash(p)
    )
    write_event(folder, out, only_tables, workers=1)
    inputs = [p.relative_to(folder).as_posix() for p in hashed if p.is_relative_to(folder)]
    assert sorted(inputs) == sorted(["riders.csv", "track.geojson", *logs])


def test_what_failed_for_want_of_memory_is_tried_again(again, only_tables, monkeypatch, logs):
    folder, out = again
    shutil.rmtree(out)
    read = runs.read_logs

    def short_of_memory(path, **more):
        if path == folder / logs[0]:
            raise MemoryError
        return read(path, **more)

    with monkeypatch.context() as patch:
        patch.setattr(runs, "read_logs", short_of_memory)
        told = write_event(folder, out, only_tables, workers=1).text
    assert "not enough memory" in told
    assert not (out / RECORD).exists()
    assert "2 timed laps" in write_event(folder, out, only_tables, workers=1).text
    assert (out / RECORD).exists()


def test_damaged_results_are_measured_again(again, written, opened, tables, only_tables):
    folder, out = again
    for kept in (out / KEPT).iterdir():
        kept.write_bytes(kept.read_bytes()[:100])
    (out / RECORD).write_text("[]")
    write_event(folder, out, only_tables, workers=1)
    assert len(opened) == 2
    assert tables(out) == tables(written)


def test_pages_come_out_of_what_is_kept(made, tmp_path):
    done = write_event(made, tmp_path / "out", Wanted(), workers=1)
    page = next((tmp_path / "out").glob("rider-*.html"))
    assert "<svg" in page.read_text(encoding="utf-8")
    assert "Open" in done.text
    assert write_event(made, tmp_path / "out", Wanted()).unchanged


def test_what_a_coach_at_the_terminal_must_know_is_said_there(again, only_tables):
    """No track file by that name, two names of perhaps one rider, a log of no use: there, and in the tables."""
    event, out = again
    (event / "track.geojson").rename(event / "Track day.geojson")
    (event / "bad.gpx").write_text("no log")
    lines = (event / "riders.csv").read_text().splitlines()
    cells = dict.fromkeys(lines[0].split(","), "") | {
        "rider": "ABEL",
        "session": "9",
        "file": "bad.gpx",
    }
    (event / "riders.csv").write_text("\n".join([*lines, ",".join(cells.values())]) + "\n")
    text = write_event(event, out, only_tables, workers=1).text
    assert "There is no track file" in text
    assert "Track day.geojson is there" in text
    assert "“Abel” and “ABEL” are kept apart" in text
    with (out / "logs.csv").open(encoding="utf-8") as file:
        *used, bad = csv.DictReader(file)
    assert [row["verdict"] for row in used] != ["unusable"] * 2
    assert (bad["rider"], bad["session"], bad["file"], bad["verdict"]) == (
        "ABEL",
        "9",
        "bad.gpx",
        "unusable",
    )
    assert bad["note"]
    assert bad["offset_from"] == "none"
    assert all(row["wild_fixes"].isdigit() for row in used)
    assert not any(
        bad[c] for c in ("sha256", "rate_hz", "has_velocity", "noise_m", "missing_s", "wild_fixes")
    )
    assert len(read_results(out).logs) == 2
