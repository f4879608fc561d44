"""An event measured into a folder, doing again only what changed since the last time.

Results of each log lie in a hidden folder among the results, under a key of all they depend on: the log, its
line in ``riders.csv``, the course, the options and the program. A hidden record says from what the whole
folder was made and what is in it; where both are still the same, nothing is done.
"""

from __future__ import annotations

import json
from concurrent.futures import Executor
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

from lapkit.cluster import workers_of
from lapkit.inputs import Given, Inputs, event_inputs
from lapkit.options import Options
from lapkit.provenance import file_hashes, key_of, program_hash
from lapkit.reporter import whole_folder, write_pages_into
from lapkit.reporter.output import clear_up
from lapkit.reporter.terminal import done_text
from lapkit.units import Units
from lapkit.workers import load

if TYPE_CHECKING:
    from lapkit.pipeline import Progress

KEPT = ".lapkit-kept"
"""Folder of what came of each log."""

RECORD = ".lapkit-run.json"
"""File that says from what the folder was made, and what is in it."""


@dataclass(frozen=True)
class Wanted:
    """What to measure an event by, and what to write of it; see :func:`lapkit.pipeline.event`."""

    given: Given = field(default_factory=Given)
    options: Options = field(default_factory=Options)
    units: Units = Units.METRIC
    pages: bool = True
    parquet: bool = False
    pdf: bool = False


@dataclass(frozen=True)
class Done:
    """What to say at the end, and whether all of it was there already."""

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
        out: where results shall be; it appears whole or not at all.
        wanted: what to measure by and what to write.
        workers, executor, progress: as for :func:`lapkit.pipeline.event`.

    Raises:
        LapkitError: the event cannot be used, or the results cannot be written.
    """
    inputs = event_inputs(folder, wanted.given)
    key = _key(inputs, out, wanted)
    text = _unchanged(out, key)
    if text is not None:
        clear_up(out)
        return Done(text, unchanged=True)
    with whole_folder(out, [folder, *wanted.given.files]) as new:
        with workers_of(executor, workers, _not_kept(inputs, wanted, out)) as pool:
            # While the workers load it too, and not at all where nothing changed.
            load("lapkit.pipeline")
            from lapkit.packed import Keep
            from lapkit.pipeline import event
            from lapkit.reporter.tables import write_tables

            result = event(
                inputs,
                options=wanted.options,
                units=wanted.units,
                workers=1,
                executor=pool,
                progress=progress,
                keep=Keep(new / KEPT, out / KEPT),
            )
            # The workers are there still, and would be idle.
            write_tables(result, new, parquet=wanted.parquet, executor=pool)
        pages = write_pages_into(
            new, result, units=wanted.units, pages=wanted.pages, pdf=wanted.pdf, workers=workers
        )
        text = done_text(result, out, [out / name for name in pages], wanted.units)
        record = {"key": key, "text": text, "files": _written(new)}
        (new / RECORD).write_text(json.dumps(record), encoding="utf-8")
    return Done(text, unchanged=False)


def _key(inputs: Inputs, out: Path, wanted: Wanted) -> str:
    files = [(str(path), digest) for path, digest in inputs.hashes.items()]
    faults = [entry.fault for entry in inputs.entries]
    told = faults, inputs.notes, inputs.title
    return key_of(program_hash(), asdict(wanted), files, told, str(out))


def _not_kept(inputs: Inputs, wanted: Wanted, out: Path) -> int:
    """How many logs there are of which an earlier run kept nothing; one kept damaged shows when it is read."""
    return sum(not (out / KEPT / key).exists() for key in inputs.job_keys(wanted.options))


def _written(folder: Path) -> dict[str, str]:
    """What stands in the folder, by hash; what is kept of each log is checked when it is used."""
    paths = [p for p in sorted(folder.rglob("*")) if p.is_file() and p.parent.name != KEPT]
    return {p.relative_to(folder).as_posix(): h for p, h in file_hashes(paths).items()}


def _unchanged(out: Path, key: str) -> str | None:
    """What was said when these results were written, if they would come out the same."""
    try:
        record = json.loads((out / RECORD).read_text(encoding="utf-8"))
        same = record["key"] == key
        names = record["files"]
        if not same or file_hashes(out / n for n in names) != {
            out / n: h for n, h in names.items()
        }:
            return None
        return str(record["text"])
    except (OSError, ValueError, KeyError, TypeError, AttributeError):
        return None
