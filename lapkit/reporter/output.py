"""An output folder that is written whole or not at all.

Results are made in a hidden folder beside the final one and put in place by renaming. Whatever stops the
run, the earlier results stay; what a killed run left behind is put right by the next one. A list in the
folder names every file that lapkit wrote there: only those are ever replaced or removed, and what somebody
else put among them is carried over.
"""

from __future__ import annotations

import errno
import secrets
import shutil
from collections.abc import Iterable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path

from lapkit.errors import OutputError
from lapkit.lock import held
from lapkit.reporter.contents import Contents, refuse_others
from lapkit.reporter.exchange import exchange

LIST = ".lapkit-files"
"""Names every file that lapkit wrote into the folder, a line each, relative to it."""

_NOT_OURS = "the folder holds files that lapkit did not write"


@contextmanager
def whole_folder(out: Path, inputs: Iterable[Path], contents: Contents) -> Iterator[Path]:
    """A folder to write into, which becomes ``out`` when the block ends without an error.

    Args:
        out: where the results shall be.
        inputs: files and folders that were read; ``out`` may not be, hold or lie in one of them.
        contents: what it will hold; ``out`` may hold nothing else.

    Raises:
        OutputError: ``out`` cannot be written, is not lapkit's to replace, holds something else, or another run is
            writing it.
    """
    out = out.absolute()
    _refuse_inputs(out, inputs)
    try:
        out.parent.mkdir(parents=True, exist_ok=True)
        with held(_lock(out)) as alone:
            if not alone:
                raise OutputError(
                    "another run is writing this folder",
                    where=str(out),
                    remedy="Wait for it to end, or choose another --out folder.",
                )
            yield from _written(_Places.beside(out), contents)
    except OSError as error:
        raise OutputError(
            _words(error), where=str(out), remedy="Choose another --out folder, or make room there."
        ) from error


def refuse_early(out: Path, inputs: Iterable[Path] = ()) -> None:
    """Say before the work what :func:`whole_folder` would say after it of any contents.

    Raises:
        OutputError: ``out`` holds or lies in an input, or is not lapkit's to replace.
    """
    out = out.absolute()
    _refuse_inputs(out, inputs)
    _refuse_foreign(out)


def clear_up(out: Path) -> None:
    """Clear away what a killed run left beside results that are to stay as they are, where that can be done.

    Raises:
        OutputError: a file that lapkit did not write is in the way.
    """
    out = out.absolute()
    with suppress(OSError):
        if not any(p.name.startswith(f".{out.name}.lapkit-") for p in out.parent.iterdir()):
            return
        with held(_lock(out)) as alone:
            if alone:
                _recover(_Places.beside(out))


@dataclass(frozen=True)
class _Places:
    """The folder, and beside it where new results are made and where earlier ones wait to be cleared away."""

    out: Path
    new: Path
    old: Path

    @classmethod
    def beside(cls, out: Path) -> _Places:
        # Every run has a name of its own, so that a worker that outlives a killed run has nowhere to write.
        new = f"{_new_name(out)}{secrets.token_hex(4)}"
        return cls(out, out.parent / new, out.parent / f".{out.name}.lapkit-old")


def _lock(out: Path) -> Path:
    return out.parent / f".{out.name}.lapkit-lock"


def _new_name(out: Path) -> str:
    return f".{out.name}.lapkit-new-"


def _written(places: _Places, contents: Contents) -> Iterator[Path]:
    _recover(places)
    _refuse_foreign(places.out)
    refuse_others(places.out, contents)
    places.new.mkdir()
    try:
        yield places.new
        contents.write(places.new)
        names = sorted(_files(places.new))
        (places.new / LIST).write_text("".join(f"{n}\n" for n in [LIST, *names]), encoding="utf-8")
        _refuse_clash(places.out, set(names))
    except BaseException:
        shutil.rmtree(places.new, ignore_errors=True)
        raise
    _put_in_place(places)


def _refuse_inputs(out: Path, inputs: Iterable[Path]) -> None:
    target = out.resolve()
    for given in inputs:
        source = Path(given).resolve()
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


def _refuse_foreign(out: Path) -> None:
    """Refuse a folder that is neither empty nor written by lapkit."""
    if out.is_symlink() or (out.exists() and not out.is_dir()):
        raise OutputError(
            "the output is not a folder", where=str(out), remedy="Choose another --out folder."
        )
    if out.is_dir() and any(out.iterdir()) and not (out / LIST).is_file():
        raise OutputError(_NOT_OURS, where=str(out), remedy="Choose a new or empty --out folder.")


def _refuse_clash(out: Path, names: set[str]) -> None:
    """Refuse to write over a file that somebody put among the results."""
    foreign = _foreign(out)
    # Somebody may have put a folder where a file of that name is to be, or a link where a folder is.
    clash = sorted((names & (foreign | _folders(foreign))) | (_folders(names) & foreign))
    if clash:
        raise OutputError(
            f"{clash[0]} there was not written by lapkit and would be replaced",
            where=str(out),
            remedy="Move it away or choose another --out folder.",
        )


def _folders(names: Iterable[str]) -> set[str]:
    """The folders that files of these names are in."""
    return {folder.as_posix() for name in names for folder in Path(name).parents}


def _files(folder: Path) -> set[str]:
    """Every file below a folder, relative to it."""
    if not folder.is_dir():
        return set()
    return {p.relative_to(folder).as_posix() for p in folder.rglob("*") if _is_file(p)}


def _is_file(path: Path) -> bool:
    """Whether something other than a folder is there, if only a link that leads nowhere."""
    return path.is_symlink() or (path.exists() and not path.is_dir())


def _ours(folder: Path) -> set[str]:
    """What the list names; nothing that would lie outside the folder."""
    try:
        # A list that was damaged names what is not there, so that nothing counts as lapkit's.
        names = (folder / LIST).read_text(encoding="utf-8", errors="replace").splitlines()
    except FileNotFoundError:
        return set()
    safe = (n for n in names if n and not Path(n).is_absolute() and ".." not in Path(n).parts)
    return {n for n in safe if _is_file(folder / n)}


def _foreign(folder: Path) -> set[str]:
    return _files(folder) - _ours(folder)


def _recover(places: _Places) -> None:
    """Put right what a killed run left: bring back the earlier results, or finish clearing them away."""
    for left in places.out.parent.iterdir():
        if left.name.startswith(_new_name(places.out)):
            shutil.rmtree(left, ignore_errors=True)
    if not places.old.exists():
        return
    if places.out.exists():
        _clear_old(places)
    else:
        places.old.rename(places.out)


def _put_in_place(places: _Places) -> None:
    """Let the new results take the place of the earlier ones, and clear these away."""
    if not places.out.exists():
        places.new.rename(places.out)
        return
    # Killed on the way, the next run clears away what stands under ``old``: before the exchange these are the new
    # results, after it the earlier ones.
    places.new.rename(places.old)
    if not exchange(places.old, places.out):
        places.old.rename(places.new)
        _in_two_steps(places)
    _clear_old(places)


def _in_two_steps(places: _Places) -> None:
    """The same where the system cannot exchange folders: for a moment there is only ``old``."""
    places.out.rename(places.old)
    try:
        places.new.rename(places.out)
    except OSError:
        places.old.rename(places.out)
        shutil.rmtree(places.new, ignore_errors=True)
        raise


def _clear_old(places: _Places) -> None:
    """Carry over what is not lapkit's, then remove the earlier results file by file."""
    if not places.old.exists():
        return
    for name in sorted(_foreign(places.old)):
        target = places.out / name
        if target.exists():
            raise OutputError(
                f"{name} is in the way of a file that lapkit did not write",
                where=str(places.out),
                remedy=f"Move {places.old / name} to a place of its own.",
            )
        target.parent.mkdir(parents=True, exist_ok=True)
        (places.old / name).rename(target)
    # The list goes last: as long as it is there, the next run can go on where this one was killed.
    for name in sorted(_ours(places.old) - {LIST}):
        (places.old / name).unlink(missing_ok=True)
    (places.old / LIST).unlink(missing_ok=True)
    for folder in sorted(places.old.rglob("*"), reverse=True):
        folder.rmdir()
    places.old.rmdir()


def _words(error: OSError) -> str:
    known = {
        errno.ENOSPC: "the disk is full",
        errno.EDQUOT: "the disk is full",
        errno.EACCES: "no permission to write there",
        errno.EPERM: "no permission to write there",
        errno.EROFS: "the disk is read-only",
        errno.EBUSY: "the folder is a drive of its own and cannot be replaced in one step",
        errno.ENAMETOOLONG: "the name is too long",
    }
    return known.get(error.errno or 0, f"cannot write there ({error.strerror or error})")
