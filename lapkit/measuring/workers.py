"""Worker processes that live as long as the process that started them, and no longer."""

from __future__ import annotations

import gc
import os
import signal
import threading
from collections.abc import Callable, Iterator
from concurrent.futures import BrokenExecutor, Executor, Future, ProcessPoolExecutor
from contextlib import contextmanager
from importlib import import_module
from multiprocessing import parent_process
from multiprocessing.context import SpawnContext, SpawnProcess
from typing import Any

from lapkit.errors import EventError


def cores() -> int:
    """How many cores this process may use; where the system does not say, how many the machine has."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def load(*modules: str) -> None:
    """Load modules that stay in this process, and keep the garbage collector from looking at them.

    To look at them took a tenth of the time of loading, and later a thirtieth of the time in which logs are measured.
    """
    gc.disable()
    try:
        for module in modules:
            import_module(module)
    finally:
        gc.freeze()
        gc.enable()


@contextmanager
def own_processes(
    count: int, prepare: Callable[..., None] | None = None, given: tuple[object, ...] = ()
) -> Iterator[Executor]:
    """A pool of worker processes, until the block ends; all of them start at once, to get ready meanwhile.

    The key that stops the program reaches only the parent, which then stops the workers; when the parent is
    killed, they end by themselves. A block that ends without an error waits for what was submitted.

    Args:
        count: how many workers.
        prepare: called in each worker before its first job.
        given: the arguments of ``prepare``, less than the 64 kB that a pipe holds: with more, this process would wait
            for ever for a worker that was stopped as it started.

    Raises:
        EventError: a worker was ended from outside, or cannot be started.
    """
    spawned = _Spawned()
    with _Pool(count, spawned, initializer=_begin, initargs=(prepare, given)) as pool:
        try:
            _start(pool, count)
            yield pool
        except BaseException as error:
            pool.shutdown(wait=False, cancel_futures=True)
            # Only these workers: the caller may have started other processes meanwhile.
            started = [worker for worker in spawned.workers if worker.pid is not None]
            for worker in started:
                worker.terminate()
            for worker in started:
                worker.join()
            if isinstance(error, BrokenExecutor):
                raise stopped_early(error) from None
            raise


def _start(pool: Executor, count: int) -> None:
    """Start all workers of a pool.

    Raises:
        EventError: the system starts no more, or a worker has ended already, which closes the pipe for the next one.
    """
    try:
        for _ in range(count):
            pool.submit(_nothing)  # starts one more worker, as long as none is idle
    except OSError as error:
        raise EventError(
            f"a worker could not be started ({error.strerror or error})",
            remedy="Where memory is short, use fewer --workers.",
        ) from None


def stopped_early(error: Exception) -> EventError:
    """The error where a worker was ended from outside."""
    return EventError(
        f"a worker was stopped before it was done ({type(error).__name__})",
        remedy="Where memory is short, use fewer --workers.",
    )


class _Pool(ProcessPoolExecutor):
    """A pool that the key which stops the program does not interrupt while it takes a job.

    Interrupted there, a queue could stay locked, and the program would wait for the pool for ever. Workers start there
    too and inherit that the key is blocked, so that it never reaches them.
    """

    def submit(self, *args: Any, **kwargs: Any) -> Future[Any]:
        with _interrupts_put_off(), _interrupts_blocked():
            return super().submit(*args, **kwargs)


class _Spawned(SpawnContext):
    """Makes the workers of one pool and keeps a list of them; the pool starts one when a job finds none idle."""

    def __init__(self) -> None:
        super().__init__()
        self.workers: list[SpawnProcess] = []

    def Process(self, *args: Any, **kwargs: Any) -> SpawnProcess:  # type: ignore[override]  # noqa: N802
        worker = SpawnProcess(*args, **kwargs)
        self.workers.append(worker)
        return worker


@contextmanager
def _interrupts_put_off() -> Iterator[None]:
    """Let SIGINT, whichever thread it was sent to, take effect only at the end."""
    in_main = threading.current_thread() is threading.main_thread()
    if not in_main or signal.getsignal(signal.SIGINT) is None:
        yield  # Python handles signals in the main thread alone, and none where another program took them over
        return
    pressed = []
    before = signal.signal(signal.SIGINT, lambda *_: pressed.append(True))
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)
        if pressed:
            signal.raise_signal(signal.SIGINT)


@contextmanager
def _interrupts_blocked() -> Iterator[None]:
    """Keep SIGINT from this thread for a while, and for good from processes started meanwhile, where the system can."""
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


def _nothing() -> None:
    pass


def _begin(prepare: Callable[..., None] | None, given: tuple[object, ...]) -> None:
    threading.Thread(target=_end_with_parent, daemon=True).start()
    if prepare is not None:
        prepare(*given)


def _end_with_parent() -> None:
    """Wait until the parent is gone, then end this process, whatever it does."""
    parent = parent_process()
    if parent is not None:
        parent.join()
        os._exit(1)
