"""An output folder that is written whole or not at all.

Results are made in a hidden folder beside the final one and put in place by renaming. Whatever stops the
run, the earlier results stay; what a killed run left behind is cleared by the next one. A folder that
lapkit did not write is never replaced.
"""

from __future__ import annotations

import errno
import fcntl
import shutil
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path

from lapkit.errors import OutputError

SEAL = "results.json"
"""A folder with this file in it was written by lapkit and may be replaced by it."""


@contextmanager
def whole_folder(out: Path, inputs: Iterable[Path] = (), seal: str = SEAL) -> Iterator[Path]:
    """A folder to write into, which becomes ``out`` when the block ends without an error.

    Args:
        out: where the results shall be.
        inputs: files and folders that were read; ``out`` may not be or hold one of them.
        seal: name of a file that shows a folder to be lapkit's own.

    Raises:
        OutputError: ``out`` cannot be written, is not lapkit's to replace, or another run is writing it.
    """
    out = Path.cwd() / out
    _refuse(out, inputs, seal)
    try:
        out.parent.mkdir(parents=True, exist_ok=True)
        with _alone(out):
            old, new = out.parent / f".{out.name}.old", out.parent / f".{out.name}.new"
            _recover(out, old, new)
            new.mkdir()
            try:
                yield new
            except BaseException:
                shutil.rmtree(new, ignore_errors=True)
                raise
            _put_in_place(out, old, new)
    except OSError as error:
        raise OutputError(
            _words(error), where=str(out), remedy="Choose another --out folder, or make room there."
        ) from error


def _refuse(out: Path, inputs: Iterable[Path], seal: str) -> None:
    for given in inputs:
        source = Path(given).resolve()
        target = out.resolve()
        if source == target or source.is_relative_to(target):
            raise OutputError(
                "the output folder would replace the input",
                where=str(out),
                remedy="Choose another --out folder.",
            )
        if source.is_dir() and target.is_relative_to(source):
            raise OutputError(
                "the output folder lies inside the input folder",
                where=str(out),
                remedy="Choose an --out folder outside it.",
            )
    if out.is_symlink() or (out.exists() and not out.is_dir()):
        raise OutputError(
            "the output is not a folder", where=str(out), remedy="Choose another --out folder."
        )
    if out.is_dir() and any(out.iterdir()) and not (out / seal).is_file():
        raise OutputError(
            "the folder holds files that lapkit did not write",
            where=str(out),
            remedy="Choose a new or empty --out folder.",
        )


@contextmanager
def _alone(out: Path) -> Iterator[None]:
    """Hold a lock beside the folder, so that two runs do not write it at once."""
    lock = out.parent / f".{out.name}.lock"
    with lock.open("w") as file:
        try:
            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError:
            raise OutputError(
                "another run is writing this folder",
                where=str(out),
                remedy="Wait for it to end, or choose another --out folder.",
            ) from None
        try:
            yield
        finally:
            lock.unlink(missing_ok=True)


def _recover(out: Path, old: Path, new: Path) -> None:
    """Bring back what a killed run moved aside, and clear what it left half-made."""
    if old.exists() and not out.exists():
        old.rename(out)
    shutil.rmtree(old, ignore_errors=True)
    shutil.rmtree(new, ignore_errors=True)


def _put_in_place(out: Path, old: Path, new: Path) -> None:
    if not out.exists():
        new.rename(out)
        return
    out.rename(old)
    try:
        new.rename(out)
    except OSError:
        old.rename(out)
        raise
    shutil.rmtree(old, ignore_errors=True)


def _words(error: OSError) -> str:
    known = {
        errno.ENOSPC: "the disk is full",
        errno.EACCES: "no permission to write there",
        errno.EPERM: "no permission to write there",
        errno.EROFS: "the disk is read-only",
        errno.ENAMETOOLONG: "the name is too long",
    }
    return known.get(error.errno or 0, f"cannot write there ({error.strerror or error})")
