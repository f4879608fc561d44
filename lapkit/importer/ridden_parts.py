"""A whole day in one log → a log for each run: parted where the rider stood for minutes."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import numpy.typing as npt

from lapkit.importer.log import Dropped, Log
from lapkit.importer.repeats import offsets_m

STOOD_S = 300.0
"""Without riding for as long as this, what comes after is another run."""

KEPT_S = 120.0
"""Of the standing so much is kept with each run: it tells how far off the receiver was."""

# Whether it was ridden is judged for half a minute at once, so that a single wild fix is no ride.
_WINDOW_S = 30.0
_RIDING_MPS = 2.0  # faster than a machine is pushed
_SHORTEST_WINDOWS = 3  # less riding than these is a machine moved about


def part_runs(log: Log) -> tuple[Log, ...]:
    """The runs in a log, in order; the log itself when there is only one.

    A machine that is moved for under a minute and a half between long stops makes no run. What is
    left out stands in ``dropped`` of every run, counted over the whole log.
    """
    runs = _runs(log)
    if len(runs) < 2:
        return (log,)
    start, stop = runs[:, 0] * _WINDOW_S, (runs[:, 1] + 1) * _WINDOW_S
    middle = (stop[:-1] + start[1:]) / 2
    begin = np.append(-np.inf, np.maximum(middle, start[1:] - KEPT_S))
    end = np.append(np.minimum(middle, stop[:-1] + KEPT_S), np.inf)
    since_s = log.time_s - log.time_s[0]
    kept = [(since_s >= b) & (since_s < e) for b, e in zip(begin, end, strict=True)]
    left_out = len(log) - int(sum(map(np.count_nonzero, kept)))
    dropped = (Dropped("of standing for minutes between runs", left_out),) if left_out else ()
    return tuple(
        replace(
            _counted_anew(log.part(rows)),
            dropped=log.dropped + dropped,
            notes=(
                *log.notes,
                f"run {number} of {len(runs)} that are in this log one after another",
            ),
        )
        for number, rows in enumerate(kept, 1)
    )


def _counted_anew(log: Log) -> Log:
    return log if log.has_clock else replace(log, time_s=log.time_s - log.time_s[0])


def _runs(log: Log) -> npt.NDArray[np.int64]:
    """First and last window of each run, shape ``(runs, 2)``."""
    if len(log) < 2 or log.time_s[-1] - log.time_s[0] < STOOD_S:
        return np.empty((0, 2), dtype=np.int64)
    stride = int(np.clip(np.round(log.rate_hz), 1, len(log) - 1))
    speed = np.hypot(*offsets_m(log.lat_deg, log.lon_deg, stride))
    speed /= log.time_s[stride:] - log.time_s[:-stride]
    window = ((log.time_s[:-stride] - log.time_s[0]) // _WINDOW_S).astype(np.int64)
    # A clock may leap by hours: only windows that have fixes are looked at.
    windows, at, fixes = np.unique(window, return_inverse=True, return_counts=True)
    riding = np.bincount(at, weights=speed > _RIDING_MPS) > 0.5 * fixes
    ridden = windows[riding]
    parts = np.split(ridden, np.flatnonzero(np.diff(ridden) > STOOD_S / _WINDOW_S) + 1)
    long = [(p[0], p[-1]) for p in parts if len(p) >= _SHORTEST_WINDOWS]
    return np.array(long, dtype=np.int64).reshape(-1, 2)
