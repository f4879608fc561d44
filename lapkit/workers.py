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
from multiprocessing import active_children, parent_process
from multiprocessing.context import SpawnContext, SpawnProcess


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
    earlier = set(active_children())
    with ProcessPoolExecutor(
        count, _Spawned(), initializer=_begin, initargs=(prepare, given)
    ) as pool:
        try:
            for _ in range(count):
                pool.submit(_nothing)  # which starts one more, as long as none is idle
            yield pool
        except BaseException:
            pool.shutdown(wait=False, cancel_futures=True)
            ours = set(active_children()) - earlier
            for worker in ours:
                worker.terminate()
            for worker in ours:
                worker.join()
            raise


class _Worker(SpawnProcess):
    """A process that never hears the key that stops the program, not even while it is starting."""

    def start(self) -> None:
        with _interrupts_held_back():  # what is held back here stays held back in it
            super().start()


class _Spawned(SpawnContext):
    # The pool starts its workers itself, whenever a job finds none idle.
    Process = _Worker


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
