"""Raw fixes → logs: the impossible is left out and counted, and a jump of the clock starts a new log.

All readers share these rules, so that a fault is treated alike in every format.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np

from lapkit.arrays import BoolArray, FloatArray
from lapkit.errors import LogError
from lapkit.importer import clock
from lapkit.importer.clock_steps import clock_steps
from lapkit.importer.fixes import RawFixes
from lapkit.importer.log import Dropped, Log
from lapkit.importer.plausible import one_turn, plausible
from lapkit.importer.repeats import fresh_rows, stalled_rows
from lapkit.importer.resampled import drawn_between
from lapkit.importer.rows import Rows
from lapkit.importer.unmeasured import leapt, unmeasured

EQUAL_TIME = "repeating the time of an earlier fix"
"""Why a fix was left out whose time another one has already."""

VELOCITY = ("speed_mps", "heading_deg")
"""The channels that make a velocity."""

_NEVER_SET = "the dates in the file are impossible, so times count from the first fix"

# Two places at one time, some 50 m apart: no single receiver does that twenty times and in one fix of ten.
_FAR_APART_DEG = 5e-4
_TWO_PLACES = 20
_ONE_FIX_IN = 10


def clean(raw: RawFixes, source: str, sha256: str = "") -> tuple[Log, ...]:
    """The logs in one file, in the file's order: one, unless its clock jumps.

    Each of them carries in ``dropped`` the counts of the whole file.

    Args:
        raw: its rows.
        source: what it is called, in messages too.
        sha256: its hash; empty where that is not needed.

    Raises:
        LogError: no fix is usable, or fixes of several riders are mixed; says why.
    """
    raw = raw.oldest_first()
    # A clock that was never set still counts seconds: its dates are no reason to leave fixes out.
    never_set = raw.has_clock and clock.is_never_set(raw.time_s)
    has_clock = raw.has_clock and not never_set
    rows = Rows.all_of(raw)
    if raw.void is not None:
        rows.leave_out(raw.void, "marked by the receiver as void")
    _leave_out_impossible_positions(rows)
    _leave_out_impossible_times(rows, has_clock=has_clock)
    _date_by_the_clock_set_right(rows)
    rows.stretch = clock.stretch_of_each(rows.time_s)
    rows.leave_out(clock.in_scraps(rows.stretch), "in a scrap between clock jumps")
    _leave_out_equal_and_backward_times(rows, source)
    repeat = ~rows.flag_stretches(fresh_rows, rows.time_s, rows.lat_deg, rows.lon_deg)
    rows.leave_out(repeat, "repeating an old position")
    stalled = rows.flag_stretches(stalled_rows, *_places_and_velocities(rows))
    rows.leave_out(stalled, "written on by the logger while the rider rode on")
    drawn = rows.flag_stretches(drawn_between, rows.time_s, rows.lat_deg, rows.lon_deg)
    rows.leave_out(drawn, "drawn between two others by an export that resamples")
    if not len(rows):
        raise _nothing_left(rows, source)
    notes = (*raw.notes, _NEVER_SET) if never_set else raw.notes
    return tuple(_logs(rows, source, sha256, has_clock, notes))


def _leave_out_impossible_positions(rows: Rows) -> None:
    readable = np.isfinite(rows.lat_deg) & np.isfinite(rows.lon_deg)
    rows.leave_out(~readable, "without a readable position")
    beyond = (np.abs(rows.lat_deg) > 90) | (np.abs(rows.lon_deg) > 360)
    rows.leave_out(beyond, "with a latitude or longitude beyond the globe")
    nowhere = (rows.lat_deg == 0) & (rows.lon_deg == 0)
    rows.leave_out(nowhere, "at position 0, 0 (which means no fix)")


def _leave_out_impossible_times(rows: Rows, *, has_clock: bool) -> None:
    rows.leave_out(~np.isfinite(rows.time_s), "without a readable time")
    if has_clock:
        rows.leave_out(clock.impossible_dates(rows.time_s), "at an impossible date")
    rows.leave_out(clock.wild_times(rows.time_s), "with a wild time")


def _date_by_the_clock_set_right(rows: Rows) -> None:
    """Date what was logged before a clock was set in mid-ride by what the clock said afterwards.

    A clock is set because it was wrong, so the later times are taken to be the right ones.
    """
    steps_s = clock_steps(rows.time_s, rows.lat_deg, rows.lon_deg)
    at = np.flatnonzero(steps_s)
    if not len(at):
        return
    # Each fix is late by all the steps that come behind it.
    late_s = np.append(np.cumsum(steps_s[::-1])[::-1], 0.0)
    sizes = [f"{abs(step):.1f} s {'ahead' if step > 0 else 'back'}" for step in steps_s[at]]
    reason = f"before the clock stepped {' and '.join(sizes)} in mid-ride"
    altered = Dropped(reason, int(at[-1]) + 1, done="dated by what it said afterwards")
    rows.redate(rows.time_s + late_s, altered)


def _leave_out_equal_and_backward_times(rows: Rows, source: str) -> None:
    """Leave out, within each stretch, what is not later than everything before it."""
    equal = rows.flag_stretches(clock.repeats_latest, rows.time_s)
    back = rows.flag_stretches(clock.goes_back, rows.time_s)
    _refuse_two_places_at_once(rows, equal, later=~(equal | back), source=source)
    rows.leave_out(equal, EQUAL_TIME)
    rows.leave_out(back[~equal], "going back in time")


def _refuse_two_places_at_once(rows: Rows, equal: BoolArray, later: BoolArray, source: str) -> None:
    """Refuse fixes of several riders that take turns: at many times there are two places far apart.

    Args:
        rows: the rows in use.
        equal: which of them repeat the latest time of all before them, ``(n,)``.
        later: which of them are later than all before them, ``(n,)``.
        source: name of the file, for the message.

    Raises:
        LogError: there are more such times than any receiver could make.
    """
    if np.count_nonzero(equal) < _TWO_PLACES:
        return
    # The row that a time was read in first; rows between may go back in time.
    first = np.maximum.accumulate(np.where(later, np.arange(len(later)), 0))[equal]
    apart = np.zeros(len(first), dtype=bool)
    for degrees in (rows.lat_deg, rows.lon_deg):
        apart |= np.abs(degrees[equal] - degrees[first]) > _FAR_APART_DEG
    times = int(np.count_nonzero(apart))
    if times >= max(_TWO_PLACES, len(equal) / _ONE_FIX_IN):
        raise LogError(
            f"at {times} times it has two places far apart: its times are wrong, or fixes of several riders "
            "take turns in it",
            where=source,
            remedy="Export it again; give each rider a file of his own, or in a CSV name the column that "
            "tells them apart with --columns rider=HEADER",
        )


def _places_and_velocities(rows: Rows) -> tuple[FloatArray, ...]:
    """Times, latitudes, longitudes, speeds and headings of the rows in use, ``(n,)`` each; NaN for what is not logged."""
    none = np.full(len(rows), np.nan)
    velocity = (
        rows.in_use(rows.raw.channels[name]) if name in rows.raw.channels else none
        for name in VELOCITY
    )
    return rows.time_s, rows.lat_deg, rows.lon_deg, *velocity


def _without_velocity(rows: Rows, dropped: list[Dropped]) -> BoolArray:
    """Rows in use whose velocity was not measured, ``(n,)``; they are counted in ``dropped``."""
    time_s, lat_deg, lon_deg, speed, heading = _places_and_velocities(rows)
    stood = rows.flag_stretches(unmeasured, time_s, lat_deg, lon_deg, speed, heading)
    leaps = rows.flag_stretches(leapt, time_s, np.where(stood, np.nan, speed), heading)
    for flagged, reason in (
        (stood, "whose velocity stood still while the rider rode on"),
        (leaps, "whose velocity leapt away from those before and after"),
    ):
        if flagged.any():
            count = int(np.count_nonzero(flagged))
            dropped.append(Dropped(reason, count, done="used without it"))
    return stood | leaps


def _logs(
    rows: Rows, source: str, sha256: str, has_clock: bool, notes: tuple[str, ...]
) -> Iterator[Log]:
    """A log for each stretch between jumps of the clock, its channels without what cannot be meant."""
    raw, time_s, lat_deg = rows.raw, rows.time_s, rows.lat_deg
    dropped = list(rows.dropped)
    channels: dict[str, Any] = {}  # by the names of a log's fields, each of its own type
    without = _without_velocity(rows, dropped)
    for name, column in raw.channels.items():
        logged = rows.in_use(column)
        if name in VELOCITY and without.any():
            logged = np.where(without, np.nan, logged)
        values, impossible = plausible(name, logged)
        dropped += impossible
        if values is not None:
            channels[name] = values
    lon_deg, turned = one_turn(rows.lon_deg)
    dropped += turned
    for stretch in rows.stretches():
        since_s = 0.0 if has_clock else time_s[stretch.start]
        yield Log(
            source=source,
            sha256=sha256,
            time_s=time_s[stretch] - since_s,
            lat_deg=lat_deg[stretch],
            lon_deg=lon_deg[stretch],
            has_clock=has_clock,
            breaks_off=raw.breaks_off,
            dropped=tuple(dropped),
            guesses=dict(raw.guesses),
            notes=notes,
            **{name: values[stretch] for name, values in channels.items()},
        )


def _nothing_left(rows: Rows, source: str) -> LogError:
    reasons = "; ".join([*(one.text for one in rows.dropped), *rows.raw.notes])
    total = len(rows.raw.time_s)
    if total == 0:
        what = "it holds no fix"
    elif total == 1:
        what = "its only fix cannot be used"
    else:
        what = f"none of its {total} fixes can be used"
    return LogError(
        f"{what} ({reasons})" if reasons else what,
        where=source,
        remedy="Check that the receiver had a fix and wrote position and time; if a spreadsheet has saved the "
        "file since, take it from the logger again",
    )
