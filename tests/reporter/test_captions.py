from dataclasses import replace

import pytest

from lapkit.reporter.captions import bare_caption, is_tilted, picture_caption, thick_lap


@pytest.mark.parametrize(
    ("told", "sessions", "grey"),
    [
        (True, "1", ""),
        (True, "11", "Grey: your other lap."),
        (True, "112", "Grey: your other laps, those of run 1 in dashes."),
        (True, "1234", "Grey: your other laps, those of runs 1, 2 and 3 in dashes."),
        (True, "12", "Grey: your other lap, that of run 1 in dashes."),
        (False, "1", "Grey: your lap."),
        (False, "11", "Grey: your laps."),
    ],
)
def test_a_picture_s_caption_tells_of_other_laps_where_there_are_any(event, told, sessions, grey):
    rider = event.riders[0]
    laps = [replace(rider.runs[0].traces[0], session=session) for session in sessions]
    findings = rider.findings[:1] if told else ()
    caption = picture_caption(findings, laps, False)
    assert caption.removeprefix(thick_lap(findings[0]) if told else "").strip() == grey


def test_the_line_and_the_seams_are_explained_where_they_are_drawn():
    assert picture_caption([], [], True) == "Black dashes: the marker line."
    seams = "Dots: seams; lanes are numbered from the inside."
    assert picture_caption([], [], False, seamed=True) == seams


def test_only_what_a_drawing_has_is_explained(event):
    drop = event.course.corner("Ravens Drop")
    assert "hazard" in bare_caption(drop) and "falls" in bare_caption(drop)
    bare = replace(drop, seams=(), hazards=(), markers=(), camber_deg=0.0)
    assert bare_caption(bare) == "You come in from below. Solid: edges. Dashes: the marker line."


@pytest.mark.parametrize(("camber_deg", "tilted"), [(0.4, False), (0.5, True), (-0.5, True)])
def test_a_camber_of_half_a_degree_is_worth_a_word(camber_deg, tilted):
    assert is_tilted(camber_deg) is tilted
