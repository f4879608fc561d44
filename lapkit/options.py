"""What was asked for beyond the logs: light, so that what is unchanged is known before anything heavy is loaded."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from lapkit.importer.source import MAX_BYTES


@dataclass(frozen=True)
class Options:
    """How logs are read and whether a row for each fix is wanted; all of it is kept in ``results.json``."""

    columns: tuple[tuple[str, str], ...] = ()
    max_bytes: int = MAX_BYTES
    trace: bool = False

    @classmethod
    def reading(cls, columns: Mapping[str, str] | None, *, trace: bool = False) -> Options:
        """Options by what :func:`lapkit.read_log` is told of a CSV's columns; None for nothing."""
        return cls(columns=tuple((columns or {}).items()), trace=trace)
