"""Progress on a terminal, silent in a pipe."""

import sys

from lapkit.cli.progress import progress_on_terminal


def test_in_a_pipe_there_is_nothing_to_call(capsys):
    with progress_on_terminal("runs") as progress:
        assert progress is None
    assert capsys.readouterr().err == ""


def test_on_a_terminal_it_says_how_much_is_done_and_how_long_it_will_take(capsys, monkeypatch):
    monkeypatch.setattr(sys.stderr, "isatty", lambda: True)
    clock = iter([100.0, 110.0])
    monkeypatch.setattr("lapkit.cli.progress.time.monotonic", lambda: next(clock))
    with progress_on_terminal("runs") as progress:
        progress(2, 6)
    told = capsys.readouterr().err
    assert "2 of 6 runs, about 20 s left" in told
    assert told.endswith("\r" + " " * 60 + "\r")
