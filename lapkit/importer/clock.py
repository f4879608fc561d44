"""What receivers' clocks do wrong, found from the times alone: impossible dates, wild times, jumps, steps back.

Every function takes the times of fixes in file order, ``(n,)``, seconds.
"""

from __future__ import annotations

import numpy as np

from lapkit.arrays import BoolArray, FloatArray, IntArray

FIRST_TIME_S = 315_964_800.0
"""1980-01-06T00:00:00Z, when GPS time begins: no receiver has logged before."""

LAST_TIME_S = 4_102_444_800.0
"""2100-01-01T00:00:00Z."""

JUMP_BACK_S = 5.0
"""A clock that goes back by more than this starts a new log; if it goes back by less, the fixes are left out."""

JUMP_AHEAD_S = 12 * 3600.0
"""A clock that goes ahead by more than this starts a new log: another day, or a clock set late."""

WILD_FIXES = 3
"""At most this many fixes in a row with times far from their neighbours' count as wild."""

SHORTEST_STRETCH = 10
"""A stretch of fewer fixes between two jumps of the clock is a scrap."""

MOST_STRETCHES = 100
"""Of the stretches between jumps of the clock at most this many are kept, the longest ones."""


def is_never_set(time_s: FloatArray) -> bool:
    """Whether most dates are impossible: the clock was never set, but its seconds may be right all the same."""
    known = time_s[np.isfinite(time_s)]
    return bool(len(known)) and not FIRST_TIME_S <= np.median(known) < LAST_TIME_S


def impossible_dates(time_s: FloatArray) -> BoolArray:
    """Which times lie before any receiver logged, or after this century; ``(n,)``."""
    return (time_s < FIRST_TIME_S) | (time_s >= LAST_TIME_S)


def wild_times(time_s: FloatArray) -> BoolArray:
    """Which fixes, up to :data:`WILD_FIXES` in a row, lie where the clock leaps and comes back; ``(n,)``."""
    wild = np.zeros(len(time_s), dtype=bool)
    # The clock falls back where it returns from a leap ahead, and where a leap back begins.
    last = np.flatnonzero(np.diff(time_s) < -JUMP_BACK_S)  # the row before each fall
    for size in range(1, WILD_FIXES + 1):
        # A leap ahead ends in the fall: the row before it is earlier than the row after the fall.
        before = last - size
        ahead = (before >= 0) & (time_s[np.maximum(before, 0)] < time_s[last + 1])
        # A leap back begins with the fall: the row after it is later than the row before the fall.
        after = last + 1 + size
        behind = (after < len(time_s)) & (time_s[np.minimum(after, len(time_s) - 1)] > time_s[last])
        behind &= ~ahead
        for k in range(size):
            wild[last[ahead] - k] = True
            wild[last[behind] + 1 + k] = True
        last = last[~(ahead | behind)]
    return wild


def stretch_of_each(time_s: FloatArray) -> IntArray:
    """Which stretch between two jumps of the clock each fix lies in, counted from 0; ``(n,)``."""
    step = np.diff(time_s, prepend=time_s[:1])
    return np.cumsum((step < -JUMP_BACK_S) | (step > JUMP_AHEAD_S))


def in_scraps(stretch: IntArray) -> BoolArray:
    """Which fixes lie in a stretch that is not worth keeping, ``(n,)``.

    A stretch is kept that has :data:`SHORTEST_STRETCH` fixes or more and is among the :data:`MOST_STRETCHES`
    longest. Where every one is shorter, the longest is kept.

    Args:
        stretch: as from :func:`stretch_of_each`, ``(n,)``.
    """
    sizes = np.bincount(stretch)
    longest_first = np.argsort(-sizes, kind="stable")[:MOST_STRETCHES]
    kept = longest_first[sizes[longest_first] >= SHORTEST_STRETCH]
    return ~np.isin(stretch, kept if len(kept) else longest_first[:1])


def repeats_latest(time_s: FloatArray) -> BoolArray:
    """Which fixes carry the latest time of all before them once more; ``(n,)``."""
    return time_s == _latest_before(time_s)


def goes_back(time_s: FloatArray) -> BoolArray:
    """Which fixes are earlier than one before them; ``(n,)``."""
    return time_s < _latest_before(time_s)


def _latest_before(time_s: FloatArray) -> FloatArray:
    return np.maximum.accumulate(np.append(-np.inf, time_s))[:-1]
