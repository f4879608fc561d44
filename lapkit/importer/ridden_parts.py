"""A whole day in one log → a log for each run, parted where the rider stood for minutes."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from lapkit.arrays import BoolArray, IntArray
from lapkit.coordinates import offsets_m
from lapkit.importer.log import Dropped, Log

STOOD_S = 300.0
"""What comes after this long without riding is another run, seconds."""

KEPT_S = 120.0
"""A run keeps this much of the standing before and after it, seconds: it shows how far off the receiver was."""

# Riding is judged for half a minute at once, so that a single wild fix is no ride.
_WINDOW_S = 30.0
_RIDING_MPS = 2.0  # faster than a machine is pushed
_FEWEST_WINDOWS = 3  # less riding is a machine moved about


def part_runs(log: Log) -> tuple[Log, ...]:
    """The runs in a log, in order; the log itself when there is only one.

    A machine that is moved for under a minute and a half between long stops makes no run. ``dropped`` of every
    run counts what was left out of the whole log.
    """
    runs = _runs(log)
    if len(runs) < 2:
        return (log,)
    kept = _kept_with(runs, log)
    left_out = len(log) - sum(int(np.count_nonzero(rows)) for rows in kept)
    dropped = log.dropped
    if left_out:
        dropped += (Dropped("of standing for minutes between runs", left_out),)
    parts = []
    for number, rows in enumerate(kept, 1):
        note = f"run {number} of {len(runs)} that are in this log one after another"
        part = _from_own_start(log.part(rows))
        parts.append(replace(part, dropped=dropped, notes=(*log.notes, note)))
    return tuple(parts)


def _runs(log: Log) -> IntArray:
    """First and last window of each run, counted from the first fix, shape ``(runs, 2)``."""
    if len(log) < 2 or log.time_s[-1] - log.time_s[0] < STOOD_S:
        return np.empty((0, 2), dtype=np.int64)
    stride = int(np.clip(np.round(log.rate_hz), 1, len(log) - 1))
    speed = np.hypot(*offsets_m(log.lat_deg, log.lon_deg, stride))
    speed /= log.time_s[stride:] - log.time_s[:-stride]
    window = ((log.time_s[:-stride] - log.time_s[0]) // _WINDOW_S).astype(np.int64)
    # Only windows with fixes are looked at, because a clock may leap by hours.
    windows, window_of_fix, fixes = np.unique(window, return_inverse=True, return_counts=True)
    ridden = windows[np.bincount(window_of_fix, weights=speed > _RIDING_MPS) > 0.5 * fixes]
    after_a_stop = np.flatnonzero(np.diff(ridden) > STOOD_S / _WINDOW_S) + 1
    runs = [
        (windows_of_run[0], windows_of_run[-1])
        for windows_of_run in np.split(ridden, after_a_stop)
        if len(windows_of_run) >= _FEWEST_WINDOWS
    ]
    return np.array(runs, dtype=np.int64).reshape(-1, 2)


def _kept_with(runs: IntArray, log: Log) -> list[BoolArray]:
    """Which fixes of the log go with each of its runs, ``(n,)`` a run.

    Of standing between two runs :data:`KEPT_S` are kept with either, which is less than half of the shortest. What comes
    before the first run and after the last is kept whole.
    """
    start_s, stop_s = runs[:, 0] * _WINDOW_S, (runs[:, 1] + 1) * _WINDOW_S
    begin_s = np.append(-np.inf, start_s[1:] - KEPT_S)
    end_s = np.append(stop_s[:-1] + KEPT_S, np.inf)
    since_s = log.time_s - log.time_s[0]
    return [(since_s >= begin) & (since_s < end) for begin, end in zip(begin_s, end_s, strict=True)]


def _from_own_start(log: Log) -> Log:
    """A log without a clock counts its times from its own first fix."""
    return log if log.has_clock else replace(log, time_s=log.time_s - log.time_s[0])
