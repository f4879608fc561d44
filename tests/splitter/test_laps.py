"""Laps between crossings of the start line: which there are, which are broken, and why none was timed."""

from types import SimpleNamespace

import numpy as np
import pytest
from scipy.optimize import brentq

from lapkit.course.stations import StationLine
from lapkit.importer import Log
from lapkit.path.draws import PathDraws
from lapkit.splitter import LapKind, split, why_no_lap
from lapkit.splitter.fixes import Fixes
from lapkit.splitter.laps import (
    _laps_of_a_loop,
    _Ridden,
    _without_dithering,
)
from lapkit.units import GRAVITY_MPS2

RADIUS_M, SPEED_MPS = 100.0, 20.0
LAP_S = 2 * np.pi * RADIUS_M / SPEED_MPS
SURGE_RADPS = 2 * np.pi


class Rounds:
    """Laps of a circle to the left at constant speed, with a stretch of standing still when asked for.

    The second row runs 10 ms behind the first, the third ahead: a known spread of crossing times.
    """

    def __init__(self, lasts_s, *, first_angle=-0.5, stands=(np.inf, 0.0), fixes=None, surge_m=0.0):
        self.start_s, self.end_s = 100.0, 100.0 + lasts_s
        self.first_angle, self.stands, self.surge_m = first_angle, stands, surge_m
        self.fix_time_s = np.arange(self.start_s, self.end_s, 0.1) if fixes is None else fixes

    def _angle(self, time_s):
        at, lasts = self.stands
        ridden = time_s - self.start_s - np.clip(time_s - at, 0.0, lasts)
        surged = self.surge_m * np.sin(SURGE_RADPS * (time_s - self.start_s))
        return self.first_angle + (ridden * SPEED_MPS + surged) / RADIUS_M

    def mean_xy(self, time_s):
        return RADIUS_M * np.cos(self._angle(time_s)), RADIUS_M * np.sin(self._angle(time_s))

    def mean_speed(self, time_s):
        at, lasts = self.stands
        return np.where((time_s > at) & (time_s < at + lasts), 0.0, SPEED_MPS)

    def at(self, time_s):
        angle = np.stack([self._angle(time_s + shift) for shift in (0.0, -0.01, 0.01)])
        lean = np.arctan(SPEED_MPS**2 / RADIUS_M / GRAVITY_MPS2)
        cos, sin = np.cos(angle), np.sin(angle)
        surge = self.surge_m * SURGE_RADPS * np.cos(SURGE_RADPS * (time_s - self.start_s))
        speed = SPEED_MPS + surge
        pull = SPEED_MPS**2 / RADIUS_M
        return PathDraws(
            time_s=time_s,
            x_m=RADIUS_M * cos,
            y_m=RADIUS_M * sin,
            vx_mps=-speed * sin,
            vy_mps=speed * cos,
            ax_mps2=-pull * cos,
            ay_mps2=-pull * sin,
            lean_tangent=np.full_like(cos, np.tan(lean)),
            com_height_m=np.full((3, 1), 0.6),
        )


@pytest.fixture
def course():
    # Across the circle at its rightmost point, left end inside, as the riding direction asks.
    line = np.array([[RADIUS_M - 6.0, 0.0], [RADIUS_M + 6.0, 0.0]])
    reference = SimpleNamespace(length_m=2 * np.pi * RADIUS_M)
    return SimpleNamespace(start_line=line, closed=True, reference=reference, pit_lanes=())


def test_out_timed_and_in_laps_in_order(course):
    laps = split(Rounds(3.6 * LAP_S), course)
    assert [lap.kind for lap in laps] == ["out", "timed", "timed", "timed", "in"]
    assert [lap.number for lap in laps] == [0, 1, 2, 3, 4]
    assert [lap.start_s for lap in laps[1:]] == [lap.end_s for lap in laps[:-1]]
    assert (laps[0].start_s, laps[-1].end_s) == (100.0, 100.0 + 3.6 * LAP_S)


def test_lap_times_are_exact_between_samples(course):
    laps = split(Rounds(3.6 * LAP_S), course)
    times = [lap.time_s for lap in laps if lap.kind is LapKind.TIMED]
    assert times == pytest.approx([LAP_S] * 3, abs=1e-4)
    assert laps[1].start_s == pytest.approx(100.0 + 0.5 * RADIUS_M / SPEED_MPS, abs=1e-4)


def test_a_crossing_under_hard_braking_is_solved_on_the_path(course):
    # 0.3 m of surge once a second is 12 m/s²: a straight line between two tenths of a second errs by a millisecond.
    surging = Rounds(1.6 * LAP_S, first_angle=-0.453, surge_m=0.3)
    (crossed,) = (lap.start_s for lap in split(surging, course) if lap.number == 1)
    exact = brentq(surging._angle, 102.0, 103.0)
    tenths = np.floor(crossed * 10.0) / 10.0 + np.array([0.0, 0.1])
    straight = np.interp(0.0, surging.mean_xy(tenths)[1], tenths)
    assert abs(straight - exact) > 5e-4
    assert crossed == pytest.approx(exact, abs=2e-5)


@pytest.fixture
def climb(course):
    """An open course along the first quarter of the circle."""
    angle = np.linspace(0.0, np.pi / 2, 80)
    line = StationLine.through(RADIUS_M * np.cos(angle), RADIUS_M * np.sin(angle), False)
    return SimpleNamespace(**{**vars(course), "closed": False, "reference": line})


def test_each_ride_of_an_open_course_is_a_lap_from_its_start_line_to_its_end(climb):
    laps = split(Rounds(1.6 * LAP_S), climb)  # past it twice
    assert [(lap.number, lap.kind) for lap in laps] == [(1, "timed"), (2, "timed")]
    # The finish is looked for a metre before the end.
    quarter = (0.5 * np.pi * RADIUS_M - 1.0) / SPEED_MPS
    assert [lap.time_s for lap in laps] == pytest.approx([quarter] * 2, abs=1e-3)


@pytest.mark.parametrize(("past_line_m", "kind"), [(8.0, "timed"), (55.0, "broken")])
def test_a_stop_breaks_a_ride_of_an_open_course_but_not_one_at_its_start(climb, past_line_m, kind):
    # The start line lies 50 m from where the rounds begin.
    stands = (100.0 + (50.0 + past_line_m) / SPEED_MPS, 20.0)
    (lap,) = split(Rounds(20.0 + 0.5 * LAP_S, stands=stands), climb)
    assert (lap.number, lap.kind) == (1, kind)
    assert lap.note == ("stood still for 20 s" if kind == "broken" else "")


def test_who_never_reaches_the_end_of_an_open_course_is_told_that(climb):
    rounds = log_of(Rounds(0.2 * LAP_S))
    assert why_no_lap(split(rounds, climb), rounds, climb).endswith(
        "the log crosses the start line, but never the end of the course, before it ends after 0.1 min"
    )
    # On the way back he crosses the line the other way, each time.
    there = Rounds(1.2 * LAP_S)
    there._angle = lambda t: 0.3 * np.sin(2.0 * np.pi * (t - 99.0) / (0.4 * LAP_S))
    said = why_no_lap(split(log_of(there), climb), there, climb)
    assert "never the end of the course" in said and "the other way" not in said


@pytest.mark.parametrize(
    ("lengths_m", "kinds"),
    [
        ((630.0, 500.0), ["timed", "broken"]),
        ((500.0, 630.0, 500.0, 630.0), ["broken", "timed", "broken", "timed"]),
        ((630.0, 800.0), ["timed", "broken"]),
        ((630.0, 500.0, 630.0), ["timed", "broken", "timed"]),
        ((500.0, 500.0, 630.0), ["timed", "timed", "broken"]),
    ],
)
def test_of_two_ways_as_often_ridden_the_course_s_own_is_the_usual_one(course, lengths_m, kinds):
    starts_s = np.cumsum([0.0, *lengths_m])[:, None] / SPEED_MPS + 100.0
    path = Rounds(starts_s[-1, 0] - 90.0)
    ridden = _Ridden(
        path, SimpleNamespace(distance_at=lambda time_s: SPEED_MPS * time_s), Fixes.of(path)
    )
    _, *laps, _ = _laps_of_a_loop(ridden, starts_s, course.reference.length_m)
    assert [lap.kind for lap in laps] == kinds


def test_a_shift_that_all_crossings_share_is_no_doubt_about_lap_time(course):
    laps = split(Rounds(3.6 * LAP_S), course)
    assert laps[1].time_sd_s < 1e-6
    assert np.isnan(laps[0].time_sd_s)


def test_a_stop_breaks_the_lap(course):
    laps = split(Rounds(4.6 * LAP_S + 40.0, stands=(100.0 + 1.5 * LAP_S, 40.0)), course)
    broken = [lap for lap in laps if lap.kind is LapKind.BROKEN]
    assert len(broken) == 1
    assert broken[0].note == "stood still for 40 s"


def test_missing_fixes_at_the_line_break_the_laps_on_both_sides(course):
    fixes = np.arange(100.0, 100.0 + 4.6 * LAP_S, 0.1)
    crossing = 100.0 + 0.5 * RADIUS_M / SPEED_MPS + 2 * LAP_S
    fixes = fixes[np.abs(fixes - crossing) > 2.0]
    laps = split(Rounds(4.6 * LAP_S, fixes=fixes), course)
    assert [lap.kind for lap in laps] == ["out", "timed", "broken", "broken", "timed", "in"]
    assert [lap.note for lap in laps[2:4]] == [
        "fixes are missing where it ends",
        "fixes are missing where it begins",
    ]


def test_missing_seconds_count_what_a_gap_has_too_much(course):
    fixes = np.arange(100.0, 100.0 + 3.6 * LAP_S, 0.1)
    hole = (fixes > 140.0) & (fixes < 143.0)
    laps = split(Rounds(3.6 * LAP_S, fixes=fixes[~hole]), course)
    assert laps[2].missing_s == pytest.approx(3.0, abs=0.15)
    assert laps[1].missing_s == 0.0


def test_riding_the_other_way_crosses_no_line(course):
    backwards = SimpleNamespace(**{**vars(course), "start_line": course.start_line[::-1]})
    laps = split(Rounds(3.6 * LAP_S), backwards)
    assert [lap.kind for lap in laps] == ["out"]
    assert laps[0].note == "never crossed the start line"


@pytest.mark.parametrize("drawn", ["line", "outline"])
def test_a_pit_lane_close_past_the_end_of_the_line_is_not_the_line(course, drawn):
    # He rides 4 m past the outer end of a line that is drawn short: with the receiver's offset that is a lap,
    # in a pit lane there it is none.
    short = np.array([[RADIUS_M - 16.0, 0.0], [RADIUS_M - 4.0, 0.0]])
    lane = np.array([[RADIUS_M + 1.0, y] for y in (-40.0, -10.0, 10.0, 40.0)])
    if drawn == "outline":
        aside = np.array([3.0, 0.0])
        lane = np.concatenate([lane - aside, lane[::-1] + aside, lane[:1] - aside])
    there = SimpleNamespace(**{**vars(course), "start_line": short})
    assert [lap.kind for lap in split(Rounds(2.6 * LAP_S), there)][:2] == ["out", "timed"]
    there.pit_lanes = (lane,)
    assert [lap.kind for lap in split(Rounds(2.6 * LAP_S), there)] == ["out"]


def test_a_pit_lane_further_off_than_the_line_leaves_laps_as_they_are(course):
    short = np.array([[RADIUS_M - 13.0, 0.0], [RADIUS_M - 1.0, 0.0]])
    lane = np.array([[RADIUS_M + 5.0, -40.0], [RADIUS_M + 5.0, 40.0]])
    there = SimpleNamespace(**{**vars(course), "start_line": short, "pit_lanes": (lane,)})
    assert [lap.kind for lap in split(Rounds(2.6 * LAP_S), there)] == [
        "out",
        "timed",
        "timed",
        "in",
    ]


def log_of(rounds, breaks_off=False):
    rounds.log = Log("a.gpx", "", [0.0], [0.0], [0.0], breaks_off=breaks_off)
    return rounds


def test_why_no_lap_was_timed_is_said(course):
    short = log_of(Rounds(0.05 * LAP_S, first_angle=0.2))
    assert why_no_lap(split(short, course), short, course).endswith(
        "the log never crosses the start line before it ends after 0.0 min"
    )
    cut = log_of(Rounds(0.9 * LAP_S), breaks_off=True)
    assert why_no_lap(split(cut, course), cut, course).endswith(
        "the log crosses the start line only once before it breaks off after 0.5 min"
    )
    stood = log_of(Rounds(1.6 * LAP_S + 40.0, stands=(100.0 + 0.5 * LAP_S, 40.0)))
    assert why_no_lap(split(stood, course), stood, course) == (
        "no lap could be timed: 1 lap is broken (lap 1: stood still for 40 s)"
    )
    whole = log_of(Rounds(2.6 * LAP_S))
    assert why_no_lap(split(whole, course), whole, course) == ""


def test_whoever_rode_the_other_way_round_is_told_that(course):
    turned = SimpleNamespace(**{**vars(course), "start_line": course.start_line[::-1]})
    rounds = log_of(Rounds(3.6 * LAP_S))
    said = why_no_lap(split(rounds, turned), rounds, turned)
    assert "crosses the start line 4 times the other way, so the course was ridden against" in said
    twice = log_of(Rounds(1.6 * LAP_S))
    assert "2 times the other way" in why_no_lap(split(twice, turned), twice, turned)
    # One who turned round on the line, or came back over it, rode the right way.
    once = log_of(Rounds(0.9 * LAP_S))
    assert "the other way" not in why_no_lap(split(once, turned), once, turned)


def test_whoever_rode_an_open_course_from_its_end_is_told_that(climb):
    turned = SimpleNamespace(**{**vars(climb), "start_line": climb.start_line[::-1]})
    rounds = log_of(Rounds(3.6 * LAP_S))
    said = why_no_lap(split(rounds, turned), rounds, turned)
    assert "crosses the start line 4 times the other way" in said


def test_whoever_rode_for_laps_without_crossing_the_start_line_is_not_told_that_he_stopped(course):
    infield = np.array([[5.0, 0.0], [20.0, 0.0]])
    there = SimpleNamespace(**{**vars(course), "start_line": infield})
    long, short = (log_of(Rounds(laps * LAP_S)) for laps in (3.9, 2.2))
    said = "though it is as long as 4 laps: the start line may lie in the wrong place"
    assert said in why_no_lap(split(long, there), long, there)
    assert why_no_lap(split(short, there), short, there).endswith(" min")


def test_crossings_soon_after_another_are_dithering(course):
    ridden = _Ridden(None, SimpleNamespace(distance_at=lambda time_s: 10.0 * time_s), None)
    starts = np.array([[0.0], [10.0], [62.0], [63.0], [81.5]])  # 30 % of the lap are 188 m
    assert _without_dithering(ridden, starts, course)[:, 0].tolist() == [0.0, 62.0, 81.5]
    short = SimpleNamespace(reference=SimpleNamespace(length_m=100.0))  # 30 m, but at least 50
    assert _without_dithering(ridden, starts, short)[:, 0].tolist() == [0.0, 10.0, 62.0, 81.5]
    assert len(_without_dithering(ridden, np.array([[0.0], [4.9]]), short)) == 1
    assert len(_without_dithering(ridden, np.array([[0.0], [5.1]]), short)) == 2


def test_who_rolls_back_over_the_start_line_and_on_again_has_begun_one_lap(course):
    rounds = Rounds(2.6 * LAP_S)
    turned_s = np.array([100.0, 103.0, 104.0, rounds.end_s])  # ten metres past the line, and back
    angles = np.array([-0.5, 0.1, -0.1, -0.1 + (rounds.end_s - 104.0) * SPEED_MPS / RADIUS_M])
    rounds._angle = lambda time_s: np.interp(time_s, turned_s, angles)
    assert [lap.kind for lap in split(rounds, course)] == ["out", "timed", "timed", "in"]
