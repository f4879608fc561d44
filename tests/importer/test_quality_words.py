"""Sentences about a log's quality."""

import numpy as np
import pytest

from lapkit.importer import quality_words as words
from lapkit.importer.log import Log
from lapkit.units import KMH_MPS


def log(rate_hz, seconds=120.0, **channels):
    time_s = np.arange(0.0, seconds, 1.0 / rate_hz)
    blank = np.zeros(len(time_s))
    return Log(
        "a", "", time_s, blank, blank, **{n: np.full(len(time_s), v) for n, v in channels.items()}
    )


@pytest.mark.parametrize(
    ("note", "told"),
    [("the file breaks off", "The file breaks off."), ("It did.", "It did."), ("", ".")],
)
def test_a_note_becomes_a_sentence(note, told):
    assert words.sentence(note) == told


@pytest.mark.parametrize(
    ("rate_hz", "begins"),
    [
        (10.0, "10 fixes a second over 2.0 min, "),
        (1.0, "1 fix a second over 2.0 min, "),
        (0.5, "0.5 fixes a second over 2.0 min, "),
        (0.25, "A fix every 4 s over 1.9 min, "),
    ],
)
def test_the_rate_is_given_so_that_it_can_be_pictured(rate_hz, begins):
    assert words.rate_sentence(log(rate_hz)).startswith(begins)


@pytest.mark.parametrize(
    ("channels", "ends"),
    [
        ({"speed_mps": 1.0, "heading_deg": 2.0}, "with speed and heading."),
        ({}, "without speed and heading."),
        ({"speed_mps": 1.0}, "with speed but without heading, so by positions alone."),
        (
            {"heading_deg": 1.0, "speed_mps": np.nan},
            "with heading but without speed, so by positions alone.",
        ),
    ],
)
def test_what_a_velocity_lacks_is_named(channels, ends):
    assert words.rate_sentence(log(1.0, **channels)).endswith(ends)


def test_fixes_in_a_bend_are_counted_at_the_pace():
    # Derived: a quarter turn of 30 m radius is 47.1 m, which at 72 km/h and 1 Hz has 2.4 fixes.
    told = words.no_radius_sentence(1.0, 72.0 * KMH_MPS)
    assert told.startswith(
        "At 72 km/h, the pace of its slower parts, a quarter turn of 30 m radius has 2.4"
    )


def test_a_radius_that_is_lost_when_he_rides_faster_is_told_with_why():
    told = words.radius_sentence(2.0, 36.0 * KMH_MPS, 21.0, also_faster=False)
    assert (
        "bends down to 21 m radius. At 80 km/h a quarter turn of 30 m radius has 4.2 fixes" in told
    )
    assert told.endswith("too few for a radius. Set the receiver to 5 Hz or more.")
    # Ten a second, but positions in coarse steps: more fixes would not help.
    for rate_hz in (10.0, 4.9):
        told = words.radius_sentence(rate_hz, 10.0, 44.0, also_faster=False)
        assert told.endswith("for a radius.")
    assert "80 km/h" not in words.radius_sentence(2.0, 36.0 * KMH_MPS, 21.0, also_faster=True)


def test_faults_of_steps_speed_and_heading_are_told_with_their_size():
    assert "steps of 1.1 m" in words.step_sentence(1.112)
    assert "3.60 times" in words.speed_sentence(3.6)
    assert "90° off" in words.heading_sentence(89.7)
