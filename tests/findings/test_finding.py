"""What a finding says of itself."""

from lapkit.findings import Code, Finding, Kind, find


def finding(code, **more):
    return Finding("Bea", "Birch", code, 6, 6, 1.0, 1.0, "Said.", **more)


def test_a_fault_is_named_in_short_with_its_cone_or_seam():
    assert finding(Code.APEX_MISSED, marker="apex").in_short == "wide of the apex cone"
    assert finding(Code.INSIDE_SEAM, marker="1").in_short == "inside the first seam at the exit"
    assert finding(Code.ON_LINE).in_short == ""


def test_a_habit_left_off_is_one_whether_it_is_praised_or_not(run, course, tight):
    runs = [
        run("1").corner("Birch", **tight).result(),
        run("2", seed=1).corner("Birch", [3], **tight).result(),
    ]
    found = find(runs, course)
    mended = [f for f in found if f.code is Code.EXIT_TIGHTENED]
    assert [(f.left_off, f.habit, f.kind) for f in mended] == [(True, False, Kind.OTHER)]
    assert finding(Code.MENDED, kind=Kind.WELL).left_off


def test_a_habit_and_a_lapse_are_not_left_off():
    assert not finding(Code.APEX_MISSED).left_off
    assert not finding(Code.APEX_MISSED, habit=False).left_off
