"""One log's results as bytes: sent back by a worker, kept on disk, and found there by a second run.

The bytes are plain numbers and JSON, never code, so a file that somebody else wrote can at worst fail to be
read. A run's tables are small and are read at once; its traces, the bulk of it, only when a page draws them.
"""

from __future__ import annotations

import json
import struct
import zlib
from collections.abc import Callable, Iterator, Sequence
from dataclasses import asdict, dataclass, fields
from pathlib import Path
from typing import Any, overload

import numpy as np
import pandas as pd

from lapkit.compare.results import CornerTrace, LogResults, RunResult, Unusable

Read = Callable[[int, int], bytes]
"""Called with a place and a size: returns that many bytes from that place on."""

_MAGIC = b"lapkit-run-2\n"
_SIZES = struct.Struct("<QI")  # of the JSON, bytes, and the checksum of all that follows
_NAMES = {"rider", "session", "lap", "corner"}
_ARRAYS = tuple(f.name for f in fields(CornerTrace) if f.name not in _NAMES)
_NUMBERS = {"float64": np.float64, "int64": np.int64}


class _Blob:
    """Arrays of 8-byte numbers one after the other; :meth:`add` returns where an array starts."""

    def __init__(self) -> None:
        self.parts: list[bytes] = []
        self.size = 0

    def add(self, values: np.ndarray) -> int:
        at = self.size
        self.parts.append(np.ascontiguousarray(values).tobytes())
        self.size += len(self.parts[-1])
        return at


def pack(results: LogResults) -> bytes:
    """Results of one log as bytes; the same bytes for the same results."""
    runs, unusable = results
    blob = _Blob()
    packed = [_packed_run(run, blob) for run in runs]
    head = {"runs": packed, "unusable": [asdict(one) for one in unusable]}
    text = json.dumps(head, separators=(",", ":")).encode()
    content = b"".join([text, *blob.parts])
    return b"".join([_MAGIC, _SIZES.pack(len(text), zlib.crc32(content)), content])


def unpack(data: bytes, lasting: Read | None = None) -> LogResults:
    """Results from packed bytes.

    Args:
        data: the bytes; tables are read from them at once.
        lasting: where the same bytes can be read later, for traces; None keeps ``data`` in memory for them.

    Raises:
        ValueError: they are no packed results, or they are damaged.
    """
    start = len(_MAGIC) + _SIZES.size
    if len(data) < start or not data.startswith(_MAGIC):
        raise ValueError("no results of a log")
    size, checksum = _SIZES.unpack(data[len(_MAGIC) : start])
    if zlib.crc32(memoryview(data)[start:]) != checksum:
        raise ValueError("the results of a log are damaged")
    start += size
    try:
        head = json.loads(data[start - size : start])
        now = InMemory(data)
        runs = [
            _run(one, _Numbers(now, start), _Numbers(lasting or now, start)) for one in head["runs"]
        ]
        return LogResults(runs, [Unusable(**one) for one in head["unusable"]])
    except (KeyError, TypeError, AttributeError, IndexError) as error:
        raise ValueError(f"not the results of a log ({error})") from None


@dataclass(frozen=True)
class InFile:
    """Reads from a file, which is opened anew each time: thousands of results may be waiting."""

    path: Path

    def __call__(self, at: int, size: int) -> bytes:
        """``size`` bytes from the place ``at`` on."""
        with self.path.open("rb") as file:
            file.seek(at)
            return file.read(size)


@dataclass(frozen=True)
class InMemory:
    """Reads from bytes in memory."""

    data: bytes

    def __call__(self, at: int, size: int) -> bytes:
        """``size`` bytes from the place ``at`` on."""
        return self.data[at : at + size]


@dataclass(frozen=True)
class _Numbers:
    read: Read
    start: int

    def array(self, kind: str, at: int, count: int) -> np.ndarray:
        data = self.read(self.start + at, 8 * count)
        return np.frombuffer(data, _NUMBERS[kind], count)


@dataclass(frozen=True)
class KeptTraces(Sequence[CornerTrace]):
    """A run's traces, read from where they lie each time they are asked for.

    ``laps`` holds (lap, corner, samples) of each trace, in order.
    """

    rider: str
    session: str
    laps: tuple[tuple[int, str, int], ...]
    numbers: _Numbers
    at: int

    def __len__(self) -> int:
        return len(self.laps)

    @overload
    def __getitem__(self, index: int) -> CornerTrace: ...
    @overload
    def __getitem__(self, index: slice) -> tuple[CornerTrace, ...]: ...
    def __getitem__(self, index: int | slice) -> CornerTrace | tuple[CornerTrace, ...]:
        return tuple(self)[index]

    def __iter__(self) -> Iterator[CornerTrace]:
        total = sum(count for *_, count in self.laps)
        whole = self.numbers.array("float64", self.at, len(_ARRAYS) * total)
        rows = whole.reshape(len(_ARRAYS), total)
        start = 0
        for lap, corner, count in self.laps:
            part = dict(zip(_ARRAYS, rows[:, start : start + count], strict=True))
            yield CornerTrace(self.rider, self.session, lap, corner, **part)
            start += count


def _packed_run(run: RunResult, blob: _Blob) -> dict[str, Any]:
    tables = {
        name: {"rows": len(table), "columns": [_packed_column(c, table[c], blob) for c in table]}
        for name, table in run.tables.items()
    }
    laps = [(int(t.lap), t.corner, len(t.station_m)) for t in run.traces]
    rows = []
    if laps:
        rows = [np.concatenate([getattr(t, name) for t in run.traces]) for name in _ARRAYS]
    at = blob.add(np.array(rows, dtype=np.float64))
    return {"rider": run.rider, "session": run.session, "tables": tables, "laps": laps, "at": at}


def _packed_column(name: str, column: pd.Series, blob: _Blob) -> list[Any]:
    kind = str(column.dtype)
    if kind in _NUMBERS:
        return [name, kind, blob.add(column.to_numpy())]
    return [name, kind, column.to_numpy(dtype=object, na_value=None).tolist()]


def _run(one: dict[str, Any], now: _Numbers, later: _Numbers) -> RunResult:
    laps = tuple((lap, corner, count) for lap, corner, count in one["laps"])
    who = one["rider"], one["session"]
    tables = {name: _table(table, now) for name, table in one["tables"].items()}
    return RunResult(*who, tables, KeptTraces(*who, laps, later, one["at"]))


def _table(table: dict[str, Any], numbers: _Numbers) -> pd.DataFrame:
    columns = {}
    for name, kind, cells in table["columns"]:
        known = kind in _NUMBERS
        # The array is a read-only view; the frame copies it when it joins its columns.
        columns[name] = (
            numbers.array(kind, cells, table["rows"]) if known else pd.array(cells, dtype=kind)
        )
    return pd.DataFrame(columns, index=range(table["rows"]))


@dataclass(frozen=True)
class Keep:
    """Where results are kept on disk during a run, and where an earlier run left its own.

    Attributes:
        folder: of this run's results, one file a log, named by its key.
        earlier: of an earlier run's; it need not exist.
    """

    folder: Path
    earlier: Path

    def take_over(self, key: str) -> LogResults | None:
        """An earlier run's results under that key, copied into this run's folder; None unless there, whole and final."""
        try:
            data = (self.earlier / key).read_bytes()
            found = unpack(data, InFile(self.folder / key))
        except (OSError, ValueError):
            return None
        if any(one.for_now for one in found.unusable):
            return None
        self._write(key, data)
        return found

    def put(self, key: str, data: bytes) -> LogResults:
        """Put packed results on disk; their traces are read from there from now on."""
        self._write(key, data)
        return unpack(data, InFile(self.folder / key))

    def _write(self, key: str, data: bytes) -> None:
        self.folder.mkdir(parents=True, exist_ok=True)
        (self.folder / key).write_bytes(data)
