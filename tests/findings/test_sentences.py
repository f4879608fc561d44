"""The words of sentences: how often, which laps, how sure."""

import re

import numpy as np
import pytest

from lapkit.findings import Code, sentences


def test_how_often_is_said_in_numbers_but_none_both_and_all_in_words():
    assert sentences.often(6, 8) == "in 6 of 8 laps"
    assert sentences.often(1, 8) == "in one of 8 laps"
    assert sentences.often(8, 8) == "in all 8 laps"
    assert sentences.often(0, 8) == "in none of 8 laps"
    assert sentences.often(1, 1) == "in the one lap"
    assert sentences.often(0, 1) == "not in the one lap"
    assert sentences.often(2, 2) == "in both laps"
    assert sentences.often(1, 2) == "in one of 2 laps"
    assert sentences.often(0, 2) == "in neither lap"


def test_all_and_both_corners_are_said_in_words():
    assert sentences.at_corners(5, 7) == "at 5 of 7 corners"
    assert sentences.at_corners(7, 7) == "at all 7 corners"
    assert sentences.at_corners(2, 2) == "at both corners"


@pytest.mark.parametrize(
    ("p", "words"),
    [(1.0, "almost certain"), (0.97, "very likely"), (0.9, "likely"), (0.6, "not certain")],
)
def test_a_probability_is_said_in_words(p, words):
    assert sentences.sure(p) == words


@pytest.mark.parametrize(
    ("name", "words"), [("exit", "exit cone"), ("Exit cone", "Exit cone"), ("", "cone")]
)
def test_a_cone_is_called_a_cone_once(name, words):
    assert sentences.cone_called(name) == words


@pytest.mark.parametrize(
    ("name", "words"),
    [("second seam", "second seam"), ("A", "seam A"), ("seam 1", "first seam"), ("2", "second seam"),
     ("seam 12", "seam 12"), ("", "seam")],
)  # fmt: skip
def test_a_seam_is_called_a_seam_once_and_by_its_ordinal(name, words):
    assert sentences.seam_called(name) == words


def test_a_fault_in_short_names_its_cone_or_seam():
    assert sentences.in_short(Code.INSIDE_SEAM, "1") == "inside the first seam at the exit"
    assert sentences.in_short(Code.APEX_MISSED, "apex 2") == "wide of the apex 2 cone"
    assert sentences.in_short(Code.APEX_MISSED, "") == "wide of the apex cone"
    assert sentences.in_short(Code.MENDED, "apex") == ""


def test_laps_are_told_by_run():
    seen, run = np.array([True, True, False, True]), np.array([0, 0, 1, 1])
    said = sentences.by_run(seen, run, ("1", "2"))
    assert said == "in both laps of run 1 and in one of 2 laps of run 2"


def test_laps_are_named_by_number_and_run():
    seen, run = np.array([True, False, True, True]), np.array([0, 0, 1, 1])
    said = sentences.which_laps(seen, run, np.array([1, 2, 1, 3]), ("am", "pm"))
    assert said == "lap 1 of run am and laps 1 and 3 of run pm"


@pytest.mark.parametrize("template", [*sentences.Lead, *sentences.Detail, *sentences.EventText])
def test_no_template_has_a_sign_or_a_digit(template):
    assert not re.search(r"[-−+=<>%]|\d", template)


def test_how_many_laps_are_meant():
    assert sentences.of_these(2, 5) == "2 of these 5 laps"
    assert sentences.of_these(1, 5) == "one of these 5 laps"
    assert sentences.of_these(3, 3) == "all 3 laps"
    assert sentences.of_these(2, 2) == "both laps"
    assert sentences.of_these(1, 1) == "that lap"
    assert sentences.others(1, 1) == "the other lap"
    assert sentences.others(3, 3) == "the other 3 laps"
    assert sentences.others(1, 3) == "one of the other 3 laps"
    assert sentences.others(2, 3) == "2 of the other 3 laps"
