"""Options that several commands share, so that all of them stay alike."""

from __future__ import annotations

import errno
import os
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from lapkit.errors import OptionError

if TYPE_CHECKING:
    from lapkit.options import Options
    from lapkit.units import Units

F = TypeVar("F", bound=Callable[..., Any])

_NO_PLACE = (errno.ENAMETOOLONG, errno.ELOOP, errno.EACCES)


class _File(click.Path):
    """A file or folder whose name the system can look up, there or not."""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Path:
        path = Path(os.fsdecode(super().convert(value, param, ctx)))
        try:
            path.stat()
        except OSError as error:
            # Here, once for all commands: even asking whether such a path exists would fail.
            if error.errno in _NO_PLACE:
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
    """The units of that name; None while a shell only asks how a line may go on."""
    from lapkit.units import Units

    return Units.named(name) if name else None


# Whether a file can be read is left to its reader, whose message says what to do.
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
base = click.option("--base", type=LOG, help="Log of a receiver left standing on a known spot.")
columns = click.option(
    "--columns",
    default="",
    metavar="NAME=HEADER,...",
    help="Which CSV column is which, e.g. time=stamp,latitude=y.",
)
max_size = click.option(
    "--max-size",
    type=click.IntRange(min=1),
    default=None,
    metavar="MIB",
    help="Largest log to read, unpacked, in MiB.",
)
trace = click.option("--trace", is_flag=True, help="Also write every sample (trace.csv.gz).")
parquet = click.option("--parquet", is_flag=True, help="Also write the tables as Parquet.")


def reading(command: F) -> F:
    """Options about how logs are read."""
    return columns(max_size(command))


def course(command: F) -> F:
    """Options about the course and what it is held against."""
    return track(line(base(command)))


def tables(command: F) -> F:
    """Options about what is written."""
    return trace(parquet(command))


def read_options(columns: str, max_size: int | None, trace: bool = False) -> Options:
    """Options for the pipeline from what was typed.

    Raises:
        OptionError: ``--columns`` is not of the form name=header.
    """
    from lapkit.options import Options

    pairs = []
    for part in filter(None, columns.split(",")):
        name, equals, header = part.partition("=")
        if not equals or not name.strip() or not header.strip():
            raise OptionError(
                f"--columns has {part!r}", remedy="Write name=header, separated by commas."
            )
        pairs.append((name.strip(), header.strip()))
    most = {"max_bytes": max_size * 1024 * 1024} if max_size else {}
    return Options(columns=tuple(pairs), trace=trace, **most)


def refuse_unwritable(out: Path, inputs: Sequence[Path], *, parquet: bool) -> None:
    """Say before the work what would be said after it, when results are written.

    Raises:
        OutputError: ``out`` holds or lies in an input, or is not lapkit's to replace; or Parquet was asked
            for and its extra is not installed.
    """
    from lapkit.reporter.output import refuse_early

    refuse_early(out, inputs)
    if parquet:
        from lapkit.reporter.tables import require_parquet

        require_parquet()
