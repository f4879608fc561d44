"""Raw fixes → logs: the impossible is left out and counted, and a clock jump starts a new log.

All readers share these rules, so that a fault is treated alike in every format.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from typing import Any, Protocol

import numpy as np
import numpy.typing as npt

from lapkit.errors import LogError
from lapkit.importer.fixes import RawFixes
from lapkit.importer.log import Dropped, Log
from lapkit.importer.plausible import one_turn, plausible
from lapkit.importer.repeats import fresh_rows
from lapkit.units import FloatArray

BoolArray = npt.NDArray[np.bool_]
IntArray = npt.NDArray[np.int64]

JUMP_BACK_S = 5.0
"""A clock that goes back by more than this starts a new log; by less, the fixes are left out."""

JUMP_AHEAD_S = 12 * 3600.0
"""A clock that goes ahead by more than this starts a new log: another day, or a clock set late."""

SPIKE_FIXES = 3
"""At most so many fixes in a row with a time far from their neighbours' are taken as wild times."""

SHORTEST_PART = 10
"""A stretch of fewer fixes between clock jumps is a scrap, left out when a longer one exists."""

MOST_PARTS = 100
"""Only so many stretches between clock jumps are kept, the longest ones."""

FIRST_TIME_S = 315_964_800.0
"""1980-01-06T00:00:00Z, when GPS time begins: no receiver has logged before."""

LAST_TIME_S = 4_102_444_800.0
"""2100-01-01T00:00:00Z."""

# So many times with two places so far apart (some 50 m) are no receiver's doing.
_TWO_PLACES = 20
_FAR_APART_DEG = 5e-4

_NEVER_SET = "the dates in the file are impossible, so times count from the first fix"

EQUAL_TIME = "repeating the time of an earlier fix"
"""Why a fix was left out whose time another one has already."""


@dataclass(eq=False)
class _Rows:
    """The rows that are left, as indices into the raw columns, and what was dropped so far."""

    raw: RawFixes
    index: IntArray
    dropped: list[Dropped]

    @property
    def time_s(self) -> FloatArray:
        return self.left(self.raw.time_s)

    def left(self, column: FloatArray) -> FloatArray:
        """The values of the rows left; the column itself, uncopied, while nothing was dropped."""
        return column if len(self.index) == len(column) else column[self.index]

    def drop(self, bad: BoolArray, reason: str) -> None:
        """Leave out the rows for which ``bad``, of one flag per row left, is true."""
        count = int(np.count_nonzero(bad))
        if count:
            self.dropped.append(Dropped(reason, count))
            self.index = self.index[~bad]


class Origin(Protocol):
    """Where fixes are from."""

    @property
    def name(self) -> str:
        """For messages."""

    @property
    def sha256(self) -> str:
        """Of the file; empty where it is no matter."""


def clean(raw: RawFixes, source: Origin) -> tuple[Log, ...]:
    """The logs in one file, in the file's order: one, unless its clock jumps.

    Counts in ``dropped`` are those of the whole file and stand on each of its logs.

    Raises:
        LogError: no fix is usable; says why.
    """
    rows = _Rows(raw, np.arange(len(raw.time_s)), list(raw.dropped))
    never_set = raw.has_clock and _calendar_is_wrong(raw)
    has_clock = raw.has_clock and not never_set
    notes = (*raw.notes, _NEVER_SET) if never_set else raw.notes
    if raw.void is not None:
        rows.drop(raw.void, "marked by the receiver as void")
    _drop_positions(rows)
    _drop_times(rows, has_clock)
    label = _drop_backward(rows, _drop_short_parts(rows), source)
    label = _drop_repeats(rows, label)
    if not len(label):
        raise _nothing_left(rows, source)
    judged = {name: plausible(name, rows.left(values)) for name, values in raw.channels.items()}
    # By the names of a log's own fields.
    channels: dict[str, Any] = {name: values for name, (values, _) in judged.items()}
    lon_deg, turned = one_turn(rows.left(raw.lon_deg))
    altered = (*(one for _, dropped in judged.values() for one in dropped), *turned)
    lat_deg, time_s = rows.left(raw.lat_deg), rows.time_s
    return tuple(
        Log(
            source=source.name,
            sha256=source.sha256,
            time_s=time_s[part] if has_clock else time_s[part] - time_s[part.start],
            lat_deg=lat_deg[part],
            lon_deg=lon_deg[part],
            has_clock=has_clock,
            dropped=(*rows.dropped, *altered),
            guesses=dict(raw.guesses),
            notes=notes,
            **{name: values[part] for name, values in channels.items() if values is not None},
        )
        for part in _stretches(label)
    )


def _calendar_is_wrong(raw: RawFixes) -> bool:
    """Whether most dates are impossible: then the steps of time may be right all the same."""
    known = raw.time_s[np.isfinite(raw.time_s)]
    return bool(len(known)) and not FIRST_TIME_S <= np.median(known) < LAST_TIME_S


def _drop_positions(rows: _Rows) -> None:
    raw = rows.raw
    lat, lon = raw.lat_deg, raw.lon_deg
    with np.errstate(invalid="ignore"):
        missing = ~(np.isfinite(lat) & np.isfinite(lon))
        rows.drop(missing[rows.index], "without a readable position")
        beyond = (np.abs(lat) > 90) | (np.abs(lon) > 360)
        rows.drop(beyond[rows.index], "with a latitude or longitude beyond the globe")
    rows.drop(((lat == 0) & (lon == 0))[rows.index], "at position 0, 0 (which means no fix)")


def _drop_times(rows: _Rows, has_clock: bool) -> None:
    rows.drop(~np.isfinite(rows.time_s), "without a readable time")
    if has_clock:
        time_s = rows.time_s
        rows.drop((time_s < FIRST_TIME_S) | (time_s >= LAST_TIME_S), "at an impossible date")
    rows.drop(_spikes(rows.time_s), "with a wild time")


def _spikes(time_s: FloatArray) -> BoolArray:
    """Up to :data:`SPIKE_FIXES` rows in a row whose clock leaps and comes back."""
    wild = np.zeros(len(time_s), dtype=bool)
    back = np.flatnonzero(np.diff(time_s) < -JUMP_BACK_S)
    for size in range(1, SPIKE_FIXES + 1):
        # Ahead and back again: the row before the spike is earlier than the row after it.
        before = back - size
        ahead = (before >= 0) & (time_s[np.maximum(before, 0)] < time_s[back + 1])
        # Back and ahead again: the row after the spike is later than the row before it.
        after = back + 1 + size
        behind = (after < len(time_s)) & (time_s[np.minimum(after, len(time_s) - 1)] > time_s[back])
        behind &= ~ahead
        for k in range(size):
            wild[back[ahead] - k] = True
            wild[back[behind] + 1 + k] = True
        back = back[~(ahead | behind)]
    return wild


def _drop_short_parts(rows: _Rows) -> IntArray:
    """Cut where the clock jumps and leave out the scraps; returns the part each row left is in.

    When every part is a scrap, the longest one stays.
    """
    if not len(rows.index):
        return rows.index
    step = np.diff(rows.time_s)
    jump = (step < -JUMP_BACK_S) | (step > JUMP_AHEAD_S)
    label = np.concatenate([[0], np.cumsum(jump)])
    sizes = np.bincount(label)
    longest = np.argsort(-sizes, kind="stable")
    kept = longest[:MOST_PARTS][sizes[longest[:MOST_PARTS]] >= SHORTEST_PART]
    keep = np.isin(label, kept if len(kept) else longest[:1])
    rows.drop(~keep, "in a scrap between clock jumps")
    return label[keep]


def _drop_backward(rows: _Rows, label: IntArray, source: Origin) -> IntArray:
    """Leave out, within each part, what is not later than everything before it."""
    time_s = rows.time_s
    same = np.zeros(len(label), dtype=bool)
    back = np.zeros(len(label), dtype=bool)
    for part in _stretches(label):
        highest = np.maximum.accumulate(time_s[part])[:-1]
        same[part][1:] = time_s[part][1:] == highest
        back[part][1:] = time_s[part][1:] < highest
    _refuse_two_at_once(rows, same, source)
    rows.drop(same, EQUAL_TIME)
    rows.drop(back[~same], "going back in time")
    return label[~same & ~back]


def _refuse_two_at_once(rows: _Rows, same: BoolArray, source: Origin) -> None:
    """Fixes of several riders that take turns: at many times there are two places far apart."""
    if np.count_nonzero(same) < _TWO_PLACES:
        return
    kept = np.maximum.accumulate(np.where(same, 0, np.arange(len(same))))[same]
    apart = np.zeros(len(kept), dtype=bool)
    for values in (rows.left(rows.raw.lat_deg), rows.left(rows.raw.lon_deg)):
        apart |= np.abs(values[same] - values[kept]) > _FAR_APART_DEG
    times = int(np.count_nonzero(apart))
    if times >= max(_TWO_PLACES, len(same) / 10):
        raise LogError(
            f"at {times} times it has two places far apart: its times are wrong, or fixes of several riders "
            "take turns in it",
            where=source.name,
            remedy="Export it again; give each rider a file of his own, or in a CSV name the column that "
            "tells them apart with --columns rider=HEADER",
        )


def _drop_repeats(rows: _Rows, label: IntArray) -> IntArray:
    fresh = np.ones(len(label), dtype=bool)
    for part in _stretches(label):
        index = rows.index[part]
        fresh[part] = fresh_rows(
            rows.raw.time_s[index], rows.raw.lat_deg[index], rows.raw.lon_deg[index]
        )
    rows.drop(~fresh, "repeating an old position")
    return label[fresh]


def _stretches(label: IntArray) -> list[slice]:
    """Each stretch of equal labels."""
    if not len(label):
        return []
    bounds = [0, *(np.flatnonzero(np.diff(label)) + 1).tolist(), len(label)]
    return [slice(start, stop) for start, stop in itertools.pairwise(bounds)]


def _nothing_left(rows: _Rows, source: Origin) -> LogError:
    reasons = "; ".join([*(d.text for d in rows.dropped), *rows.raw.notes])
    total = len(rows.raw.time_s)
    what = "it holds no fix"
    if total:
        what = (
            "its only fix cannot be used"
            if total == 1
            else f"none of its {total} fixes can be used"
        )
    return LogError(
        f"{what} ({reasons})" if reasons else what,
        where=source.name,
        remedy="Check that the receiver had a fix and wrote position and time",
    )
