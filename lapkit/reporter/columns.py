"""Tables in columns, for the terminal."""

from __future__ import annotations

from collections.abc import Sequence

from lapkit.errors import printable


def aligned(head: Sequence[str], rows: Sequence[Sequence[str]]) -> list[str]:
    """A table's lines, its columns two spaces apart and indented by two; what a terminal would obey is taken out."""
    table = [tuple(printable(cell) for cell in row) for row in (head, *rows)]
    widths = [max(len(row[place]) for row in table) for place in range(len(head))]
    padded = [[f"{c:<{w}}" for c, w in zip(row, widths, strict=True)] for row in table]
    return [f"  {'  '.join(row).rstrip()}" for row in padded]
