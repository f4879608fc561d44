from dataclasses import replace

import pandas as pd

from lapkit.measuring.course_source import course_of
from lapkit.reporter.terminal_line import line_text, uncounted_text, without_cue_text
from lapkit.sample import sample_event
from lapkit.units import Units

LINE = {
    "corner": "Hook", "line": "inside", "radius_min_m": 41.26, "exit_radius_min_m": float("nan"), "length_m": 90.0,
}  # fmt: skip


def test_each_line_has_its_radii_under_their_heads():
    title, head, row = line_text(pd.DataFrame([LINE]), "solved", Units.METRIC).splitlines()
    assert title == "Marker line solved; radii held over 10 m."
    at = [head.index(name) for name in ("corner", "line", "tightest", "at the exit", "length")]
    assert [row[i:].split("  ")[0] for i in at] == [
        "Hook", "inside the first seam", "41.3 m", "–", "90.0 m",
    ]  # fmt: skip


def test_a_corner_without_a_seam_has_no_line_inside_one():
    none = LINE | dict.fromkeys(("radius_min_m", "length_m"), float("nan"))
    text = line_text(pd.DataFrame([LINE | {"line": "marker"}, none]), "solved", Units.METRIC)
    assert "marker line" in text and "seam" not in text


def test_feet_have_no_tenths():
    text = line_text(pd.DataFrame([LINE]), "given", Units.US)
    assert "held over 33 ft" in text
    assert "135 ft" in text and "." not in text.splitlines()[2]


def test_the_coach_is_told_beforehand_where_seams_and_exits_will_not_be_counted():
    course = course_of(sample_event() / "track.geojson")
    assert uncounted_text(course) == (
        "At Wharf the marker line itself runs inside the seams over most of the exit: nobody will be counted as inside "
        "them there."
    )
    first = course.corners[0]
    short = replace(first, exit_m=first.last_apex_m + 12.0, seams=())
    seamless = replace(course.corner("Wharf"), seams=())
    others = [c for c in course.corners[1:] if c.name != "Wharf"]
    course = replace(course, corners=(short, seamless, *others))
    assert uncounted_text(course) == (
        "At Larch the way from apex to exit is too short for exits to be judged."
    )


def test_the_coach_is_told_beforehand_for_which_corners_he_left_no_cue():
    course = course_of(sample_event() / "track.geojson")
    spoken = [replace(corner, cues=("Look up.",)) for corner in course.corners]
    assert not without_cue_text(replace(course, corners=tuple(spoken)))
    first, second, *others = (replace(corner, cues=()) for corner in course.corners)
    one = without_cue_text(replace(course, corners=(first, *spoken[1:])))
    assert one.startswith("You left no cue for Larch: there riders read what they rode")
    every = without_cue_text(replace(course, corners=(first, second, *others)))
    assert every.startswith("You left no cue for Larch, Kiln Square, Wharf and 5 more: there")
