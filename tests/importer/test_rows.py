"""Rows that are left out, and what becomes of the others."""

import numpy as np

from lapkit.importer.fixes import RawFixes
from lapkit.importer.log import Dropped
from lapkit.importer.rows import Rows


def rows(count=6):
    told = (Dropped("cut short", 2),)
    return Rows.all_of(
        RawFixes(
            np.arange(float(count)), np.arange(count) + 50.0, -np.arange(float(count)), dropped=told
        )
    )


def test_all_rows_are_in_use_at_first_and_not_copied():
    mine = rows()
    assert len(mine) == 6
    assert mine.time_s is mine.raw.time_s
    assert mine.dropped == [Dropped("cut short", 2)]


def test_rows_left_out_are_counted_and_gone_from_every_column():
    mine = rows()
    mine.leave_out(mine.time_s < 2.0, "too early")
    mine.leave_out(mine.time_s > 4.0, "too late")
    assert mine.time_s.tolist() == [2.0, 3.0, 4.0]
    assert mine.lat_deg.tolist() == [52.0, 53.0, 54.0]
    assert mine.lon_deg.tolist() == [-2.0, -3.0, -4.0]
    assert mine.dropped[1:] == [Dropped("too early", 2), Dropped("too late", 1)]


def test_where_no_row_is_left_out_nothing_is_said():
    mine = rows()
    mine.leave_out(mine.time_s < 0.0, "before the beginning")
    assert len(mine.dropped) == 1


def test_stretches_stay_together_when_rows_are_left_out():
    mine = rows()
    assert mine.stretches() == [slice(0, 6)]
    mine.stretch = np.array([0, 0, 1, 1, 1, 2])
    mine.leave_out(np.array([False, True, False, False, False, False]), "gone")
    assert mine.stretches() == [slice(0, 1), slice(1, 4), slice(4, 5)]
    mine.leave_out(np.ones(5, dtype=bool), "gone too")
    assert mine.stretches() == []


def test_each_stretch_is_flagged_by_itself():
    mine = rows()
    mine.stretch = np.array([0, 0, 1, 1, 1, 2])
    first = mine.flag_stretches(lambda t, _: t == t[0], mine.time_s, mine.lat_deg)
    assert np.flatnonzero(first).tolist() == [0, 2, 5]


def test_other_times_are_those_of_the_rows_in_use_alone():
    mine = rows(4)
    as_read = mine.raw
    mine.leave_out(np.array([True, False, False, False]), "gone")
    mine.redate(mine.time_s + 10.0, Dropped("late", 3, done="dated anew"))
    assert mine.time_s.tolist() == [11.0, 12.0, 13.0]
    assert mine.raw.time_s[0] == 0.0
    assert as_read.time_s.tolist() == [0.0, 1.0, 2.0, 3.0]
    assert mine.dropped[-1].done == "dated anew"
