"""An event's logs as jobs: what each depends on, what was measured before, and who measures the rest."""

from __future__ import annotations

import pickle
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import asdict
from functools import lru_cache, partial
from pathlib import Path
from typing import Any

from lapkit import __version__
from lapkit.cluster import in_order
from lapkit.course.course import Course
from lapkit.errors import OptionError
from lapkit.importer import read_log
from lapkit.importer.event_folder import Entry
from lapkit.importer.source import safe_name
from lapkit.kept import InMemory, Keep, Measured, pack, unpack
from lapkit.origin import distinct_names, file_hashes, key_of, program_hash
from lapkit.path.base import base_error
from lapkit.runs import Options, course_of, find_course, measure_entry

SCHEMA_VERSION = 1
"""Version of the tables and of ``results.json``."""


def own_track(folder: Path) -> Path | None:
    """An event folder's own track file, if it has one."""
    own = folder / "track.geojson"
    return own if own.is_file() else None


def require_track(track: object, line: object) -> None:
    """Refuse a coach's log where no track file is given, rather than leave it unread.

    Raises:
        OptionError: so it is.
    """
    if line and not track:
        raise OptionError(
            "the coach's line needs a track file: without one there is no marker line",
            remedy="Give the course with --track, or leave --line out.",
        )


def other_track(folder: Path) -> list[str]:
    """A sentence about files in an event folder that may be its track file under another name."""
    names = [p.name for p in sorted(folder.iterdir()) if p.suffix.lower() in (".geojson", ".json")]
    if not names:
        return []
    found = f"{safe_name(names[0])} is there: if that is it, give it with --track or rename it"
    return [f"The event folder has no track.geojson. {found}."]


def event_inputs(folder: Path, entries: Sequence[Entry], *others: Path | None) -> list[Path]:
    """Every file that an event is measured from; a log whose line has a fault stays shut."""
    usable = [e.path for e in entries if not e.fault]
    return [folder / "riders.csv", *(p for p in others if p), *usable]


def job_key(entry: Entry, log: str, of_course: Sequence[str], options: Options) -> str:
    """What an entry's results depend on: its line, its log, the course, the options and the program."""
    line = {k: v for k, v in asdict(entry).items() if k != "path"}
    return key_of(program_hash(), line, log, of_course, asdict(options))


def course_and_job(
    entries: tuple[Entry, ...],
    track: Path | None,
    line: Path | None,
    base: Path | None,
    options: Options,
) -> tuple[Course, Callable[[Entry], Measured]]:
    """The course, placed from its track file or found from the logs, and how to measure an entry on it.

    The job carries the placed course, packed once: solving its marker line takes a worker far longer than
    unpacking it.

    Raises:
        OptionError: the coach's log without a track file.
        LapkitError: the track file, the coach's log or the base log cannot be used, or no course is found.
    """
    require_track(track, line)
    course = find_course(entries, options) if track is None else course_of(track, line)
    # That it cannot be read is no fault of any rider's log.
    error = base_error(course, read_log(base)) if base else None
    return course, partial(_measure, options=options, given=pickle.dumps((course, error)))


_unpacked = lru_cache(maxsize=2)(pickle.loads)
"""A packed course and base error, remembered within a worker."""


def _measure(entry: Entry, options: Options, given: bytes) -> Measured:
    course, base = _unpacked(given)
    return measure_entry(entry, course, options, base)


def _pack(entry: Entry, measure: Callable[[Entry], Measured]) -> bytes:
    """What a worker does with one log, and what it sends back."""
    return pack(measure(entry))


def results(
    entries: Sequence[Entry],
    keys: Sequence[str],
    pool: Executor | None,
    measure: Callable[[Entry], Measured],
    keep: Keep | None,
) -> Iterator[Measured]:
    """Results in the order of the entries: an earlier run's where nothing changed, else measured now.

    Args:
        entries, keys: what to measure, and what each depends on (:func:`job_key`).
        pool: who measures; this process when None.
        measure: how (:func:`course_and_job`).
        keep: where results lie on disk meanwhile, and where an earlier run's are; in memory when None.
    """
    packed = _packed(entries, keys, pool, partial(_pack, measure=measure), keep)
    for key, data in zip(keys, packed, strict=True):
        yield keep.put(key, data) if keep else unpack(InMemory(data))


def _packed(
    entries: Sequence[Entry],
    keys: Sequence[str],
    pool: Executor | None,
    work: Callable[[Entry], bytes],
    keep: Keep | None,
) -> Iterator[bytes]:
    earlier = {key for key in keys if keep and keep.find(key) is not None}
    new = in_order(
        pool, work, [e for e, key in zip(entries, keys, strict=True) if key not in earlier]
    )
    for key in keys:
        yield (keep.find(key) or b"") if keep and key in earlier else next(new)


def provenance(
    inputs: Sequence[Path],
    options: Options,
    units: str,
    given: Mapping[str, Path | None],
    folder: Path | None = None,
    hashes: dict[Path, str] | None = None,
) -> dict[str, Any]:
    """Program version, options and the SHA-256 of every input by its name in the folder.

    Among the options is which input was given as what: ``given``, None for what was not.
    """
    hashes = hashes or file_hashes(inputs)
    names = distinct_names(inputs, folder)
    files = {what: names[path] if path else None for what, path in given.items()}
    return {
        "program": "lapkit",
        "version": __version__,
        "schema": SCHEMA_VERSION,
        "options": {**asdict(options), "units": units, **files},
        "inputs": {name: hashes[path] for path, name in names.items()},
    }
