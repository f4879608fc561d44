"""An event written into a folder: the same from any number of workers, and done again only where it changed."""

import csv
import json
import shutil
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor

import pytest

from lapkit import provenance, rerun, workers
from lapkit.errors import EventError, TrackError
from lapkit.options import Options
from lapkit.packed import unpack
from lapkit.reporter.lock import held
from lapkit.rerun import KEPT, RECORD, Wanted, write_event
from lapkit.season.results import read_results
from lapkit.simulate.courses import course_named
from lapkit.simulate.event import invented_runs
from lapkit.simulate.event import write_event as invent
from lapkit.simulate.receiver import Receiver

TABLES = Wanted(pages=False)
LOGS = ("day/abel.gpx.gz", "other/abel.gpx.gz")


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    """Two short runs, their logs of one name in two folders."""
    folder = tmp_path_factory.mktemp("made") / "event"
    course, track = course_named("sample")
    invent(course, track, invented_runs(2, 1, 1, Receiver(rate_hz=5.0), 3, ".gpx.gz"), folder)
    lines = (folder / "riders.csv").read_text().splitlines()
    for i, name in enumerate(LOGS, 1):
        place = lines[0].split(",").index("file")
        cells = lines[i].split(",")
        (folder / name).parent.mkdir()
        (folder / cells[place]).rename(folder / name)
        cells[place] = name
        lines[i] = ",".join(cells)
    (folder / "riders.csv").write_text("\n".join(lines) + "\n")
    return folder


@pytest.fixture(scope="module")
def written(made, tmp_path_factory):
    """The event's results, written in one process."""
    out = tmp_path_factory.mktemp("written") / "out"
    write_event(made, out, TABLES, workers=1)
    return out


@pytest.fixture
def again(made, written, tmp_path):
    """Copies of event and results to change."""
    shutil.copytree(made, tmp_path / "event")
    shutil.copytree(written, tmp_path / "out")
    return tmp_path / "event", tmp_path / "out"


@pytest.fixture
def opened(written, monkeypatch):
    """Names of the logs that were measured; what came of them before is given for it, to save time."""
    earlier = {}
    for path in (written / KEPT).iterdir():
        measured = unpack(path.read_bytes())
        earlier[measured[0][0].rider] = measured
    names = []

    def measure(entry, *_):
        names.append(entry.file)
        return earlier[entry.rider]

    monkeypatch.setattr("lapkit.jobs.measure_entry", measure)
    return names


def tables(out):
    """Every table as bytes."""
    return {p.name: p.read_bytes() for p in out.iterdir() if p.suffix == ".csv"}


def test_logs_of_one_name_are_told_apart(written):
    origin = json.loads((written / "results.json").read_text())["provenance"]
    inputs = origin["inputs"]
    assert origin["options"]["track"] == "track.geojson"
    assert origin["options"]["line"] is origin["options"]["base"] is None
    assert set(inputs) == {"riders.csv", "track.geojson", *LOGS}
    assert inputs[LOGS[0]] != inputs[LOGS[1]]


def test_two_workers_give_the_same_bytes(made, written, tmp_path):
    write_event(made, tmp_path / "out", TABLES, workers=2)
    assert tables(tmp_path / "out") == tables(written)
    results = "results.json"
    assert (tmp_path / "out" / results).read_bytes() == (written / results).read_bytes()


def test_any_executor_serves(made, written, tmp_path):
    with ThreadPoolExecutor(1) as pool:
        write_event(made, tmp_path / "out", TABLES, executor=pool)
    assert tables(tmp_path / "out") == tables(written)


def test_a_local_cluster_gives_the_same_bytes(made, written, tmp_path):
    distributed = pytest.importorskip("distributed", reason="the cluster extra is not installed")
    from lapkit.cluster import executor_of

    with distributed.LocalCluster(
        n_workers=2, threads_per_worker=1, dashboard_address=None, memory_limit=None
    ) as cluster:
        pool = executor_of(cluster.scheduler_address)
        write_event(made, tmp_path / "out", TABLES, executor=pool)
        pool.shutdown()
        distributed.default_client().close()
    assert tables(tmp_path / "out") == tables(written)


def test_nothing_is_done_where_nothing_changed(made, written, opened):
    first = write_event(made, written, TABLES, workers=1)
    assert first.unchanged
    assert "2 timed laps" in first.text
    assert opened == []


def test_what_measures_is_not_even_loaded_then(made, written):
    script = (
        "import sys\nfrom pathlib import Path\nfrom lapkit.rerun import Wanted, write_event\n"
        "made, out = map(Path, sys.argv[1:])\n"
        "assert write_event(made, out, Wanted(pages=False), workers=2).unchanged\n"
        "assert not {'scipy', 'pandas', 'matplotlib', 'jinja2'} & set(sys.modules)\n"
    )
    subprocess.run([sys.executable, "-c", script, made, written], check=True, timeout=60)


@pytest.fixture
def started(monkeypatch):
    """Workers that were started."""
    found = []
    start = workers._Worker.start
    monkeypatch.setattr(workers._Worker, "start", lambda own: found.append(own) or start(own))
    return found


def test_workers_that_wait_for_a_course_end_where_it_is_refused(again, started):
    folder, out = again
    (folder / "track.geojson").write_text("{}")
    (out / RECORD).unlink()
    shutil.rmtree(out / KEPT)
    before = tables(out)
    with pytest.raises(TrackError) as refused:
        write_event(folder, out, TABLES, workers=2)
    with pytest.raises(TrackError) as alone:
        write_event(folder, out, TABLES, workers=1)
    assert str(refused.value) == str(alone.value)
    assert len(started) == 2
    assert not any(worker.is_alive() for worker in started)
    assert tables(out) == before


def test_a_refused_course_is_said_and_ends_the_command_with_workers_as_without(again):
    folder, out = again
    (folder / "track.geojson").write_text("{}")
    command = [sys.executable, "-m", "lapkit", "event", folder, "--out", out, "--workers"]
    alone, two = (
        subprocess.run([*command, n], capture_output=True, text=True, timeout=60) for n in "12"
    )
    assert (two.returncode, two.stderr, two.stdout) == (1, alone.stderr, alone.stdout)
    assert "track.geojson" in two.stderr


def test_no_workers_are_started_for_one_log(again, started, opened):
    folder, out = again
    shutil.copy(folder / LOGS[0], folder / LOGS[1])
    write_event(folder, out, TABLES, workers=2)
    assert opened == [LOGS[1]]
    assert not started


def test_what_a_killed_run_left_is_cleared_away_though_nothing_changed(made, written):
    before = tables(written)
    new, old, lock = (
        written.with_name(f".{written.name}.lapkit-{what}") for what in ("new-1234", "old", "lock")
    )
    shutil.copytree(written, new)
    shutil.copytree(written, old)
    lock.touch()
    assert write_event(made, written, TABLES, workers=1).unchanged
    assert not any(path.exists() for path in (new, old, lock))
    assert tables(written) == before


def test_what_another_run_is_writing_is_let_be(made, written):
    new = written.with_name(f".{written.name}.lapkit-new-5678")
    new.mkdir()
    with held(written.with_name(f".{written.name}.lapkit-lock")):
        assert write_event(made, written, TABLES, workers=1).unchanged
        assert new.exists()
    new.rmdir()


def test_only_a_changed_log_is_measured_again(again, opened):
    folder, out = again
    shutil.copy(folder / LOGS[0], folder / LOGS[1])
    done = write_event(folder, out, TABLES, workers=1)
    assert not done.unchanged
    assert opened == [LOGS[1]]
    assert len(list((out / KEPT).iterdir())) == 2


def test_a_table_that_was_touched_is_written_anew_without_measuring(again, written, opened):
    folder, out = again
    # The record names the place that was written to, so this run has its own.
    write_event(folder, out, TABLES, workers=1)
    (out / "laps.csv").write_text("mine\n")
    assert not write_event(folder, out, TABLES, workers=1).unchanged
    assert opened == []
    assert tables(out) == tables(written)


@pytest.mark.parametrize("what", ["options", "program", "track"])
def test_all_is_measured_again_where_what_they_share_changed(again, opened, monkeypatch, what):
    folder, out = again
    wanted = TABLES
    if what == "options":
        wanted = Wanted(pages=False, options=Options(max_bytes=10**8))
    elif what == "program":
        monkeypatch.setattr("lapkit.inputs.program_hash", lambda: "newer")
    else:
        track = folder / "track.geojson"
        track.write_text(track.read_text() + "\n")
    write_event(folder, out, wanted, workers=1)
    assert opened == list(LOGS)


def test_every_input_is_read_for_its_hash_once(again, opened, monkeypatch):
    """What is kept, the record and the provenance then cannot speak of different files."""
    folder, out = again
    hashed = []
    file_hash = provenance.file_hash
    monkeypatch.setattr("lapkit.provenance.file_hash", lambda p: hashed.append(p) or file_hash(p))
    write_event(folder, out, TABLES, workers=1)
    inputs = [p.relative_to(folder).as_posix() for p in hashed if p.is_relative_to(folder)]
    assert sorted(inputs) == sorted(["riders.csv", "track.geojson", *LOGS])


def test_damaged_results_are_measured_again(again, written, opened):
    folder, out = again
    for kept in (out / KEPT).iterdir():
        kept.write_bytes(kept.read_bytes()[:100])
    (out / RECORD).write_text("[]")
    write_event(folder, out, TABLES, workers=1)
    assert len(opened) == 2
    assert tables(out) == tables(written)


def test_a_worker_that_is_stopped_is_told_and_leaves_the_old_results(again, monkeypatch):
    folder, out = again
    monkeypatch.setattr("lapkit.inputs.program_hash", lambda: "newer")
    before = tables(out)

    class Dying(ThreadPoolExecutor):
        def submit(self, *args, **more):
            from concurrent.futures.process import BrokenProcessPool

            future = super().submit(int)
            future.result()
            future._result, future._exception = None, BrokenProcessPool("gone")
            return future

    with Dying(1) as pool, pytest.raises(EventError, match="fewer --workers"):
        write_event(folder, out, TABLES, executor=pool)
    assert tables(out) == before


def test_pages_come_out_of_what_is_kept(made, tmp_path):
    done = write_event(made, tmp_path / "out", Wanted(), workers=1)
    page = next((tmp_path / "out").glob("rider-*.html"))
    assert "<svg" in page.read_text(encoding="utf-8")
    assert "Open" in done.text
    assert rerun.write_event(made, tmp_path / "out", Wanted()).unchanged


def test_what_a_coach_at_the_terminal_must_know_is_said_there(again):
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
    text = write_event(event, out, TABLES, workers=1).text
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
