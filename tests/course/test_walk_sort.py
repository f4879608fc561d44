"""A walk sorted by what its names mean: what was made, what was not read, what may have been meant."""

import pytest

from lapkit.course.types import Turn
from lapkit.errors import TrackError


def test_everything_that_was_not_read_is_listed(recorder, made, full):
    full(recorder)
    recorder.mark("toilets", 0.0, -40.0)
    recorder.mark("seam 3", 0.0, 0.0)
    recorder.mark("1 sight", 200.0, 5.5, "camber much")
    recorder.record("ACTIVE LOG", recorder.lap(), 0.0)
    recorder.record("left egde", recorder.lap(), 6.0)
    assert set(made(recorder).unread) == {
        "waypoint 'toilets'",
        "waypoint 'seam 3'. A line of waypoints is lettered: 'seam 3 a', 'seam 3 b'",
        "in '1 sight': camber much",
        "track 'ACTIVE LOG'",
        "track 'left egde'. Did you mean 'left edge'?",
    }


@pytest.mark.parametrize("said", ["corner 1 Larch", "corner 1 Larch left"])
def test_a_corner_described_by_number_and_name_is_the_one_of_that_number(
    recorder, made, full, said
):
    full(recorder)
    recorder.mark(said, 400.0, 0.0, "camber 2; cue: wait")
    walked = made(recorder)
    assert [c.name for c in walked.track.corners] == ["1", "2"]
    assert walked.track.corners[0].camber_deg == 2.0 and "wait" in walked.track.corners[0].cues
    assert "corner 1 Larch: taken for corner 1, as its cones are named" in walked.remarks


def test_a_corner_whose_cones_bear_number_and_name_keeps_both(recorder, made, full):
    full(recorder)
    for kind, at in (("turn-in", 300.0), ("apex", 320.0), ("exit", 340.0)):
        recorder.mark(f"1 Larch {kind}", at, 5.0)
    recorder.mark("corner 1 Larch", 320.0, 0.0, "cue: wait")
    assert "1 Larch" in [c.name for c in made(recorder).track.corners]


def test_a_walk_in_which_nothing_is_named(recorder, made):
    recorder.mark("toilets", 0.0, -40.0)
    with pytest.raises(TrackError, match=r"none of its 1 names could be read \('toilets'\)"):
        made(recorder)


@pytest.mark.parametrize("name", ["centre", "left edge", "1 seam 1", "pit lane", "coach lap"])
def test_a_recording_that_stands_in_one_place_is_left_out(recorder, made, full, name):
    """Begun and ended by mistake."""
    there = full(recorder)
    lines = len(made(there).track.lines())
    there.record(name, [100.0, 100.2, 100.4], 0.0)
    walked = made(there)
    assert f"{name}: a recording stands in one place and was left out" in walked.remarks
    assert len(walked.track.lines()) == lines


@pytest.mark.parametrize("more", [(), ("toilets",)])
def test_a_walk_of_nothing_but_such_recordings(recorder, made, more):
    for name in ("centre", *more):
        recorder.record(name, [100.0, 100.2, 100.4], 0.0)
    with pytest.raises(
        TrackError, match=r"nothing in it to make a track of \(centre: a recording stands"
    ):
        made(recorder)


def test_all_that_was_made_is_told(recorder, made, full):
    told = made(full(recorder)).remarks
    for line in (
        "start line",
        "hold point",
        "hazard at 1: kerb sticks out",
        "pit lane: 1 recorded",
    ):
        assert line in told, line
    assert any(line.startswith("base") for line in told)


def test_a_mistyped_name_is_told_once_with_what_it_may_mean(recorder, made, full):
    for _ in range(3):
        recorder.mark("2 aplex", 400.0, 5.0)
    recorder.mark("quite another thing", 400.0, 5.0)
    unread = made(full(recorder)).unread
    assert unread == (
        "waypoint '2 aplex', 3 times. Did you mean '2 apex'?",
        "waypoint 'quite another thing'",
    )


def test_a_numbered_waypoint_is_named_by_its_description(recorder, made, full):
    full(recorder)
    recorder.mark("WPT 031", 400.0, 5.0, "9 apex; camber -3")
    recorder.mark("WPT 032", 410.0, 5.0, comment="9 exit")
    recorder.mark("WPT 033", 420.0, 5.0, "left side")
    walked = made(recorder)
    apex, leaving = (m for m in walked.track.markers if m.corner == "9")
    assert (apex.name, apex.camber_deg, leaving.name) == ("apex", -3.0, "exit")
    assert walked.unread == ("waypoint 'WPT 033'",)


def test_a_cone_named_without_its_corner_is_asked_for_it(recorder, made, full):
    recorder.mark("turn-in", 400.0, 5.0)
    walked = made(full(recorder))
    assert walked.unread == ("waypoint 'turn-in'. Of which corner? Name it like '3 turn-in'",)
    assert [c.name for c in walked.track.corners] == ["1", "2"]


def test_two_cones_of_one_name_are_told(recorder, made, full):
    full(recorder)
    for _ in range(3):
        recorder.mark("9 apex", 100.0, 5.0)
        recorder.mark("9 apex", 160.0, 5.0)
    (told,) = made(recorder).unread
    assert told.startswith("'9 apex' as one place: its 6 visits lie 3")
    assert "name one of them otherwise" in told


def test_a_mistyped_corner_is_asked_about(recorder, made):
    lap = recorder.lap()
    recorder.record("centre", lap, 0.0)
    for name, kind, at in (
        ("Weir", "turn-in", 130.0), ("Weir", "apex", 170.0), ("Weer", "exit", 210.0),
    ):  # fmt: skip
        recorder.mark(f"{name} {kind}", at, 5.0)
    asked = [line for line in made(recorder).remarks if "was meant" in line]
    assert len(asked) == 1
    assert asked[0].startswith("corner Weer was made one of its own; if Weir was meant")
    # The earlier run's track file would keep the corner that is none.
    assert asked[0].endswith("run this again into a new file")


@pytest.mark.parametrize(
    ("name", "said", "side"),
    [
        ("1 sight left", None, Turn.LEFT),
        ("1 sight right", "look far", Turn.RIGHT),
        ("1 sight left", "on the right", Turn.RIGHT),
    ],
)
def test_a_side_in_the_description_goes_before_one_in_the_name(
    recorder, made, full, name, said, side
):
    full(recorder)
    recorder.mark(name, 200.0, 0.0, said)
    (sight,) = [m for m in made(recorder).track.markers if m.kind == "sight"]
    assert sight.side is side
