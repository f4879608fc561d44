"""Progress on a terminal, silent in a pipe."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager

import click


@contextmanager
def progress_on_terminal(what: str) -> Iterator[Callable[[int, int], None] | None]:
    """A function to call with the numbers done and in all, which prints them; None when stderr is no terminal."""
    if not sys.stderr.isatty():
        yield None
        return
    began = time.monotonic()

    def show(done: int, total: int) -> None:
        left = (time.monotonic() - began) / done * (total - done)
        click.echo(f"\r{done} of {total} {what}, about {left:.0f} s left   ", nl=False, err=True)

    try:
        yield show
    finally:
        click.echo("\r" + " " * 60 + "\r", nl=False, err=True)
