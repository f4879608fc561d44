from dataclasses import replace

import pytest

from lapkit.reporter.captions import bare_caption, picture_caption, thick_lap


@pytest.mark.parametrize(
    ("told", "sessions", "grey"),
    [
        (True, "1", ""),
        (True, "11", "Grey: your other lap."),
        (True, "112", "Grey: your other laps, those of run 1 in dashes."),
        (True, "11234", "Grey: your other laps, those of runs 1, 2 and 3 in dashes."),
        # The only lap of run 1 is the thick one.
        (True, "12", "Grey: your other lap."),
        (True, "1223", "Grey: your other laps, those of run 2 in dashes."),
        (False, "1", "Grey: your lap."),
        (False, "11", "Grey: your laps."),
    ],
)
def test_a_picture_s_caption_tells_of_other_laps_where_there_are_any(event, told, sessions, grey):
    rider = event.riders[0]
    first = rider.runs[0].traces[0]
    laps = [replace(first, session=s, lap=lap) for lap, s in enumerate(sessions, 1)]
    findings = [replace(rider.findings[0], session="1", lap=1)] if told else []
    caption = picture_caption(findings, laps, False)
    assert caption.removeprefix(thick_lap(findings[0]) if told else "").strip() == grey


def test_the_line_and_the_seams_are_explained_where_they_are_drawn():
    assert picture_caption([], [], True) == "Black dashes: the marker line."
    seams = "Dots: seams; lanes are numbered from the inside."
    assert picture_caption([], [], False, seamed=True) == seams


def test_only_what_a_drawing_has_is_explained(event):
    drop = event.course.corner("Ravens Drop")
    full = bare_caption(event.course, drop)
    assert "hazard" in full and "falls" in full
    bare = replace(drop, seams=(), markers=(), camber_deg=0.0)
    course = replace(event.course, hazards=())
    assert bare_caption(course, bare) == (
        "You come in from below. Solid: edges. Dashes: the marker line."
    )


def test_without_edges_there_is_none_and_nothing_falls_across_them(event):
    drop = event.course.corner("Ravens Drop")
    caption = bare_caption(replace(event.course, edges=None), drop)
    assert "edges" not in caption and "falls" not in caption


def test_a_hazard_without_a_place_is_no_sign_on_the_drawing(event):
    drop = event.course.corner("Ravens Drop")
    elsewhere = tuple(replace(h, corner="Larch") for h in event.course.hazards)
    assert "hazard" not in bare_caption(replace(event.course, hazards=elsewhere), drop)


def test_a_camber_behind_the_apex_alone_has_no_arrow(event):
    """The arrow shows the camber before the apex."""
    drop = event.course.corner("Ravens Drop")
    level = [replace(m, camber_deg=0.0) for m in drop.markers[:-1]]
    at_exit = replace(drop.markers[-1], camber_deg=-3.0)
    corner = replace(drop, camber_deg=0.0, markers=(*level, at_exit))
    assert "falls" not in bare_caption(event.course, corner)
