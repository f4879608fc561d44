"""An event is dated by its own days, and not by a log that strayed in."""

import pytest

from lapkit.days import event_began, own_and_strays

DAY = ["2031-06-14T09:00:00.000Z", "2031-06-14T11:00:00.000Z", "2031-06-14T16:00:00.000Z"]
NEXT = ["2031-06-15T09:00:00.000Z", "2031-06-15T11:00:00.000Z"]


@pytest.mark.parametrize("stray", ["2031-05-01T10:00:00.000Z", "2032-01-01T10:00:00.000Z"])
def test_a_log_of_another_day_does_not_date_the_event(stray):
    assert event_began([stray, *DAY[::-1]]) == DAY[0]
    assert own_and_strays([DAY[1], "", stray, DAY[0], DAY[2]]) == ([3, 0, 4], [2])


def test_an_event_of_several_days_began_on_the_first():
    assert event_began([*DAY, *NEXT]) == DAY[0]
    assert event_began([*NEXT, *DAY]) == DAY[0]
    assert own_and_strays([*NEXT, *DAY]) == ([2, 3, 4, 0, 1], [])


def test_runs_without_a_date_have_no_day():
    assert event_began(["", DAY[1], ""]) == DAY[1]
    assert event_began(["", ""]) == "" == event_began([])
