"""A lock that ends with the process that holds it, however that ends."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO

if sys.platform == "win32":
    import msvcrt
else:
    import fcntl


@contextmanager
def held(path: Path) -> Iterator[bool]:
    """Hold the lock file at a path, which is made when missing and removed at the end.

    Yields:
        Whether it is held; not where another process or block holds it.

    Raises:
        OSError: the file cannot be made.
    """
    file = _open_own(path)
    if file is None:
        yield False
        return
    with file:
        try:
            yield True
        finally:
            path.unlink(missing_ok=True)


def _open_own(path: Path) -> IO[str] | None:
    """The locked file; None when another holds it."""
    while True:
        file = path.open("w")
        if not _take(file):
            file.close()
            return None
        # The process that held it before may have removed the file after we opened it and before we locked it.
        if _is_at(file, path):
            return file
        file.close()


def _is_at(file: IO[str], path: Path) -> bool:
    try:
        return os.path.samestat(os.fstat(file.fileno()), path.stat())
    except FileNotFoundError:
        return False


def _take(file: IO[str]) -> bool:
    try:
        if sys.platform == "win32":
            msvcrt.locking(file.fileno(), msvcrt.LK_NBLCK, 1)
        else:
            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        return False
    return True
