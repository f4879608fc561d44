"""Which executor works, and jobs handed to it: in their order, and not all at once."""

from concurrent.futures import BrokenExecutor, Executor, Future

import pytest

from lapkit.errors import EventError
from lapkit.measuring import cluster


class Counting(Executor):
    """Does each job when its result is asked for, and counts how many were waiting at once."""

    def __init__(self):
        self.waiting = self.most = 0

    def submit(self, work, job):
        self.waiting += 1
        self.most = max(self.most, self.waiting)
        pool = self

        class Asked(Future):
            def result(self, timeout=None):
                pool.waiting -= 1
                return work(job)

        return Asked()


def test_jobs_are_handed_out_as_results_are_taken(monkeypatch):
    monkeypatch.setattr(cluster, "_AHEAD", 3)
    pool = Counting()
    assert list(cluster.in_order(pool, lambda n: n * n, range(20))) == [n * n for n in range(20)]
    assert pool.most == 3


def test_fewer_jobs_than_that_are_all_handed_out():
    pool = Counting()
    assert list(cluster.in_order(pool, str, range(2))) == ["0", "1"]
    assert pool.most == 2


def test_the_executor_given_is_used_whatever_else_is_asked_for():
    pool = Counting()
    with cluster.workers_of(pool, 1, 1) as used:
        assert used is pool


@pytest.mark.parametrize(("workers", "jobs"), [(1, 9), (8, 1), (8, 0), (None, 1)])
def test_a_single_job_or_worker_needs_no_other_process(workers, jobs):
    with cluster.workers_of(None, workers, jobs) as used:
        assert used is None


def test_no_address_is_no_cluster():
    assert cluster.executor_of(None) is None
    assert cluster.executor_of("") is None


def test_a_worker_that_was_ended_is_an_error_that_names_a_remedy():
    class Broken(Counting):
        def submit(self, work, job):
            future = Future()
            future.set_exception(BrokenExecutor())
            return future

    with pytest.raises(EventError, match="a worker was stopped") as refused:
        list(cluster.in_order(Broken(), str, range(3)))
    assert "--workers" in refused.value.remedy


def test_who_stops_taking_results_leaves_no_job_waiting():
    asked = []

    class Waiting(Counting):
        def submit(self, work, job):
            future = Future()
            if job == 0:
                future.set_result("first")
            asked.append(future)
            return future

    results = cluster.in_order(Waiting(), str, range(4))
    assert next(results) == "first"
    results.close()
    assert all(future.cancelled() for future in asked[1:])
