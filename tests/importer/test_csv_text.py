"""Rows as text: whole lines, closed quotes, nothing endless."""

import pytest

from lapkit.errors import LogError
from lapkit.importer.csv_text import GuardedText
from lapkit.importer.source import open_source


@pytest.fixture
def guarded(write):
    """All that is read of a text behind a header line, piece by piece."""

    def read(text, size=64):
        with open_source(write(text)) as source:
            rows = GuardedText(source, "utf-8", 1)
            return list(iter(lambda: rows.read(size), ""))

    return read


def test_pieces_are_whole_lines_and_nothing_is_lost(guarded):
    rows = [f"{i},{'x' * (i % 50)}" for i in range(100)]
    pieces = guarded("\n".join(["a,b", *rows]))
    assert all(piece.endswith("\n") for piece in pieces[:-1])
    assert "".join(pieces) == "\n".join(rows)
    assert len(pieces) > 10


def test_a_line_longer_than_a_piece_comes_whole(guarded):
    pieces = guarded("a\n" + "x" * 300 + "\ny\n", size=50)
    assert pieces[0].startswith("x" * 300 + "\n")
    assert "".join(pieces) == "x" * 300 + "\ny\n"


def test_a_quote_left_open_is_taken_out_of_its_line_alone(guarded):
    assert "".join(guarded('h\n1,"a"\n2,"b\n3,"c"\n')) == '1,"a"\n2,b\n3,"c"\n'


def test_an_endless_line_is_refused_with_the_line_before_it(guarded):
    with pytest.raises(LogError, match="after line 3: a line is longer than 1048576 characters"):
        guarded("h\n1\n2\n" + "x" * 2_100_000, size=2**18)
