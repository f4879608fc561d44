"""Jobs handed to an executor: in their order, and not all at once."""

from concurrent.futures import Executor, Future

from lapkit import cluster


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
