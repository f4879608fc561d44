"""How logs are read and what is made of them.

The module imports nothing heavy, so that an unchanged event is recognised before anything heavy is loaded.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from lapkit.importer.source import MAX_BYTES


@dataclass(frozen=True)
class Options:
    """What was asked for beyond the logs; all of it is kept in ``results.json``.

    Attributes:
        columns: column name and header of a CSV log, for what the user says himself.
        max_bytes: most bytes of a log allowed after unpacking.
        trace: whether a row for each fix is wanted.
    """

    columns: tuple[tuple[str, str], ...] = ()
    max_bytes: int = MAX_BYTES
    trace: bool = False

    @classmethod
    def reading(cls, columns: Mapping[str, str] | None, *, trace: bool = False) -> Options:
        """Options from the ``columns`` that :func:`lapkit.read_log` takes too: column name → header, or None."""
        return cls(columns=tuple((columns or {}).items()), trace=trace)
