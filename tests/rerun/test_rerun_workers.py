"""An event written by several workers, or by another executor: the same bytes, or the same refusal."""

import shutil
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor

import pytest

from lapkit.errors import EventError, TrackError
from lapkit.rerun import KEPT, RECORD, write_event


def test_two_workers_give_the_same_bytes(made, written, tmp_path, tables, only_tables):
    write_event(made, tmp_path / "out", only_tables, workers=2)
    assert tables(tmp_path / "out") == tables(written)
    results = "results.json"
    assert (tmp_path / "out" / results).read_bytes() == (written / results).read_bytes()


def test_any_executor_serves(made, written, tmp_path, tables, only_tables):
    with ThreadPoolExecutor(1) as pool:
        write_event(made, tmp_path / "out", only_tables, executor=pool)
    assert tables(tmp_path / "out") == tables(written)


def test_a_local_cluster_gives_the_same_bytes(made, written, tmp_path, tables, only_tables):
    distributed = pytest.importorskip("distributed", reason="the cluster extra is not installed")
    from lapkit.measuring.cluster import executor_of

    with distributed.LocalCluster(
        n_workers=2, threads_per_worker=1, dashboard_address=None, memory_limit=None
    ) as cluster:
        pool = executor_of(cluster.scheduler_address)
        write_event(made, tmp_path / "out", only_tables, executor=pool)
        pool.shutdown()
        distributed.default_client().close()
    assert tables(tmp_path / "out") == tables(written)


def test_workers_that_wait_for_a_course_end_where_it_is_refused(
    again, started, tables, only_tables
):
    folder, out = again
    (folder / "track.geojson").write_text("{}")
    (out / RECORD).unlink()
    shutil.rmtree(out / KEPT)
    before = tables(out)
    with pytest.raises(TrackError) as refused:
        write_event(folder, out, only_tables, workers=2)
    with pytest.raises(TrackError) as alone:
        write_event(folder, out, only_tables, workers=1)
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


def test_no_workers_are_started_for_one_log(again, started, opened, only_tables, logs):
    folder, out = again
    shutil.copy(folder / logs[0], folder / logs[1])
    write_event(folder, out, only_tables, workers=2)
    assert opened == [logs[1]]
    assert not started


def test_a_worker_that_is_stopped_is_told_and_leaves_the_old_results(
    again, monkeypatch, tables, only_tables
):
    folder, out = again
    monkeypatch.setattr("lapkit.measuring.inputs.program_hash", lambda: "newer")
    before = tables(out)

    class Dying(ThreadPoolExecutor):
        def submit(self, *args, **more):
            from concurrent.futures.process import BrokenProcessPool

            future = super().submit(int)
            future.result()
            future._result, future._exception = None, BrokenProcessPool("gone")
            return future

    with Dying(1) as pool, pytest.raises(EventError, match="fewer --workers"):
        write_event(folder, out, only_tables, executor=pool)
    assert tables(out) == before
