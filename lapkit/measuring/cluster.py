"""The same work in one process, in many, or on a Dask cluster, through the ``concurrent.futures`` interface."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import BrokenExecutor, CancelledError, Executor
from contextlib import contextmanager
from itertools import islice
from typing import TypeVar

from lapkit.errors import OptionError
from lapkit.measuring.workers import cores, load, own_processes, stopped_early

Job = TypeVar("Job")
Result = TypeVar("Result")

_MEASURES = "lapkit.measuring.jobs"  # what workers load; by name, since it imports this module
_AHEAD = 256  # jobs handed out at once: each carries the course, and each result waits for its turn


def executor_of(address: str | None) -> Executor | None:
    """An executor on the cluster whose scheduler has that address; None without an address.

    Raises:
        OptionError: the ``cluster`` extra is not installed, or no scheduler answers there.
    """
    if not address:
        return None
    try:
        from distributed import Client
    except ImportError:
        raise OptionError(
            "--scheduler needs the cluster extra",
            remedy="Install it: pip install 'lapkit[cluster]'.",
        ) from None
    try:
        client = Client(address, timeout="10s")
    except (OSError, ValueError) as error:
        raise OptionError(
            f"no scheduler at {address} ({error})", remedy="Check the address and that it runs."
        ) from None
    # Declared pure, a job on a file's path would get the old answer after the file has changed.
    return client.get_executor(pure=False)


@contextmanager
def workers_of(given: Executor | None, workers: int | None, jobs: int) -> Iterator[Executor | None]:
    """The executor to use: the one given, else own processes, or None to work in this process.

    Own processes start to load the measuring modules at once, while this one prepares jobs for them.
    """
    count = min(workers or cores(), jobs)
    if given is not None:
        yield given
    elif count <= 1:
        yield None
    else:
        with own_processes(count, load, (_MEASURES,)) as pool:
            yield pool


def in_order(
    pool: Executor | None, work: Callable[[Job], Result], jobs: Iterable[Job]
) -> Iterator[Result]:
    """Results in the order of the jobs, whichever is done first; a result is let go once it is yielded.

    Raises:
        EventError: a worker was ended from outside.
    """
    if pool is None:
        yield from map(work, jobs)
        return
    coming = iter(jobs)
    waiting = deque(pool.submit(work, job) for job in islice(coming, _AHEAD))
    try:
        while waiting:
            done = waiting.popleft().result()
            waiting += (pool.submit(work, job) for job in islice(coming, 1))
            yield done
    except (BrokenExecutor, CancelledError) as error:
        raise stopped_early(error) from None
    finally:
        for future in waiting:
            future.cancel()
