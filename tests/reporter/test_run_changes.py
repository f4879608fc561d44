from dataclasses import replace

import pytest

from lapkit.compare.changes import Changed
from lapkit.reporter.run_changes import run_changes
from lapkit.units import Units

FIELDS = (
    "session_before", "session_after", "corner", "measure", "marker", "before", "after", "change",
    "change_lo", "change_hi", "found",
)  # fmt: skip


def changes_of(event, rows):
    rider = event.riders[0]
    changed = tuple(
        Changed(rider=rider.rider, p=0.001, **dict(zip(FIELDS, row, strict=True))) for row in rows
    )
    return run_changes(replace(rider, changed=changed), Units.METRIC)


def test_changes_are_sentences_in_words(event):
    rows = [
        ("1", "2", "Weir", "exit_radius_min_m", "", 66.0, 77.0, 11.0, 7.0, 15.0, True),
        ("1", "2", "Weir", "lean_max_deg", "", 45.0, 41.0, -4.0, -5.0, -3.0, True),
        ("1", "2", "Larch", "wide_of_line_m", "exit", 0.9, -0.5, -1.4, -1.6, -1.2, True),
        ("1", "2", "Larch", "wide_of_line_m", "apex", -0.04, 1.4, 1.4, 1.2, 1.6, True),
        ("1", "2", "Anvil", "lean_max_deg", "", 45.0, 30.0, -15.0, -40.0, 10.0, False),
    ]
    assert changes_of(event, rows) == [
        (
            "run 1 to run 2",
            [
                (
                    "Weir",
                    [
                        "exit radius 11 ± 4 m more open, was 66 m",
                        "largest lean 4° ± 1° less, was 45°",
                    ],
                ),
                (
                    "Larch",
                    [
                        "at the exit cone 1.4 ± 0.2 m further in, was 0.9 m wide",
                        "at the apex cone 1.4 ± 0.2 m further out, was on the line",
                    ],
                ),
            ],
        )
    ]


ROW = ("Weir", "exit_radius_min_m", "", 66.0, 77.0)
MORE, LESS = (11.0, 7.0, 15.0, True), (-11.0, -15.0, -7.0, True)


@pytest.mark.parametrize(
    ("rows", "told"),
    [
        (
            [("1", "2", *ROW, *MORE), ("1", "3", *ROW, *MORE)],
            ["run 1 to run 2, and still in run 3"],
        ),
        ([("2", "3", *ROW, *MORE), ("1", "3", *ROW, *MORE)], ["run 2 to run 3"]),
        ([("1", "2", *ROW, *MORE), ("1", "3", *ROW, *LESS)], ["run 1 to run 2", "run 1 to run 3"]),
        ([("1", "3", *ROW, *MORE)], ["run 1 to run 3"]),
        (
            [("1", "2", *ROW, *MORE), ("2", "3", *ROW, *MORE), ("1", "3", *ROW, *MORE)],
            ["run 1 to run 2", "run 2 to run 3", "run 1 to run 3"],
        ),
        ([("1", "2", *ROW, *MORE), ("2", "3", *ROW, *LESS)], ["run 1 to run 2", "run 2 to run 3"]),
    ],
)
def test_a_change_that_lasts_is_told_once(event, rows, told):
    rider = event.riders[0]
    runs = tuple(replace(rider.runs[0], session=s) for s in "123")
    three = replace(event, riders=(replace(rider, runs=runs, bikes=()),))
    assert [between for between, _ in changes_of(three, rows)] == told


def test_another_bike_is_named_where_runs_are_compared(event):
    rider = event.riders[0]
    rows = [("1", "2", *ROW, *MORE)]
    for bikes, told in (
        (("red", "blue"), "run 1 (red) to run 2 (blue)"),
        (("red", "red"), "run 1 to run 2"),
        (("", "blue"), "run 1 to run 2"),
    ):
        ridden = replace(event, riders=(replace(rider, bikes=bikes),))
        assert [between for between, _ in changes_of(ridden, rows)] == [told]


def test_one_run_has_no_change(event):
    assert run_changes(event.riders[1], Units.METRIC) == []


@pytest.mark.parametrize(
    ("measure", "marker", "before", "change", "told"),
    [
        ("exit_radius_min_m", "", 66.0, 11.0, "exit radius 36 ± 13 ft more open, was 217 ft"),
        ("exit_radius_min_m", "", 66.0, -11.0, "exit radius 36 ± 13 ft tighter, was 217 ft"),
        ("lean_max_deg", "", 45.0, 9.0, "largest lean 9° ± 4° more, was 45°"),
        ("turn_in_early_m", "", 1.0, 11.0, "turn-in 36 ± 13 ft earlier"),
        ("turn_in_early_m", "", 1.0, -11.0, "turn-in 36 ± 13 ft later"),
        (
            "wide_of_line_m",
            "apex",
            -0.5,
            11.0,
            "at the apex cone 36 ± 13 ft further out, was 1.6 ft inside",
        ),
    ],
)
def test_each_measure_has_its_own_words_for_more_and_less(
    event, measure, marker, before, change, told
):
    rider = event.riders[0]
    changed = Changed(
        rider=rider.rider, session_before="1", session_after="2", corner="Weir", measure=measure, marker=marker,
        before=before, after=before + change, change=change, change_lo=change - 4.0, change_hi=change + 4.0,
        p=0.001, found=True,
    )  # fmt: skip
    ((_, ((_, said),)),) = run_changes(replace(rider, changed=(changed,)), Units.US)
    assert said == [told]
