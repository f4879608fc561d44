"""The command line: one thin module a command, loaded when the command is run."""

from __future__ import annotations

import errno
import importlib
import io
import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import click

from lapkit import __version__
from lapkit.errors import LapkitError, printable

COMMANDS = {
    "demo": "The bundled invented event, start to finish.",
    "check": "Is this log good enough, and for what?",
    "laps": "Laps on the terminal.",
    "review": "One rider's debrief, as a page to go through with him.",
    "event": "Every rider of an event folder, and the event summary.",
    "walk": "A track file from the waypoints of a track walk.",
    "track": "Check a track file; solve and draw the marker line; print corner sheets.",
    "simulate": "Riders with known truth, for training and testing.",
    "season": "A season of events in one file, and its answers.",
}
"""Every command with its line in the overview. The command itself stands in the module of that name."""

EPILOG = """\
Exit status: 0 done; 1 nothing usable in the input; 2 wrong use, an --out that cannot be written included.

Radius and lean are inferred from satellite fixes, not measured, and are no target. The event's rules,
marshals, licensed instructors and the rider's own judgement come first.
"""

READER_GONE = 128 + 13
"""Exit status when whatever reads the output, such as ``head``, has gone: that of a program ended by SIGPIPE."""


class _ReaderGoneError(Exception):
    """The other end of the pipe that is printed to has been closed."""


@contextmanager
def _noticing_reader() -> Iterator[None]:
    """Catches a closed pipe before click does, which would treat it as a failure."""
    try:
        yield
    except BrokenPipeError as error:
        raise _ReaderGoneError from error


class _Commands(click.Group):
    """Commands that are imported only when they are run, so that help appears at once."""

    def make_context(self, *args: Any, **kwargs: Any) -> click.Context:
        with _noticing_reader():
            return super().make_context(*args, **kwargs)

    def invoke(self, ctx: click.Context) -> Any:
        with _noticing_reader():
            return super().invoke(ctx)

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        if cmd_name not in COMMANDS:
            return None
        return importlib.import_module(f"lapkit.cli.{cmd_name}").command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        with formatter.section("Commands"):
            formatter.write_dl(list(COMMANDS.items()))

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        try:
            return super().resolve_command(ctx, args)
        except click.UsageError as error:
            from difflib import get_close_matches

            near = get_close_matches(args[0], COMMANDS, n=1)
            if near and "Did you mean" not in error.message:
                raise click.UsageError(f"{error.message} Did you mean {near[0]!r}?", ctx) from None
            raise


@click.command(
    cls=_Commands, epilog=EPILOG, context_settings={"help_option_names": ["-h", "--help"]}
)
@click.version_option(__version__, prog_name="lapkit")
def group() -> None:
    """Radius, lean and line from track-day riders' GPS logs, held against the coach's cones."""


def _one_thread() -> None:
    """Limit linear algebra to one thread. The setting is read when numpy is imported, here and in every worker.

    The systems are small and banded, so several threads gain nothing. On a busy machine they wait for each other:
    one log then took a minute instead of a second.
    """
    for name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
        os.environ.setdefault(name, "1")


def _keep_memory() -> None:
    """Let a worker keep the memory it has asked for. The setting is read by glibc when a process starts.

    Otherwise every array of some megabytes is returned to the system after use, and its pages are cleared one by one
    for the next: that took a twentieth of a log's time. Workers grow no larger for it.
    """
    os.environ.setdefault("MALLOC_MMAP_THRESHOLD_", str(32 * 1024**2))
    os.environ.setdefault("MALLOC_TRIM_THRESHOLD_", str(256 * 1024**2))


def _print_everything() -> None:
    """Print a question mark for a character that the terminal's encoding lacks, as a rider's name may have one.

    Where output goes into a file, Windows chooses an encoding of some two hundred characters.
    """
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper) and stream.errors == "strict":
            stream.reconfigure(errors="replace")


def main() -> None:
    """Run the command line; every fault ends in one line on stderr and an exit status.

    Where the reader of the output has gone, as with ``| head``, the program ends at once and says nothing.
    """
    _one_thread()
    _keep_memory()
    _print_everything()
    try:
        _run()
    except (_ReaderGoneError, BrokenPipeError):
        _print_nothing_more(1, 2)
        sys.exit(READER_GONE)


def _print_nothing_more(*streams: int) -> None:
    """Send streams nowhere: at its end Python complains of output that it kept and cannot print any more."""
    nowhere = os.open(os.devnull, os.O_WRONLY)
    for stream in streams:
        os.dup2(nowhere, stream)


def _run() -> None:
    debug = os.environ.get("LAPKIT_DEBUG") == "1"
    try:
        group.main(prog_name="lapkit", standalone_mode=False)
    except click.exceptions.Exit as done:
        sys.exit(done.exit_code)
    except click.Abort:
        _say("stopped; nothing is left half done")
        sys.exit(130)
    except click.ClickException as error:
        error.show()
        sys.exit(error.exit_code)
    except _ReaderGoneError:
        raise
    except LapkitError as error:
        if debug:
            raise
        _say(str(error))
        sys.exit(error.exit_status)
    except Exception as error:
        if debug:
            raise
        _say(_in_words(error))
        if _is_full(error):
            _print_nothing_more(1)
        sys.exit(1)


def _is_full(error: Exception) -> bool:
    """Whether there was no room left on a disk."""
    return isinstance(error, OSError) and error.errno == errno.ENOSPC


def _in_words(error: Exception) -> str:
    """What to say of an error that is none of lapkit's family."""
    if isinstance(error, MemoryError):
        return "there is not enough memory. Close other programs, or use fewer --workers."
    if _is_full(error):
        # Results have an error of their own: here the terminal's text was redirected to a full disk.
        return "there is no room left where the output goes; send it elsewhere"
    return (
        f"a fault in lapkit itself ({type(error).__name__}: {error}). Run again with "
        "LAPKIT_DEBUG=1 to see where."
    )


def _say(text: str) -> None:
    click.echo(f"lapkit: {printable(text)}", err=True)
