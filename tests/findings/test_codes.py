"""Every code has what its sentences and its place in the order of causes need."""

import string

import pytest

from lapkit.compare.changes import RATES
from lapkit.findings import Code
from lapkit.findings.meaning import LEAST_DEG

FAULTS = [code for code in Code if code.means.short]
PRAISE_AND_FACTS = [code for code in Code if not code.means.short]


def fields(template):
    return {name for _, name, _, _ in string.Formatter().parse(template) if name is not None}


def test_a_code_is_its_name_in_tables():
    assert Code("exit_tightened") is Code.EXIT_TIGHTENED
    assert str(Code.EXIT_TIGHTENED) == "exit_tightened"
    assert [code.value.upper() for code in Code] == [code.name for code in Code]


def test_causes_stand_before_what_comes_of_them_and_faults_before_what_is_none():
    assert [code.cause for code in Code] == list(range(len(Code)))
    assert Code.INSIDE_SEAM.cause < Code.EXIT_TIGHTENED.cause < Code.EXIT_CONE_MISSED.cause
    assert Code.TURN_IN_EARLY.cause < Code.RUNS_WIDE.cause < Code.APEX_MISSED.cause
    assert Code.TURN_IN_LATE.cause < Code.APEX_MISSED.cause
    assert max(code.cause for code in FAULTS) < min(code.cause for code in PRAISE_AND_FACTS)


@pytest.mark.parametrize("code", FAULTS)
def test_a_fault_can_be_named_with_its_cone_or_seam_where_it_is_about_one(code):
    about_one = fields(code.means.text) & {"cone", "seam"} and not code.means.drift
    assert fields(code.means.short_at) == ({"thing"} if code.means.short_at else set())
    assert bool(code.means.short_at) >= bool(about_one)


@pytest.mark.parametrize("code", FAULTS)
def test_only_a_drift_has_a_sentence_for_most_corners(code):
    assert bool(code.means.text_all) is code.means.drift
    if code.means.drift:
        assert fields(code.means.text_all) == fields(code.means.text) | {"at_corners"}


@pytest.mark.parametrize("code", FAULTS)
def test_what_shows_that_a_fault_was_mended_is_compared_between_runs(code):
    assert code.means.measure in {measure for measure, _ in RATES} | {""}


def test_a_line_that_leaves_no_room_counts_most_and_consistency_least():
    worth = {code: code.means.worth_deg for code in FAULTS}
    assert max(worth.values()) == worth[Code.INSIDE_SEAM] == worth[Code.CONE_WRONG_SIDE]
    assert worth[Code.LEFT_ROAD] == worth[Code.RUNS_WIDE] == worth[Code.INSIDE_SEAM]
    assert min(worth.values()) == worth[Code.UNEVEN] < LEAST_DEG
