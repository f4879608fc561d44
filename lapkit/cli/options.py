"""Options that several commands share, so that they are the same everywhere.

A group of options is a decorator. The command gets one argument with the meaning of the group, not what was typed.
An option that only some commands have takes part in its group wherever it stands among the decorators.
"""

from __future__ import annotations

import errno
import os
from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import wraps
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from lapkit.errors import OptionError

if TYPE_CHECKING:
    from lapkit.measuring.options import Options
    from lapkit.reporter.formats import Formats
    from lapkit.units import Units

Command = Callable[..., Any]
F = TypeVar("F", bound=Command)

_CANNOT_LOOK_UP = (errno.ENAMETOOLONG, errno.ELOOP, errno.EACCES)


class _File(click.Path):
    """A file or folder, existing or not, whose name the system can look up."""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Path:
        path = Path(os.fsdecode(super().convert(value, param, ctx)))
        try:
            path.absolute()
        except FileNotFoundError as error:
            raise OptionError(
                "the folder you are in does not exist any more",
                where=str(path),
                remedy="Change to another one and run this again.",
            ) from error
        try:
            path.stat()
        except OSError as error:
            # Checked here once for all commands, because even asking whether such a path exists would fail.
            if error.errno in _CANNOT_LOOK_UP:
                raise OptionError(
                    f"this name cannot be looked up ({error.strerror})",
                    where=str(path),
                    remedy="Check the name and the permissions.",
                ) from error
        return path


class _Log(_File):
    """A rider's log: a file, never a folder."""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Path:
        path = super().convert(value, param, ctx)
        if path.is_dir():
            raise OptionError(
                "this is a folder, not a log",
                where=str(path),
                remedy="Give the logs in it. If it holds a riders.csv, use `lapkit event`.",
            )
        return path


def _units(_context: click.Context, _option: click.Parameter, name: str | None) -> Units | None:
    """The units of that name; None while a shell asks for completions."""
    from lapkit.units import Units

    return Units.named(name) if name else None


# Whether a file can be read is left to its reader, whose error says what to do.
FILE = _File(path_type=Path, readable=False)
LOG = _Log(path_type=Path, readable=False)

units = click.option(
    "--units",
    type=click.Choice(["metric", "us"], case_sensitive=False),
    callback=_units,
    default="metric",
    show_default=True,
    help="What to read on pages and terminal; files are always SI.",
)
track = click.option("--track", type=FILE, help="Track file (GeoJSON).")
line = click.option(
    "--line", type=LOG, help="The coach's own log: his mean lap is the marker line."
)
_base = click.option("--base", type=LOG, help="Log of a receiver left standing on a known spot.")
_columns = click.option(
    "--columns",
    default="",
    metavar="NAME=HEADER,...",
    help="Which CSV column is which, e.g. time=stamp,latitude=y.",
)
_max_size = click.option(
    "--max-size",
    type=click.IntRange(min=1),
    default=None,
    metavar="MIB",
    help="Largest log to read, unpacked, in MiB.",
)
_parquet = click.option("--parquet", is_flag=True, help="Also write the tables as Parquet.")
_pdf = click.option(
    "--pdf",
    is_flag=True,
    help="Also write a sheet to print for each rider, and of an event the summary, as PDF.",
)
out = click.option("--out", required=True, type=FILE, help="Folder for pages and tables.")
trace = click.option("--trace", is_flag=True, help="Also write every sample (trace.csv.gz).")


def reading(command: Command) -> Command:
    """Options about how logs are read, and :data:`trace` where a command has it.

    The command gets them as ``read``, an :class:`~lapkit.measuring.options.Options`.
    """

    @wraps(command)
    def with_read(
        *args: Any, columns: str, max_size: int | None, trace: bool = False, **others: Any
    ) -> Any:
        read = replace(_read_options(columns, max_size), trace=trace)
        return command(*args, read=read, **others)

    return _columns(_max_size(with_read))


def course(command: Command) -> Command:
    """Options about the course and the base log, and ``--riders`` where a command has it.

    The command gets them as ``given``, a :class:`~lapkit.measuring.inputs.Given`.
    """

    @wraps(command)
    def with_given(
        *args: Any,
        track: Path | None,
        line: Path | None,
        base: Path | None,
        riders: Path | None = None,
        **others: Any,
    ) -> Any:
        from lapkit.measuring.inputs import Given

        return command(*args, given=Given(track, line, base, riders), **others)

    return track(line(_base(with_given)))


def formats(command: Command) -> Command:
    """Options about what is written, :data:`units`, and ``--no-pages`` where a command has it.

    The command gets them as ``formats``, a :class:`~lapkit.reporter.formats.Formats`.
    """

    @wraps(command)
    def with_formats(
        *args: Any, units: Units, parquet: bool, pdf: bool, no_pages: bool = False, **others: Any
    ) -> Any:
        from lapkit.reporter.formats import Formats

        given = Formats(units, pages=not no_pages, parquet=parquet, pdf=pdf)
        return command(*args, formats=given, **others)

    return _parquet(_pdf(with_formats))


def _read_options(columns: str, max_size: int | None) -> Options:
    """How logs are read, from what was typed.

    Raises:
        OptionError: ``--columns`` is not of the form name=header.
    """
    from lapkit.measuring.options import Options

    pairs = []
    for part in filter(None, columns.split(",")):
        name, equals, header = part.partition("=")
        if not equals or not name.strip() or not header.strip():
            raise OptionError(
                f"--columns has {part!r}", remedy="Write name=header, separated by commas."
            )
        pairs.append((name.strip(), header.strip()))
    read = Options(columns=tuple(pairs))
    return replace(read, max_bytes=max_size * 1024**2) if max_size else read


def refuse_unwritable(out: Path, inputs: Sequence[Path], formats: Formats) -> None:
    """Raise before the work the errors that writing its results would raise after it.

    Raises:
        OutputError: ``out`` holds or lies in an input, or is not lapkit's to replace; or Parquet was asked
            for and its extra is not installed.
    """
    from lapkit.reporter.output import refuse_early

    refuse_early(out, inputs)
    if formats.parquet:
        from lapkit.reporter.tables import require_parquet

        require_parquet()
