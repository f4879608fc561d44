"""Opening a log safely: regular files only, unpacked when gzipped, never more than a limit."""

from __future__ import annotations

import codecs
import gzip
import hashlib
import io
import os
import stat
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from lapkit.errors import LogError, printable
from lapkit.whole_file import GZIP

MAX_BYTES = 2 * 1024**3
"""Default limit on the size of a log after unpacking: about 15 million GPX points."""

HEAD_BYTES = 256 * 1024
"""How much of the beginning is read to recognise the format."""

# A log of a receiver standing still packs about 40 to 1; a bomb packs 200 to 1000 to 1.
_BOMB_RATIO = 150
_BOMB_BYTES = 64 * 1024**2  # less does no harm, however tightly it is packed

_Packed = io.BufferedReader | gzip.GzipFile


@dataclass(frozen=True, eq=False)
class Source:
    """A log that is open for reading.

    Attributes:
        name: the path as the user gave it, made safe for messages.
        sha256: hash of the file's bytes as they are on the disk.
        head: the first bytes, unpacked, at most :data:`HEAD_BYTES`.
        stream: all bytes, unpacked, from the beginning.
    """

    name: str
    sha256: str
    head: bytes
    stream: LimitedStream

    @property
    def head_is_utf8(self) -> bool:
        """Whether the first bytes are UTF-8, apart from a character that is cut off at their end."""
        try:
            codecs.getincrementaldecoder("utf-8")().decode(self.head)
        except UnicodeDecodeError:
            return False
        return True

    @property
    def breaks_off(self) -> bool:
        """Whether the packed data broke off; known once the stream has been read to its end."""
        return bool(self.stream.fault)

    def notes(self) -> tuple[str, ...]:
        """What has to be said about the packing; known once the stream has been read to its end."""
        return (used_up_to(self.stream.fault),) if self.breaks_off else ()


class LimitedStream(io.RawIOBase):
    """Bytes of a file, unpacked on the way and refused beyond a limit.

    Packed data that break off end the stream early; :attr:`fault` then says so, and is empty otherwise.
    """

    def __init__(self, raw: _Packed, name: str, max_bytes: int, packed_bytes: int) -> None:
        super().__init__()
        self.fault = ""
        self._raw = raw
        self._name = name
        self._max_bytes = max_bytes
        self._packed_bytes = packed_bytes
        self._count = 0
        self._pushed_back = b""

    def readable(self) -> bool:
        """Always true."""
        return True

    def rewind(self) -> None:
        """Go back to the first byte of the file."""
        self._raw.seek(0)
        self._count, self._pushed_back, self.fault = 0, b"", ""

    def push_back(self, data: bytes) -> None:
        """Give back bytes that were read to look at the beginning; they are read again first."""
        self._pushed_back = data

    def readinto(self, buffer: memoryview) -> int:  # type: ignore[override]
        """Fill ``buffer``; returns the number of bytes, 0 at the end.

        Raises:
            LogError: the file is larger than allowed once unpacked, or cannot be read.
        """
        if self._pushed_back:
            data = self._pushed_back[: len(buffer)]
            self._pushed_back = self._pushed_back[len(data) :]
        else:
            data = self._more(len(buffer))
        buffer[: len(data)] = data
        return len(data)

    def _more(self, size: int) -> bytes:
        if self.fault:
            return b""
        try:
            with _readable(self._name):
                # Not read(): when packed data break off, it would lose what came before the break.
                data = self._raw.read1(size)
        except (EOFError, gzip.BadGzipFile, zlib.error):
            self.fault = "the packed data break off or are damaged"
            return b""
        self._count += len(data)
        bomb = self._count > _BOMB_BYTES and self._count > _BOMB_RATIO * self._packed_bytes
        if self._count > self._max_bytes or bomb:
            raise too_large(self._name, self._max_bytes, bomb=bomb)
        return data


@contextmanager
def _readable(name: str) -> Iterator[None]:
    """Turn what a damaged card or a drive that went away answers into an error of the family.

    Raises:
        LogError: the bytes cannot be read.
    """
    try:
        yield
    except gzip.BadGzipFile:
        raise
    except OSError as error:
        raise LogError(
            f"the file cannot be read to its end ({error.strerror})",
            where=name,
            remedy="Copy it from the logger again",
        ) from error


def used_up_to(fault: str) -> str:
    """The note on a log that breaks off at a fault."""
    return f"{fault}; what came before was used"


def too_large(name: str, max_bytes: int, *, bomb: bool = False) -> LogError:
    """The error for a log beyond the limit, or packed far more tightly than any log packs."""
    if bomb:
        return LogError(
            f"it unpacks to more than {_BOMB_RATIO} times its size, as no log does",
            where=name,
            remedy="Unpack it yourself if you trust it",
        )
    return LogError(
        f"it is larger than {max_bytes / 1024**2:.0f} MB after unpacking",
        where=name,
        remedy="Raise the limit with --max-size if the file is meant to be that large",
    )


def safe_name(text: object) -> str:
    """``text`` fit for a message: one line, nothing that steers a terminal, limited in length."""
    shown = printable(text)
    return shown if len(shown) <= 200 else f"{shown[:99]}…{shown[-99:]}"


@contextmanager
def open_source(
    path: str | os.PathLike[str], max_bytes: int = MAX_BYTES, sha256: str = ""
) -> Iterator[Source]:
    """Open a log for reading.

    Args:
        path: a regular file, or a symbolic link to one; plain or gzipped, whatever its name.
        max_bytes: most bytes allowed after unpacking.
        sha256: the file's hash where it is known; worked out when empty.

    Raises:
        LogError: not a regular file, no permission, not there, or too large.
    """
    name = safe_name(path)
    with _open_regular(path, name) as raw:
        size = os.fstat(raw.fileno()).st_size
        if size > max_bytes:
            raise too_large(name, max_bytes)
        with _readable(name):
            digest = sha256 or hashlib.file_digest(raw, "sha256").hexdigest()
            raw.seek(0)
            packed = raw.read(len(GZIP)) == GZIP
            raw.seek(0)
        unpacked: _Packed = gzip.GzipFile(fileobj=raw) if packed else raw
        # A plain file has no ratio of packing; by its limit none is ever called a bomb.
        packed_bytes = size if packed else max_bytes
        stream = LimitedStream(unpacked, name, max_bytes, packed_bytes)
        head = b""
        while len(head) < HEAD_BYTES and (more := stream.read(HEAD_BYTES - len(head))):
            head += more
        stream.push_back(head)
        yield Source(name, digest, head, stream)


def _open_regular(path: str | os.PathLike[str], name: str) -> io.BufferedReader:
    try:
        # This comes before opening, because opening a pipe or a device can block or have effects.
        if not stat.S_ISREG(Path(path).stat().st_mode):
            raise LogError(
                "it is not a regular file",
                where=name,
                remedy="Give a log file, not a folder, a pipe or a device",
            )
        return Path(path).open("rb")
    except FileNotFoundError as error:
        raise LogError("there is no such file", where=name, remedy="Check its name") from error
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or "the name is not a valid path"
        raise LogError(
            f"it cannot be opened ({reason})",
            where=name,
            remedy="Check the name and the permissions",
        ) from error
