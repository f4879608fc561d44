"""How many processes a machine gets, and what they load; how they end is in test_faults_processes.py."""

import gc
import os
import subprocess
import sys

import pytest

from lapkit.measuring.workers import cores, load, own_processes


def test_cores_are_those_that_this_process_may_use(monkeypatch):
    monkeypatch.setattr(os, "sched_getaffinity", lambda _: {0, 3, 5}, raising=False)
    assert cores() == 3


def test_where_a_system_does_not_tell_they_are_the_machines(monkeypatch):
    monkeypatch.delattr(os, "sched_getaffinity", raising=False)
    monkeypatch.setattr(os, "cpu_count", lambda: 6)
    assert cores() == 6
    monkeypatch.setattr(os, "cpu_count", lambda: None)
    assert cores() == 1


def test_modules_load_while_the_collector_rests_and_it_runs_again(tmp_path, monkeypatch):
    (tmp_path / "loaded_for_a_test.py").write_text("import gc\nCOLLECTING = gc.isenabled()\n")
    monkeypatch.syspath_prepend(tmp_path)
    load("loaded_for_a_test")
    assert not sys.modules.pop("loaded_for_a_test").COLLECTING
    assert gc.isenabled()
    assert gc.get_freeze_count() > 0
    gc.unfreeze()


def test_a_worker_loads_nothing_that_only_placing_a_course_needs():
    code = "import sys, lapkit.measuring.jobs; sys.exit('scipy.interpolate' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code]).returncode == 0


def test_a_module_that_cannot_be_loaded_leaves_the_collector_on():
    with pytest.raises(ModuleNotFoundError):
        load("no_such_module")
    assert gc.isenabled()
    gc.unfreeze()


def _mark(word):
    os.environ["LAPKIT_TEST_MARK"] = word


def test_each_worker_is_prepared_before_its_first_job():
    with own_processes(2, _mark, ("ready",)) as pool:
        jobs = [pool.submit(os.getenv, "LAPKIT_TEST_MARK") for _ in range(6)]
    assert {job.result() for job in jobs} == {"ready"}
