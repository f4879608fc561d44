"""Files read whole, after a check that they are small and regular; and files written whole or not at all."""

from __future__ import annotations

import os
import secrets
import stat
from contextlib import suppress
from pathlib import Path

from lapkit.errors import LapkitError, OutputError, TrackError

GZIP = b"\x1f\x8b"
"""What a gzipped file begins with (RFC 1952)."""


_WRITABLE = stat.S_IWUSR | stat.S_IWGRP | stat.S_IWOTH


def read_whole(
    path: str | Path,
    kind: str,
    most_bytes: int,
    family: type[LapkitError] = TrackError,
    *,
    if_missing: str = "",
) -> bytes:
    """The bytes of a track file, a walk or a list of riders.

    Args:
        path: the file.
        kind: what it should be, for messages.
        most_bytes: a larger file is refused.
        family: the kind of error to raise.
        if_missing: the remedy where there is no such file; to check its name when empty.

    Raises:
        LapkitError: of the kind ``family``; it is a folder, a pipe or a device, not there, too large, or cannot
            be read.
    """
    file, where = Path(path), str(path)
    try:
        if file.is_dir():
            raise family("this is a folder", where=where, remedy=f"Name the {kind} in it.")
        found = file.stat()
        if not stat.S_ISREG(found.st_mode):
            # This comes before opening: a pipe would be waited for, and a device may never end.
            raise family(
                "it is not a regular file",
                where=where,
                remedy=f"Give a {kind}, not a pipe or a device.",
            )
        size = found.st_size
        if size > most_bytes:
            raise family(
                f"the file has {size / 1e6:.0f} MB",
                where=where,
                remedy=f"A {kind} has less than {most_bytes / 1e6:.0f} MB.",
            )
        if size == 0:
            raise family(
                "the file is empty", where=where, remedy=f"Copy or export the {kind} again."
            )
        return file.read_bytes()
    except FileNotFoundError:
        raise family(
            "there is no such file",
            where=where,
            remedy=if_missing or f"Check the name of the {kind}.",
        ) from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or error
        raise family(
            f"the file cannot be read ({reason})", where=where, remedy="Check its permissions."
        ) from error


def write_whole(path: Path, data: bytes, kind: str) -> None:
    """Write a file, whole or not at all: an old file of that name stays until the new one is complete.

    Args:
        path: the file; its folder is made where there is none. Where it is a link, what it leads to is written.
        data: all of it.
        kind: what it is, for messages.

    Raises:
        OutputError: it cannot be written there, or is write-protected.
    """
    target = Path(os.path.realpath(path))
    # Two runs at once have a name each, so that neither puts in place what the other is still writing.
    unfinished = target.parent / f".{target.name}.{secrets.token_hex(4)}.part"
    try:
        if target.exists() and not target.stat().st_mode & _WRITABLE:
            raise OutputError(
                f"the {kind} there is write-protected",
                where=str(path),
                remedy="Take the protection away, or choose another name.",
            )
        target.parent.mkdir(parents=True, exist_ok=True)
        unfinished.write_bytes(data)
        unfinished.replace(target)
    except OSError as error:
        raise OutputError(
            f"the {kind} cannot be written ({error.strerror or error})",
            where=str(path),
            remedy="Choose a folder that has room and that you may write to.",
        ) from error
    finally:
        # Where nothing can be written, often nothing can be removed either.
        with suppress(OSError):
            unfinished.unlink()
