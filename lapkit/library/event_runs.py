"""The runs of an event folder one by one, for callers who want their paths and not only their tables."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from pathlib import Path

from lapkit.compare.results import Unusable
from lapkit.errors import LapkitError
from lapkit.importer.event_folder import read_event_folder
from lapkit.importer.riders_file import Entry
from lapkit.importer.run_names import RunNames
from lapkit.library.run import FilePath, Run, measure
from lapkit.measuring.course_source import course_for
from lapkit.measuring.inputs import own_track
from lapkit.measuring.options import Options
from lapkit.measuring.runs import LoggedRun, by_rider, logs_of

_OnUnusable = Callable[[Unusable], None]

_TO_GO_ON = "To go on without such logs, call event_runs with on_unusable=print."


def event_runs(
    folder: FilePath,
    *,
    track: FilePath | None = None,
    line: FilePath | None = None,
    columns: Mapping[str, str] | None = None,
    on_unusable: _OnUnusable | None = None,
) -> Iterator[Run]:
    """Measure the runs of an event folder one by one, as they are asked for.

    Each run holds its path, so keep only those that you need. A file with several runs or riders gives
    several, and no two runs of a rider share a name.

    Args:
        folder: holds ``riders.csv`` (heights in metres in it are used), the logs it names and
            ``track.geojson``.
        track: another track file than the folder's own; without any the course is found from the logs.
        line: the coach's own log, whose mean lap is the marker line.
        columns: for CSV files, which header holds what; see :func:`read_log`.
        on_unusable: called for each log that cannot be used, which is then left out; without it the error is
            raised.

    Raises:
        EventError: the folder cannot be used.
        OptionError: ``line`` without a track file.
        LapkitError: a log cannot be used and ``on_unusable`` was not given.
    """
    entries = read_event_folder(Path(folder)).entries
    chosen = Path(track) if track else own_track(Path(folder))
    course = course_for(entries, chosen, Path(line) if line else None, Options.reading(columns))
    names = RunNames()
    for entry in entries:
        for rider, named, log in _logs(entry, columns, on_unusable):
            session = names.free(rider, named)
            try:
                run = measure(log, course, rider=rider, session=session, heights=entry.heights)
            except LapkitError as error:
                _hand_over(Unusable(rider, session, entry.file, error.what), error, on_unusable)
            else:
                names.take(rider, session)
                yield run


def _logs(
    entry: Entry, columns: Mapping[str, str] | None, on_unusable: _OnUnusable | None
) -> list[LoggedRun]:
    """The runs in an entry's file; none when it cannot be used."""
    try:
        return list(by_rider(logs_of(entry, Options.reading(columns)), entry))
    except LapkitError as error:
        _hand_over(Unusable(entry.rider, entry.session, entry.file, error.what), error, on_unusable)
        return []


def _hand_over(what: Unusable, error: LapkitError, on_unusable: _OnUnusable | None) -> None:
    if on_unusable is None:
        remedy = " ".join(filter(None, (error.remedy, _TO_GO_ON)))
        raise type(error)(error.what, where=error.where, remedy=remedy) from error.__cause__
    on_unusable(what)
