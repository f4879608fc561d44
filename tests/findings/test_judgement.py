"""When something is a habit, fading, mended or a lapse, and which laps it is reported over."""

import numpy as np
import pytest

from lapkit.findings import Code
from lapkit.findings.evidence import gather
from lapkit.findings.judgement import Observed, judge, of_all_laps
from lapkit.findings.place import Place

PLACE = Place(50.0)


@pytest.fixture
def judged(run, course):
    """Judges what the laps of some runs show, given as one text of 1 and 0 a run; sizes count the laps from 1."""

    def made(*shown, severe=None, clear=None):
        runs = [run(str(n + 1), laps=len(laps)).result() for n, laps in enumerate(shown)]
        evidence = gather(runs, course)[0]
        seen = np.array([int(lap) for lap in "".join(shown)])
        observed = Observed(
            p=np.where(seen == 1, 0.95, 0.1),
            size=np.arange(1.0, evidence.count + 1.0),
            severe=None if severe is None else np.array([lap == "1" for lap in severe]),
            clear=None if clear is None else np.array([lap == "1" for lap in clear]),
        )
        return judge(Code.APEX_MISSED, evidence, PLACE, observed)

    return made


def numbers(laps):
    return np.flatnonzero(laps).tolist()


def test_more_than_two_thirds_of_the_last_run_are_a_habit_and_two_thirds_are_not(judged):
    assert judged("000000", "1110").habit
    assert judged("000000", "110") is None


def test_more_than_half_of_all_laps_are_a_habit(judged):
    assert judged("1110", "1100").habit
    assert judged("110000") is None
    assert judged("111000") is None


def test_what_was_a_habit_and_the_last_run_left_off_is_mended(judged):
    mended = judged("1111", "00000")
    assert (mended.habit, mended.mended) == (False, True)
    assert numbers(mended.reported_over) == list(range(9))
    assert mended.p == pytest.approx(0.95)


def test_what_more_than_half_of_all_laps_show_is_mended_though_no_run_alone_made_it_a_habit(judged):
    assert judged("111100", "111100", "000").mended


def test_two_laps_make_no_habit(judged):
    assert judged("11") is None
    assert judged("111").habit


def test_a_lapse_has_to_be_severe_and_is_seen_in_the_severe_laps_alone(judged):
    assert judged("110000") is None
    lapse = judged("110000", severe="010000")
    assert (lapse.habit, lapse.mended, numbers(lapse.seen)) == (False, False, [1])
    assert judged("110000", severe="001000") is None


def test_clear_laps_decide_and_then_every_lap_that_shows_it_counts(judged):
    assert judged("111111", clear="000000") is None
    found = judged("111110", clear="111100")
    assert found.habit and numbers(found.seen) == [0, 1, 2, 3, 4]


def test_what_still_shows_but_not_clearly_is_neither_mended_nor_a_habit(judged):
    assert judged("111111", "1111", clear="1111110000") is None
    assert judged("111111", "0000", clear="1111110000").mended


def test_a_lap_shows_what_is_nine_tenths_probable(run, course):
    evidence = gather([run(laps=3).result()], course)[0]
    for p, seen in ((0.9, True), (0.8999, False)):
        found = judge(Code.APEX_MISSED, evidence, PLACE, Observed(p=np.full(3, p), size=np.ones(3)))
        assert (found is not None) is seen


def test_a_habit_is_reported_over_the_last_run_with_enough_laps(judged):
    found = judged("0000", "1111", "1")
    assert numbers(found.reported_over) == [4, 5, 6, 7]
    assert numbers(found.shown_by) == [4, 5, 6, 7]
    assert found.share == 1.0
    assert found.in_last_run and not found.fading


def test_a_fading_habit_is_reported_over_all_laps(judged):
    found = judged("111111", "1100")
    assert found.habit and found.fading
    assert numbers(found.reported_over) == list(range(10))
    assert found.share == pytest.approx(0.8)


def test_a_habit_is_as_sure_as_its_median_lap_and_a_lapse_as_its_surest(run, course):
    evidence = gather([run(laps=5).result()], course)[0]
    p = np.array([0.99, 0.97, 0.95, 0.93, 0.0])

    def judged(**options):
        return judge(Code.APEX_MISSED, evidence, PLACE, Observed(p=p, size=np.ones(5), **options))

    assert judged().p == pytest.approx(0.95)
    lapse = judged(clear=p > 0.96, severe=p > 0.96)
    assert not lapse.habit and lapse.p == pytest.approx(0.99)
    assert judged(clear=p > 0.96, severe=p < 0.98).p == pytest.approx(0.97)


def test_the_lap_to_draw_is_the_median_of_a_habit_the_worst_of_a_lapse_and_the_last_without(judged):
    assert judged("111110").example == 2
    assert judged("11100000", severe="11100000").example == 2
    assert judged("111111", "000").example == 8


def test_typical_is_the_median_over_the_laps_that_show_it(judged):
    found = judged("111101")
    assert found.typical(np.array([1.0, 2.0, np.nan, 4.0, 100.0, 8.0])) == 3.0
    assert np.isnan(found.typical(np.full(6, np.nan)))


def test_what_shows_in_all_laps_together_has_one_size_and_probability(run, course):
    evidence = gather([run(laps=4).result()], course)[0]
    found = of_all_laps(Code.UNEVEN, evidence, PLACE, 1.2, 0.96)
    assert (found.habit, found.p, found.share) == (True, 0.96, 1.0)
    assert found.size.tolist() == [1.2] * 4 and np.isnan(found.added_deg).all()


def test_running_inside_a_seam_is_about_the_exit_cone(run, course):
    evidence = gather([run(laps=3).result()], course)[0]
    for code, name, cone in (
        (Code.INSIDE_SEAM, "first seam", "exit"),
        (Code.APEX_MISSED, "apex", "apex"),
        (Code.LEAN_ADDED, "", ""),
    ):
        assert of_all_laps(code, evidence, Place(50.0, name), 1.0, 1.0).at_cone == cone
