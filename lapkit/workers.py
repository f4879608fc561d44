"""Processes of our own that come and go with the one that started them."""

from __future__ import annotations

import gc
import os
import signal
import threading
from collections.abc import Callable, Iterator
from concurrent.futures import Executor, ProcessPoolExecutor
from contextlib import contextmanager
from importlib import import_module
from multiprocessing import parent_process
from multiprocessing.context import SpawnContext, SpawnProcess
from typing import Any


def cores() -> int:
    """The cores that this process may use; those of the machine where a system does not tell."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def load(*modules: str) -> None:
    """Load modules into a process of the program's own, to stay.

    The collector of cycles is told to look over nothing of it, neither while it is loaded, which took a tenth of
    the time, nor again and again while logs are measured, which took a thirtieth of theirs.
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
    """Worker processes until the block ends; all of them are started at once, to get ready meanwhile.

    A key that stops the program is for the parent alone, which then stops them; when it is killed, they
    end by themselves. Left without an error, the block waits for what was submitted.

    Args:
        count: how many.
        prepare: called in each of them before its first job.
        given: the arguments of ``prepare``.
    """
    spawned = _Spawned()
    with ProcessPoolExecutor(count, spawned, initializer=_begin, initargs=(prepare, given)) as pool:
        try:
            for _ in range(count):
                pool.submit(_nothing)  # which starts one more, as long as none is idle
            yield pool
        except BaseException:
            pool.shutdown(wait=False, cancel_futures=True)
            # Of all children only these: a caller may have started others meanwhile.
            started = [worker for worker in spawned.workers if worker.pid is not None]
            for worker in started:
                worker.terminate()
            for worker in started:
                worker.join()
            raise


class _Worker(SpawnProcess):
    """A process that never hears the key that stops the program, not even while it is starting."""

    def start(self) -> None:
        with _interrupts_held_back():  # what is held back here stays held back in it
            super().start()


class _Spawned(SpawnContext):
    """Makes the workers of one pool, which starts them when a job finds none idle, and keeps a list of them."""

    def __init__(self) -> None:
        super().__init__()
        self.workers: list[_Worker] = []

    def Process(self, *args: Any, **kwargs: Any) -> _Worker:  # type: ignore[override]  # noqa: N802
        worker = _Worker(*args, **kwargs)
        self.workers.append(worker)
        return worker


@contextmanager
def _interrupts_held_back() -> Iterator[None]:
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
    parent = parent_process()
    if parent is not None:
        parent.join()
        os._exit(1)
