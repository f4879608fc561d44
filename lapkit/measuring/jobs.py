"""An event's logs as jobs: which results an earlier run left, and who measures the rest."""

from __future__ import annotations

import pickle
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Executor
from functools import lru_cache, partial

from lapkit.compare.results import LogResults
from lapkit.course.course import Course
from lapkit.importer.riders_file import Entry
from lapkit.measuring.cluster import in_order
from lapkit.measuring.course_source import course_for
from lapkit.measuring.inputs import Given
from lapkit.measuring.options import Options
from lapkit.measuring.packed import Keep, pack, unpack
from lapkit.measuring.runs import log_beside, measure_entry
from lapkit.path.base import base_error


def course_and_job(
    entries: tuple[Entry, ...], given: Given, options: Options
) -> tuple[Course, Callable[[Entry], LogResults]]:
    """The course, placed from its track file or found from the logs, and how to measure an entry on it.

    The job carries the placed course, pickled once: a worker unpacks it far sooner than it could solve its
    marker line.

    Raises:
        OptionError: the coach's log without a track file.
        LapkitError: the track file, the coach's log or the base log cannot be used, or no course is found.
    """
    course = course_for(entries, given.track, given.line, options)
    # Read here, not with each rider's log: if it cannot be read, the event stops.
    error = None
    if given.base is not None:
        error = base_error(course, log_beside(given.base, options))
    return course, partial(_measure, options=options, packed=pickle.dumps((course, error)))


_unpacked = lru_cache(maxsize=2)(pickle.loads)
"""A pickled course and base error, unpacked once a worker."""


def _measure(entry: Entry, options: Options, packed: bytes) -> LogResults:
    course, base = _unpacked(packed)
    return measure_entry(entry, course, options, base)


def _pack(entry: Entry, measure: Callable[[Entry], LogResults]) -> bytes:
    """What a worker does with one log, and what it sends back."""
    return pack(measure(entry))


def results_in_order(
    entries: Sequence[Entry],
    keys: Sequence[str],
    pool: Executor | None,
    measure: Callable[[Entry], LogResults],
    keep: Keep | None,
) -> Iterator[LogResults]:
    """Results in the order of the entries: an earlier run's where nothing changed, else measured now.

    Args:
        entries: what to measure.
        keys: one for each entry, made of all its results depend on (:meth:`lapkit.measuring.inputs.Inputs.job_keys`).
        pool: the executor that measures; this process when None.
        measure: how to measure an entry (:func:`course_and_job`).
        keep: where results are put on disk meanwhile, and where an earlier run's are; in memory when None.
    """
    earlier = [keep.take_over(key) if keep else None for key in keys]
    changed = [entry for entry, known in zip(entries, earlier, strict=True) if known is None]
    new = in_order(pool, partial(_pack, measure=measure), changed)
    for key, known in zip(keys, earlier, strict=True):
        if known is not None:
            yield known
        else:
            yield keep.put(key, next(new)) if keep else unpack(next(new))
