"""All files that runs are measured from, hashed once.

The keys of kept results and the record of provenance both use these hashes, so they speak of the same files.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Any

from lapkit import __version__
from lapkit.counting import first_of
from lapkit.importer.event_folder import read_event_folder, unlisted_logs
from lapkit.importer.riders_file import Entry
from lapkit.importer.source import safe_name
from lapkit.measuring.options import Options
from lapkit.measuring.provenance import distinct_names, file_hashes, key_of, program_hash
from lapkit.units import Units

SCHEMA_VERSION = 1
"""Version of the tables and of ``results.json``."""


@dataclass(frozen=True)
class Given:
    """Files given beside the logs; None where none was given.

    Attributes:
        track: the track file.
        line: the coach's own log.
        base: log of a receiver left standing on a known spot.
        riders: the ``riders.csv``, an event folder's own or another.
    """

    track: Path | None = None
    line: Path | None = None
    base: Path | None = None
    riders: Path | None = None

    @property
    def files(self) -> list[Path]:
        """Those that were given."""
        return [path for path in (self.track, self.line, self.base, self.riders) if path]


@dataclass(frozen=True)
class Inputs:
    """Logs, and the files given beside them.

    Attributes:
        title: what the results are called.
        entries: whose log each is, in order, with its hash.
        given: the files beside them.
        hashes: SHA-256 of each file, in order; empty for one that cannot be read. A log whose line in
            ``riders.csv`` has a fault is not opened and not among them.
        folder: the event folder; None for logs from anywhere.
        notes: sentences about the folder.
    """

    title: str
    entries: tuple[Entry, ...]
    given: Given
    hashes: Mapping[Path, str]
    folder: Path | None = None
    notes: tuple[str, ...] = ()

    def job_keys(self, options: Options) -> list[str]:
        """A key for each entry, made of its line, its log, the course, the options and the program."""
        program, asked = program_hash(), asdict(options)
        given = self.given
        of_course = [self.hashes[p] if p else "" for p in (given.track, given.line, given.base)]
        if given.track is None:
            # A course found from the logs may change with any of them.
            of_course = list(self.hashes.values())
        keys = []
        for entry in self.entries:
            line = {k: v for k, v in asdict(entry).items() if k != "path"}
            keys.append(key_of(program, line, of_course, asked))
        return keys

    def provenance(self, options: Options, units: Units) -> dict[str, Any]:
        """Program version, options (with the role in which each file was given) and the hash of every file."""
        names = distinct_names(list(self.hashes), self.folder)
        files = {what: names[path] if path else None for what, path in asdict(self.given).items()}
        return {
            "program": "lapkit",
            "version": __version__,
            "schema": SCHEMA_VERSION,
            "options": {**asdict(options), "units": units, **files},
            "inputs": {name: self.hashes[path] for path, name in names.items()},
        }


def log_inputs(entries: tuple[Entry, ...], title: str, given: Given) -> Inputs:
    """Logs from anywhere and what was given beside them."""
    hashes = file_hashes([*(entry.path for entry in entries), *given.files])
    return Inputs(title, _with_hashes(entries, hashes), given, hashes)


def event_inputs(folder: Path, given: Given | None = None) -> Inputs:
    """An event folder and what was given beside it.

    Args:
        folder: holds ``riders.csv``, the logs it names and ``track.geojson``.
        given: files beside it. A track file takes the place of the folder's own; a ``riders.csv`` is ignored.

    Raises:
        EventError: no folder, or its ``riders.csv`` cannot be used.
    """
    listed = read_event_folder(folder)
    entries = listed.entries
    given = given or Given()
    track = given.track or own_track(folder)
    riders = folder / "riders.csv"
    given = replace(given, track=track, riders=riders)
    logs = [entry.path for entry in entries if not entry.fault]
    hashes = file_hashes([riders, *given.files, *logs])
    notes = (
        *(() if track else _other_track(folder)),
        *(_not_read(written, meant) for written, meant in listed.misspelt),
        *_unlisted(folder, entries, given),
    )
    entries = _with_hashes(entries, hashes)
    return Inputs(folder.resolve().name, entries, given, hashes, folder, notes)


def _with_hashes(entries: tuple[Entry, ...], hashes: Mapping[Path, str]) -> tuple[Entry, ...]:
    return tuple(replace(entry, sha256=hashes.get(entry.path, "")) for entry in entries)


def own_track(folder: Path) -> Path | None:
    """An event folder's own track file, if it has one."""
    own = folder / "track.geojson"
    return own if own.is_file() else None


def _unlisted(folder: Path, entries: tuple[Entry, ...], given: Given) -> tuple[str, ...]:
    """A sentence about logs that were put into an event folder and forgotten in its ``riders.csv``."""
    asked_for = {path.resolve() for path in given.files}
    forgotten = [p for p in unlisted_logs(folder, entries) if p.resolve() not in asked_for]
    if not forgotten:
        return ()
    names = first_of([safe_name(path.relative_to(folder).as_posix()) for path in forgotten])
    one = len(forgotten) == 1
    return (
        f"{names} {'lies' if one else 'lie'} beside the logs, but no line of riders.csv names {'it' if one else 'them'}. "
        f"Add {'a line if it is' if one else 'lines if they are'} to count.",
    )


def _not_read(written: str, meant: str) -> str:
    """A sentence about a column of ``riders.csv`` that is not read for how its name is written."""
    return f"The column “{written}” of riders.csv is not read. Did you mean {meant}?"


def _other_track(folder: Path) -> tuple[str, ...]:
    """A sentence about files in an event folder that may be its track file under another name."""
    names = [p.name for p in sorted(folder.iterdir()) if p.suffix.lower() in (".geojson", ".json")]
    if not names:
        return ()
    found = f"{safe_name(names[0])} is there: if that is it, give it with --track or rename it"
    return (f"The event folder has no track.geojson. {found}.",)
