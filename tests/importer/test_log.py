"""What a log holds and refuses."""

import numpy as np
import pytest

from lapkit.errors import LogError
from lapkit.importer.log import Dropped, Log


def log(time_s=(0.0, 0.5, 1.0, 3.0), **channels):
    time_s = np.asarray(time_s)
    return Log("ride.csv", "", time_s, 50.0 + time_s, time_s, **channels)


def test_channels_are_frozen_copies():
    speed = np.array([1.0, 2.0, 3.0, 4.0])
    mine = log(speed_mps=speed)
    speed[0] = 9.0
    assert mine.speed_mps.tolist() == [1.0, 2.0, 3.0, 4.0]
    assert not mine.speed_mps.flags.writeable


def test_a_channel_must_have_one_value_per_fix():
    with pytest.raises(LogError, match=r"ride\.csv: channel hdop has not one value per fix"):
        log(hdop=np.ones(3))


@pytest.mark.parametrize("times", [(0.0, 0.0), (1.0, 0.0), (0.0, np.nan)])
def test_times_must_increase(times):
    with pytest.raises(LogError, match="times do not increase"):
        log(times)


def test_a_velocity_takes_speed_and_heading_of_one_fix():
    nan = np.nan
    assert not log().has_velocity
    assert not log(speed_mps=np.ones(4)).has_velocity
    assert not log(speed_mps=[1, nan, nan, 1], heading_deg=[nan, 1, 1, nan]).has_velocity
    assert log(speed_mps=[1, nan, nan, 1], heading_deg=[nan, 1, 1, 1]).has_velocity


def test_the_rate_is_that_of_the_usual_step():
    assert log().rate_hz == 2.0
    assert np.isnan(log((1.0,)).rate_hz)


@pytest.mark.parametrize("digits", [2, 3])
def test_the_rate_is_true_where_times_were_rounded_and_a_fix_is_missing_now_and_then(digits):
    # By the median step it would be 16.7 and 17.9.
    times = np.round(np.delete(np.arange(0.0, 60.0, 1 / 18), np.arange(5, 1000, 10)), digits)
    assert log(times).rate_hz == pytest.approx(18.0, rel=2e-3)


def test_a_part_has_the_chosen_fixes_of_every_channel():
    part = log(speed_mps=[1, 2, 3, 4], rider="Ada").part(slice(1, 3))
    assert part.time_s.tolist() == [0.5, 1.0]
    assert part.speed_mps.tolist() == [2.0, 3.0]
    assert part.height_m is None
    assert part.rider == "Ada"


@pytest.mark.parametrize(
    ("dropped", "text"),
    [
        (Dropped("without a time", 1), "1 fix without a time was left out"),
        (Dropped("without a time", 3), "3 fixes without a time were left out"),
        (Dropped("cut short", 2, "NMEA sentence"), "2 NMEA sentences cut short were left out"),
        (Dropped("too fast", 1, done="used without it"), "1 fix too fast was used without it"),
    ],
)
def test_what_was_dropped_is_said_in_a_clause(dropped, text):
    assert dropped.text == text


def test_a_log_shows_itself_in_a_line_without_control_characters():
    assert repr(Log("a\x1b.csv", "", [0.0], [1.0], [2.0])) == "<Log a�.csv: 1 fix>"
