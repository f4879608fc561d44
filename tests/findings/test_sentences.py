import pytest

from lapkit.findings import sentences
from lapkit.units import Units


def test_how_often():
    assert sentences.often(6, 8) == "in 6 of 8 laps"
    assert sentences.often(1, 8) == "in one of 8 laps"
    assert sentences.often(8, 8) == "in all 8 laps"
    assert sentences.often(0, 8) == "in none of 8 laps"
    assert sentences.often(1, 1) == "in the one lap"


@pytest.mark.parametrize(
    ("p", "words"),
    [(1.0, "almost certain"), (0.97, "very likely"), (0.9, "likely"), (0.6, "not certain")],
)
def test_how_sure_in_words(p, words):
    assert sentences.sure(p) == words


@pytest.mark.parametrize(
    ("name", "what", "words"),
    [("exit", "cone", "exit cone"), ("Exit cone", "cone", "Exit cone"), ("", "cone", "cone"),
     ("second seam", "seam", "second seam"), ("A", "seam", "seam A"), ("seam 1", "seam", "first seam"),
     ("2", "seam", "second seam"), ("seam 12", "seam", "seam 12")],
)  # fmt: skip
def test_a_thing_is_named_once(name, what, words):
    assert sentences.thing(name, what) == words


def test_units_are_known_in_any_case():
    assert Units.named("US") is Units.US


def test_how_many_laps_count():
    assert sentences.these_count(2, 5) == "2 of these 5 laps count"
    assert sentences.these_count(1, 5) == "One of these 5 laps counts"
    assert sentences.these_count(3, 3) == "All 3 laps count"
    assert sentences.these_count(1, 1) == "It counts"
