"""The result of an event: its riders by name, and what it shows of itself."""

import pytest

from lapkit.errors import OptionError
from lapkit.findings import RiderReview
from lapkit.measuring.reviews import EventReview


def review(*names, title="Spring"):
    riders = tuple(RiderReview(name, "", (), ()) for name in names)
    return EventReview(None, riders, (), {}, title=title)


def test_a_rider_is_found_by_name_and_a_mistyped_one_gets_the_nearest():
    both = review("Ada", "Bo")
    assert both.rider("Bo") is both.riders[1]
    with pytest.raises(OptionError, match=r"no rider 'Adda'.*Did you mean 'Ada'"):
        both.rider("Adda")


def test_it_shows_its_title_and_riders_and_no_table():
    assert repr(review("Ada", "Bo")) == "<EventReview of Spring: Ada, Bo>"


def test_names_cannot_drive_the_terminal_that_shows_them():
    shown = repr(review("A\x1b[31mda", title="\u202egnirpS"))
    assert "\x1b" not in shown and "\u202e" not in shown
