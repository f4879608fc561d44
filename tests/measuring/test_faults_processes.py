"""Worker processes end with the run that started them, and say nothing when it is stopped."""

import multiprocessing
import os
import signal
import subprocess
import sys
import threading
import time
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

import pytest

from lapkit.measuring.workers import own_processes

SLOW = """
import os, sys, time
from lapkit.measuring.workers import own_processes
if __name__ == "__main__":
    with own_processes(2) as pool:
        ids = {pool.submit(os.getpid).result() for _ in range(20)}
        print(*ids, flush=True)
        list(pool.map(time.sleep, [60] * 4))
"""


def started(tmp_path):
    script = tmp_path / "slow.py"
    script.write_text(SLOW)
    run = subprocess.Popen(
        [sys.executable, str(script)],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        start_new_session=True,
    )
    return run, [int(word) for word in run.stdout.readline().split()]


def gone(number):
    try:
        state = Path(f"/proc/{number}/stat").read_text().rpartition(")")[2].split()[0]
    except OSError:
        return True
    return state == "Z"


def all_gone(numbers, within_s=10.0):
    end = time.monotonic() + within_s
    while time.monotonic() < end:
        if all(map(gone, numbers)):
            return True
        time.sleep(0.05)
    return False


@pytest.mark.skipif(not Path("/proc/self/stat").exists(), reason="looks processes up in /proc")
def test_workers_of_a_killed_run_end_by_themselves(tmp_path):
    run, workers = started(tmp_path)
    assert workers and not any(map(gone, workers))
    run.kill()
    run.wait()
    assert all_gone(workers)


@pytest.mark.skipif(not Path("/proc/self/stat").exists(), reason="looks processes up in /proc")
def test_a_key_that_stops_the_run_stops_the_workers_without_a_word(tmp_path):
    run, workers = started(tmp_path)
    os.killpg(run.pid, signal.SIGINT)
    _, said = run.communicate(timeout=20)
    assert all_gone(workers)
    # The parent's own traceback ends at its own interrupt; a worker's would name its loop.
    assert "_process_worker" not in said
    assert "SpawnProcess" not in said


def interrupted(number):
    os.kill(os.getpid(), signal.SIGINT)
    time.sleep(0.3)
    return number


@pytest.mark.skipif(not hasattr(signal, "pthread_sigmask"), reason="signals cannot be held back")
def test_no_worker_hears_the_key_whenever_it_was_started():
    with own_processes(2) as pool:
        assert list(pool.map(interrupted, range(6))) == list(range(6))


@pytest.mark.skipif(not hasattr(signal, "pthread_sigmask"), reason="signals cannot be held back")
def test_the_key_does_not_interrupt_a_job_that_is_being_taken(monkeypatch):
    """Nor where a thread hears it that others started, as libraries do."""
    plain, taken = ProcessPoolExecutor.submit, []
    done = threading.Event()
    other = threading.Thread(target=done.wait)

    def pressed_meanwhile(pool, *job):
        os.kill(os.getpid(), signal.SIGINT)
        taken.append(plain(pool, *job))
        return taken[-1]

    other.start()
    try:
        with pytest.raises(KeyboardInterrupt), own_processes(1) as pool:
            monkeypatch.setattr(ProcessPoolExecutor, "submit", pressed_meanwhile)
            pool.submit(pow, 2, 5)
    finally:
        done.set()
        other.join()
    assert len(taken) == 1


def test_jobs_submitted_are_done_when_the_block_ends():
    with own_processes(2) as pool:
        jobs = [pool.submit(pow, 2, n) for n in range(5)]
    assert [job.result() for job in jobs] == [1, 2, 4, 8, 16]


def test_an_error_in_the_block_does_not_wait_for_the_jobs():
    begun = time.monotonic()
    with pytest.raises(RuntimeError), own_processes(1) as pool:
        pool.submit(time.sleep, 60)
        raise RuntimeError
    assert time.monotonic() - begun < 20


@pytest.mark.skipif(not Path("/proc/self/stat").exists(), reason="looks processes up in /proc")
def test_an_error_in_the_block_leaves_a_child_that_its_caller_started_meanwhile():
    with pytest.raises(RuntimeError), own_processes(1) as pool:
        worker = pool.submit(os.getpid).result()
        another = multiprocessing.get_context("spawn").Process(target=time.sleep, args=(60,))
        another.start()
        raise RuntimeError
    try:
        assert gone(worker)
        assert another.is_alive()
    finally:
        another.kill()
        another.join()


@pytest.mark.skipif(sys.platform == "win32", reason="starts processes in another way")
def test_workers_that_end_as_they_start_are_not_waited_for(tmp_path):
    """A page's worker was, without end: what it was given is more than a pipe holds."""
    python = tmp_path / "python"
    python.write_text(
        f'#!/bin/sh\ncase "$*" in *spawn_main*) exit 1;; esac\nexec {sys.executable} "$@"\n'
    )
    python.chmod(0o755)
    script = tmp_path / "ends.py"
    script.write_text(
        "import sys\nfrom multiprocessing import spawn\nfrom pathlib import Path\n"
        "from lapkit.errors import EventError\nfrom lapkit.reporter import pages\n"
        "if __name__ == '__main__':\n"
        "    spawn.set_executable(sys.argv[1])\n"
        "    jobs, handed_over = [(None, 'a'), (None, 'b')], Path(sys.argv[2])\n"
        "    try:\n        pages._write_all(print, jobs, bytes(2**20), 2, handed_over)\n"
        "    except EventError as error:\n        print(error, handed_over.exists())\n"
    )
    done = subprocess.run(
        [sys.executable, str(script), str(python), str(tmp_path / "frame")],
        capture_output=True,
        text=True,
        timeout=100,
    )
    assert done.stdout.startswith("a worker "), done.stderr
    assert done.stdout.endswith("use fewer --workers. False\n")
