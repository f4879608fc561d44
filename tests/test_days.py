"""An event is dated by its own days where it was ridden, and not by a log that strayed in."""

from datetime import UTC, datetime

import pytest

from lapkit.days import event_began, in_words, local_day, own_and_strays

DAY = ["2031-06-14T09:00:00.000Z", "2031-06-14T11:00:00.000Z", "2031-06-14T16:00:00.000Z"]
NEXT = ["2031-06-15T09:00:00.000Z", "2031-06-15T11:00:00.000Z"]
NEW_ZEALAND, SYDNEY, KASHGAR, GALICIA, DENVER, HAWAII = 175.0, 151.0, 76.0, -8.5, -105.0, -157.0


@pytest.mark.parametrize(
    ("lon_deg", "zone", "clocks"),
    [
        # Clocks from seven in the morning to nine at night, summer time included.
        (NEW_ZEALAND, "+13:00", ("07:00", "21:00")),
        (NEW_ZEALAND, "+12:00", ("07:00", "21:00")),
        (SYDNEY, "+10:00", ("07:00", "21:00")),
        (KASHGAR, "+08:00", ("07:30", "23:00")),  # three hours ahead of the sun
        (GALICIA, "+02:00", ("07:00", "23:00")),
        (DENVER, "-06:00", ("06:00", "21:00")),
        (HAWAII, "-10:00", ("06:00", "21:00")),
        (0.0, "+00:00", ("04:00", "23:59")),
        (-180.0, "-12:00", ("06:00", "21:00")),
        (180.0, "+12:00", ("06:00", "21:00")),
    ],
)
def test_a_day_is_that_of_the_clock_on_the_wall(lon_deg, zone, clocks):
    for clock in clocks:
        on_the_wall = datetime.fromisoformat(f"2031-06-14T{clock}:00{zone}")
        start = on_the_wall.astimezone(UTC).isoformat()
        assert in_words(local_day(start, lon_deg)) == "14 June 2031"


def test_a_far_easterners_afternoon_logged_by_his_own_clock_stays_on_its_day():
    """A log without a zone is read as UTC."""
    for clock in ("09:00", "12:00", "15:30"):
        assert in_words(local_day(f"2031-06-14T{clock}:00Z", NEW_ZEALAND)) == "14 June 2031"


@pytest.mark.parametrize("stray", ["2031-05-01T10:00:00.000Z", "2032-01-01T10:00:00.000Z"])
def test_a_log_of_another_day_does_not_date_the_event(stray):
    assert event_began([stray, *DAY[::-1]], 0.0) == DAY[0]
    assert own_and_strays([DAY[1], "", stray, DAY[0], DAY[2]], 0.0) == ([3, 0, 4], [2])


def test_an_event_of_several_days_began_on_the_first():
    assert event_began([*DAY, *NEXT], 0.0) == DAY[0]
    assert event_began([*NEXT, *DAY], 0.0) == DAY[0]
    assert own_and_strays([*NEXT, *DAY], 0.0) == ([2, 3, 4, 0, 1], [])


def test_an_early_and_a_late_run_of_one_day_are_of_one_day():
    """Between them lie more hours than between an evening and the next morning."""
    early, late = "2031-06-14T05:30:00Z", "2031-06-14T19:00:00Z"
    morning = "2031-06-15T05:00:00Z"
    runs = [early, *DAY, late]
    assert own_and_strays(runs, 0.0)[1] == []
    assert own_and_strays([early, late, *[late] * 4, morning], 0.0)[1] == [6]


def test_the_same_hours_are_one_day_here_and_two_days_there():
    """Morning and evening in London are, in Sydney, an evening and the next morning."""
    runs = [f"2031-06-14T{clock}:00Z" for clock in ("22:00", "22:40", "23:20")]
    stray = "2031-06-14T08:00:00Z"
    assert own_and_strays([*runs, stray], SYDNEY)[1] == [3]
    assert own_and_strays([*runs, stray], 0.0)[1] == []


def test_a_race_through_the_night_is_of_one_day():
    hours = [f"2031-06-14T{hour:02}:00:00Z" for hour in range(22, 24)]
    hours += [f"2031-06-15T{hour:02}:00:00Z" for hour in range(22)]
    assert own_and_strays(hours, 0.0) == (list(range(24)), [])


def test_runs_without_a_date_have_no_day():
    assert event_began(["", DAY[1], ""], 0.0) == DAY[1]
    assert event_began(["", ""], 0.0) == "" == event_began([], 0.0)
