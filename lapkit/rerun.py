"""An event measured into a folder; a second time only what changed is done again.

Each log's results are kept in a hidden folder among the results, under a key made of all they depend on: the
log, its line in ``riders.csv``, the course, the options and the program. A hidden record says what the whole
folder was made from and what is in it. If both are still the same, nothing is done.
"""

from __future__ import annotations

import json
from concurrent.futures import Executor
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

from lapkit.measuring.cluster import workers_of
from lapkit.measuring.inputs import Given, Inputs, event_inputs
from lapkit.measuring.options import Options
from lapkit.measuring.provenance import file_hashes, key_of, program_hash
from lapkit.measuring.workers import load
from lapkit.reporter import whole_folder, write_pages_into
from lapkit.reporter.contents import Contents
from lapkit.reporter.formats import Formats
from lapkit.reporter.output import clear_up
from lapkit.reporter.terminal import done_text

if TYPE_CHECKING:
    from lapkit.pipeline import Progress

KEPT = ".lapkit-kept"
"""Folder of each log's results."""

RECORD = ".lapkit-run.json"
"""File that says what the folder was made from, and what is in it."""


@dataclass(frozen=True)
class Wanted:
    """How to measure an event, and what to write; see :func:`lapkit.pipeline.event`."""

    given: Given = field(default_factory=Given)
    options: Options = field(default_factory=Options)
    formats: Formats = field(default_factory=Formats)


@dataclass(frozen=True)
class Done:
    """What to print at the end, and whether the results were there already."""

    text: str
    unchanged: bool


def write_event(
    folder: Path,
    out: Path,
    wanted: Wanted,
    *,
    workers: int | None = None,
    executor: Executor | None = None,
    progress: Progress | None = None,
) -> Done:
    """Measure every rider of an event folder and write tables and pages into a folder.

    Args:
        folder: the event.
        out: the folder of results; it appears whole or not at all.
        wanted: how to measure and what to write.
        workers, executor, progress: as for :func:`lapkit.pipeline.event`.

    Raises:
        LapkitError: the event cannot be used, or the results cannot be written, be it that the folder holds others.
    """
    inputs = event_inputs(folder, wanted.given)
    key = _key(inputs, out, wanted)
    text = _unchanged(out, key)
    if text is not None:
        clear_up(out)
        return Done(text, unchanged=True)
    with whole_folder(out, [folder, *wanted.given.files], _contents(inputs)) as new:
        with workers_of(executor, workers, _not_kept(inputs, wanted, out)) as pool:
            # Only now, while the workers load it too: an unchanged event does without.
            load("lapkit.pipeline")
            from lapkit.measuring.packed import Keep
            from lapkit.pipeline import event
            from lapkit.reporter.tables import write_tables

            result = event(
                inputs,
                options=wanted.options,
                units=wanted.formats.units,
                workers=1,
                executor=pool,
                progress=progress,
                keep=Keep(new / KEPT, out / KEPT),
            )
            # The workers are still there, and would otherwise be idle.
            write_tables(result, new, parquet=wanted.formats.parquet, executor=pool)
        pages = write_pages_into(new, result, wanted.formats, workers)
        shown, formats = [out / name for name in pages], wanted.formats
        text = done_text(result, out, shown, formats.units, printable_sheets=formats.pdf)
        if not any(one.for_now for one in result.unusable):
            record = {"key": key, "text": text, "files": _written(new)}
            (new / RECORD).write_text(json.dumps(record), encoding="utf-8")
    return Done(text, unchanged=False)


def _key(inputs: Inputs, out: Path, wanted: Wanted) -> str:
    """A key made of all that the whole folder depends on."""
    files = [(str(path), digest) for path, digest in inputs.hashes.items()]
    faults = [entry.fault for entry in inputs.entries]
    shown = faults, inputs.notes, inputs.title
    return key_of(program_hash(), asdict(wanted), files, shown, str(out))


def _contents(inputs: Inputs) -> Contents:
    entries = inputs.entries
    return Contents.results(inputs.title, (e.rider for e in entries), (e.sha256 for e in entries))


def _not_kept(inputs: Inputs, wanted: Wanted, out: Path) -> int:
    """How many logs have no kept results; whether kept ones are damaged is seen when they are read."""
    return sum(not (out / KEPT / key).exists() for key in inputs.job_keys(wanted.options))


def _written(folder: Path) -> dict[str, str]:
    """The hash of every file in the folder except kept results, which are checked when they are used."""
    paths = [p for p in sorted(folder.rglob("*")) if p.is_file() and p.parent.name != KEPT]
    return {p.relative_to(folder).as_posix(): h for p, h in file_hashes(paths).items()}


def _unchanged(out: Path, key: str) -> str | None:
    """What was printed when the results were written, if they are whole and would come out the same; else None."""
    try:
        record = json.loads((out / RECORD).read_text(encoding="utf-8"))
        if record["key"] != key:
            return None
        written = {out / name: digest for name, digest in record["files"].items()}
        return str(record["text"]) if file_hashes(written) == written else None
    except (OSError, ValueError, KeyError, TypeError, AttributeError):
        return None
