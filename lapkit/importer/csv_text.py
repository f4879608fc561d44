"""The rows of a CSV log as text for a parser that trusts them: no endless line, and no quote left open."""

from __future__ import annotations

import io

from lapkit.errors import LogError
from lapkit.importer.source import Source

_LINE_CHARACTERS = 1024**2  # a thousand columns of a thousand characters


class GuardedText(io.TextIOBase):
    """The rows behind the header, in whole lines.

    A quote that is not closed in its line is taken out: it would make one field of the rest of the file.
    """

    def __init__(self, source: Source, encoding: str, data_line: int) -> None:
        """Begin at the row behind ``data_line`` lines, decoded as ``encoding`` says."""
        super().__init__()
        self._name = source.name
        self._text = io.TextIOWrapper(
            io.BufferedReader(source.stream), encoding=encoding, errors="replace"
        )
        self._begun = ""  # a line of which the end is not yet read
        self._lines_read = data_line
        for _ in range(data_line):
            self._text.readline(_LINE_CHARACTERS)

    def readable(self) -> bool:
        """Always true."""
        return True

    def read(self, size: int | None = -1) -> str:
        """About ``size`` characters in whole lines, "" at the end.

        Raises:
            LogError: a line is longer than any row of a log.
        """
        lines = self._whole_lines(size if size and size > 0 else _LINE_CHARACTERS)
        self._lines_read += lines.count("\n")
        if '"' in lines:
            lines = "\n".join(map(_without_open_quote, lines.split("\n")))
        return lines

    def _whole_lines(self, size: int) -> str:
        while more := self._text.read(size):
            lines, newline, self._begun = (self._begun + more).rpartition("\n")
            if newline:
                return lines + newline
            if len(self._begun) > _LINE_CHARACTERS:
                raise LogError(
                    f"a line is longer than {_LINE_CHARACTERS} characters",
                    where=f"{self._name} after line {self._lines_read}",
                    remedy="Check that the file is a table with a line for each fix",
                )
        last, self._begun = self._begun, ""
        return last


def _without_open_quote(line: str) -> str:
    return line.replace('"', "") if line.count('"') % 2 else line
